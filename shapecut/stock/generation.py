"""Column generation: the linear relaxation over all patterns, without listing them.

Gilmore and Gomory, Operations Research 9 (1961) and 11 (1963).
"""

import time
from dataclasses import dataclass, replace

import numpy as np

from shapecut.stock.coarse import priced_on_grid
from shapecut.stock.first_fit import fill_longest_first, first_fit_plans
from shapecut.stock.knapsack import best_patterns
from shapecut.stock.master import Duals, Master
from shapecut.stock.problem import FilledBoard, Floats, Integers, Patterns, Problem

__all__ = ["Relaxation", "dive", "relax", "relaxed_lengths", "shrunk"]

_STEP = 0.3
"""How far pricing goes from the best duals towards the newest."""

_SHARE_BITS = 40
"""Shares of duals are reckoned in this power of one half."""

_DIVE_ROUNDS = 2
"""Rounds of column generation after each step of a dive."""

_FIXED_PART = 0.08
"""Part of the boards that one step of a dive fixes at least."""

_WHOLE = 1e-6
"""How far below a whole number a pattern's count may be and still be taken as that number."""


@dataclass(frozen=True)
class Relaxation:
    """Where column generation arrived.

    Attributes:
        duals: Those with the best bound.
        excess: (k,) by how much a board can give more worth than it weighs with these duals.
        least_weight: Proved: every plan weighs at least this.
        times: (p,) how often each of the master's patterns is cut in the last linear solution.
    """

    duals: Duals
    excess: Integers
    least_weight: int
    times: Floats


def relaxed_lengths(problem: Problem) -> Relaxation:
    """Each blank weighs its share of the cheapest material: the bound to start from."""
    rates = zip(problem.weights.tolist(), problem.capacities.tolist(), strict=True)
    weight, capacity = min(rates, key=lambda rate: rate[0] / rate[1])
    worth = [share * weight // capacity for share in problem.shares.tolist()]
    none = np.zeros_like(problem.weights)
    duals = Duals(np.array(worth, dtype=np.int64), none)
    return Relaxation(duals, none, _lagrangian_bound(problem, duals, none), np.empty(0))


def relax(
    problem: Problem,
    master: Master,
    start: Relaxation,
    *,
    slack: int,
    enough: int,
    deadline: float,
) -> Relaxation:
    """Add patterns to the master until the linear relaxation is solved.

    Patterns are priced with duals between those of the linear programme and the ones with the best
    bound so far, which keeps the duals from swinging (Wentges, International Transactions in
    Operational Research 4, 1997).

    Args:
        problem: The cutting problem.
        master: Holds the patterns; gets more.
        start: Of a problem with the same blanks and boards, to begin at.
        slack: Stop when the bound is this near to the relaxation's weight.
        enough: Stop when the bound reaches this weight.
        deadline: Monotonic time to stop at.
    """
    bound = _lagrangian_bound(problem, start.duals, start.excess)
    best = replace(start, least_weight=bound)
    while True:
        duals, times, weight = master.solve(problem)
        for trial in (_between(best.duals, duals), duals):
            added, excess = _price(problem, trial, master, deadline)
            best = max(best, _proved(problem, trial, excess, times), key=_least_weight)
            if added:
                break
        best = replace(best, times=times)
        done = best.least_weight >= min(enough, weight - slack)
        done |= problem.price_bound(best.least_weight) >= problem.price_bound(weight)
        if done or not added or time.monotonic() > deadline:
            return best


def _between(best: Duals, newest: Duals) -> Duals:
    """Duals on the way from the best to the newest."""
    return Duals(
        best.worth + ((newest.worth - best.worth) * _STEP).astype(np.int64),
        best.scarcity + ((newest.scarcity - best.scarcity) * _STEP).astype(np.int64),
    )


def _price(problem: Problem, duals: Duals, master: Master, deadline: float) -> tuple[int, Integers]:
    """Add profitable patterns to the master, looked for exactly only if none are on the grid.

    Returns:
        How many were added, and the excess (k,) that none exceeds.
    """
    weights = problem.weights + duals.scarcity
    pricing = priced_on_grid(problem, duals.worth, weights)
    added = master.add(_filled_up(problem, pricing.patterns))
    if added or not pricing.excess.any():
        return added, pricing.excess
    exact = best_patterns(problem, duals.worth, weights, deadline=deadline)
    if exact is None:
        return 0, pricing.excess
    return master.add(_filled_up(problem, exact.patterns)), exact.excess


def dive(
    problem: Problem, master: Master, times: Floats, *, most_weight: int, deadline: float
) -> tuple[FilledBoard, ...] | None:
    """Fix the surest patterns of the linear solution, solve for what is left, and so on.

    Returns:
        The boards, or None when they would weigh more than `most_weight`.  When the time is up,
        what is left is cut by first fit.
    """
    boards: list[FilledBoard] = []
    while True:
        fixed = _surest(problem, master.patterns, times)
        boards += fixed
        problem = problem.after(fixed)
        weight = sum(int(problem.weights[stock]) for stock, _ in boards)
        if not fixed or weight > most_weight:
            return None
        if not problem.demand.any():
            return tuple(boards)
        if time.monotonic() > deadline:
            rests = first_fit_plans(problem)
            return (*boards, *rests[0]) if rests else None
        for _ in range(_DIVE_ROUNDS):
            duals, times, _ = master.solve(problem)
            weights = problem.weights + duals.scarcity
            pricing = priced_on_grid(problem, duals.worth, weights)
            if not master.add(_filled_up(problem, pricing.patterns)):
                break
        times = np.pad(times, (0, len(master.patterns) - len(times)))


def _proved(problem: Problem, duals: Duals, excess: Integers, times: Floats) -> Relaxation:
    """The best bound of these duals and of smaller ones in proportion.

    Times t, the duals of a board of stock s give at most max(0, t (weight + excess) - weight) more
    worth than it weighs: nothing where t is small enough (Farley, Operations Research 38, 1990).
    The bound is concave in t and bends where one of these becomes nothing.
    """
    weights = problem.weights.astype(np.float64)
    boards = np.where(duals.scarcity > 0, problem.most, problem.fewest)
    whole = float(duals.worth @ problem.demand - duals.scarcity @ boards)
    shares = np.unique(weights / (weights + excess))
    beyond = np.maximum(0.0, shares[:, None] * (weights + excess) - weights)
    best = int(np.argmax(shares * whole - beyond @ problem.most))
    of = int(2**_SHARE_BITS)
    share = int(shares[best] * of)
    scaled = Duals(
        np.array([worth * share // of for worth in duals.worth.tolist()], np.int64),
        np.array([-(-scarcity * share // of) for scarcity in duals.scarcity.tolist()], np.int64),
    )
    given = zip(problem.weights.tolist(), excess.tolist(), strict=True)
    rest = [max(0, -(-share * (weight + more) // of) - weight) for weight, more in given]
    left = np.array(rest, np.int64)
    return Relaxation(scaled, left, _lagrangian_bound(problem, scaled, left), times)


def _least_weight(relaxation: Relaxation) -> int:
    return relaxation.least_weight


def _lagrangian_bound(problem: Problem, duals: Duals, excess: Integers) -> int:
    """Least weight of any plan, from any duals.

    With worth w of the blanks and scarcity q, every board of stock s weighs at least
    w · copies - q[s] - excess[s].  A plan weighs at least w · demand less q[s] times the boards of
    s, which are the most there may be where q[s] > 0 and the fewest where q[s] < 0, and less
    excess[s] times the most boards of s.
    """
    boards = np.where(duals.scarcity > 0, problem.most, problem.fewest)
    return int(duals.worth @ problem.demand - duals.scarcity @ boards - excess @ problem.most)


def _filled_up(problem: Problem, patterns: Patterns) -> Patterns:
    """The patterns with parts added, longest first, until none fits by its size."""
    relaxed = replace(problem, order=None)
    copies = patterns.copies.copy()
    for row, stock in enumerate(patterns.stock):
        left = np.maximum(0, problem.demand - copies[row] @ problem.content)
        copies[row] = fill_longest_first(int(stock), relaxed, left, copies[row])
    return Patterns(patterns.stock, copies)


def shrunk(problem: Problem, patterns: Patterns) -> Patterns:
    """The patterns less so many parts, smallest first, that their boards really hold them."""
    copies = patterns.copies.copy()
    by_size = np.argsort(problem.sizes, kind="stable")
    for row, stock in enumerate(patterns.stock):
        while copies[row].any() and not problem.holds(int(stock), copies[row]):
            lying = by_size[copies[row, by_size] > 0]
            without = copies[row] - np.eye(len(copies[row]), dtype=np.int64)[lying]
            held = [less for less in without if problem.holds(int(stock), less)]
            copies[row] = held[0] if held else without[0]
    held_rows = copies.any(axis=1)
    return Patterns(patterns.stock[held_rows], copies[held_rows])


def _surest(problem: Problem, patterns: Patterns, times: Floats) -> list[FilledBoard]:
    """Boards to fix: the whole ones of the linear solution, then the likeliest of the others.

    Of the others only those are taken that cut no blank too often, and only to make up a small
    part of all boards; the first one is taken in any case.
    """
    whole = np.floor(times + _WHOLE).astype(np.int64)
    wanted = max(1, round(float(times.sum()) * _FIXED_PART))
    likeliest = np.argsort(whole - times, kind="stable")[: 3 * wanted]
    left, on_hand = problem.demand.copy(), problem.most.copy()
    boards: list[FilledBoard] = []
    for index in [*np.repeat(np.arange(len(whole)), whole), *likeliest]:
        stock, pattern = int(patterns.stock[index]), patterns.copies[index]
        copies, left_after = problem.wanted(pattern, left)
        exact = bool(np.all(pattern @ problem.content <= left))
        if whole[index] == 0 and boards and (len(boards) >= wanted or not exact):
            continue
        if copies.any() and on_hand[stock] > 0:
            boards.append((stock, tuple(copies.tolist())))
            left, on_hand[stock] = left_after, on_hand[stock] - 1
    return boards
