"""Column generation: the linear relaxation over all patterns, without listing them.

Gilmore and Gomory, Operations Research 9 (1961) and 11 (1963).
"""

import time
from dataclasses import replace

import numpy as np

from shapecut.stock.bounds import Relaxation, best_bound, bound_again
from shapecut.stock.first_fit import fill_longest_first, first_fit_plans
from shapecut.stock.grid_pricing import priced_on_grid
from shapecut.stock.knapsack import best_patterns
from shapecut.stock.master import Duals, Master
from shapecut.stock.problem import FilledBoard, Floats, Integers, Patterns, Problem

__all__ = ["dive", "relax", "shrunk"]

_STEP = 0.3
"""How far pricing goes from the best duals towards the newest."""

_DIVE_ROUNDS = 2
"""Rounds of column generation after each step of a dive."""

_FIXED_PART = 0.08
"""Part of the boards that one step of a dive fixes at least."""

_WHOLE = 1e-6
"""How far below a whole number a pattern's count may be and still be taken as that number."""


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
    best = bound_again(problem, start)
    while True:
        duals, times, weight = master.solve(problem)
        for trial in (_between(best.duals, duals), duals):
            added, excess = _price(problem, trial, master, deadline)
            found = best_bound(problem, trial, excess, times)
            best = max(best, found, key=lambda relaxation: relaxation.least_weight)
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
            rests = first_fit_plans(problem, (fill_longest_first,))
            return (*boards, *rests[0]) if rests else None
        for _ in range(_DIVE_ROUNDS):
            duals, times, _ = master.solve(problem)
            weights = problem.weights + duals.scarcity
            pricing = priced_on_grid(problem, duals.worth, weights)
            if not master.add(_filled_up(problem, pricing.patterns)):
                break
        times = np.pad(times, (0, len(master.patterns) - len(times)))


def _filled_up(problem: Problem, patterns: Patterns) -> Patterns:
    """The patterns with parts added, longest first, until none fits by its size."""
    relaxed = replace(problem, order=None)
    copies = patterns.copies.copy()
    for row, stock in enumerate(patterns.stock):
        left = np.maximum(0, problem.demand - problem.blanks_in(copies[row]))
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
        exact = bool(np.all(problem.blanks_in(pattern) <= left))
        if whole[index] == 0 and boards and (len(boards) >= wanted or not exact):
            continue
        if copies.any() and on_hand[stock] > 0:
            boards.append((stock, tuple(copies.tolist())))
            left, on_hand[stock] = left_after, on_hand[stock] - 1
    return boards
