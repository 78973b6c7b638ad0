"""What duals prove: no plan weighs less.

Any worth of the blanks and scarcity of the boards, in whole numbers, gives such a bound, however
they were found (Lagrangian relaxation).
"""

from dataclasses import dataclass, replace
from operator import mul

import numpy as np

from shapecut.stock.master import Duals
from shapecut.stock.problem import Floats, Integers, Problem

__all__ = ["Relaxation", "best_bound", "bound_again", "relaxed_lengths"]

_SHARE_BITS = 40
"""Parts of duals are reckoned in this power of one half."""


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
    return Relaxation(duals, none, _bound(problem, duals, none), np.empty(0))


def bound_again(problem: Problem, relaxation: Relaxation) -> Relaxation:
    """The same duals for a problem with other numbers of boards to use."""
    least = _bound(problem, relaxation.duals, relaxation.excess)
    return replace(relaxation, least_weight=least)


def best_bound(problem: Problem, duals: Duals, excess: Integers, times: Floats) -> Relaxation:
    """The best bound that these duals or smaller ones in proportion give.

    With the duals times t, a board of stock s is worth at most max(0, t (weight + excess) - weight)
    more than it weighs: nothing where t is small enough (Farley, Operations Research 38, 1990).
    The bound is concave in t and bends where one of these becomes nothing.

    Args:
        problem: The cutting problem.
        duals: Any.
        excess: (k,) by how much a board can be worth more than it weighs with them, at most.
        times: Of the linear solution that they are from.
    """
    weights = problem.weights.astype(np.float64)
    boards = np.where(duals.scarcity > 0, problem.most, problem.fewest)
    whole = float(duals.worth @ problem.demand - duals.scarcity @ boards)
    shares = np.unique(np.append(weights / (weights + excess), 1.0))
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
    return Relaxation(scaled, left, _bound(problem, scaled, left), times)


def _bound(problem: Problem, duals: Duals, excess: Integers) -> int:
    """Least weight of any plan, from any duals.

    With worth w of the blanks and scarcity q, every board of stock s weighs at least
    w · copies - q[s] - excess[s].  A plan weighs at least w · demand less q[s] times the boards of
    s, which are the most there may be where q[s] > 0 and the fewest where q[s] < 0, and less
    excess[s] times the most boards of s.
    """
    boards = np.where(duals.scarcity > 0, problem.most, problem.fewest)
    gained = _sum_of_products(duals.worth, problem.demand)
    return (
        gained - _sum_of_products(duals.scarcity, boards) - _sum_of_products(excess, problem.most)
    )


def _sum_of_products(first: Integers, second: Integers) -> int:
    """Exact also beyond 64 bits."""
    return sum(map(mul, first.tolist(), second.tolist()))
