"""Patterns worth having: the integer knapsacks behind the cutting problem.

Given what each blank is worth (the linear programme's duals, as whole numbers), a pattern's profit
is the worth of its blanks less the weight of its board.  Patterns are grown part by part in falling
order of worth per length; a partial pattern is dropped when even filling its board with material
of the next best worth per length would not reach the profit asked for (Dantzig's bound), and, when
only the best is wanted, when another one is worth no less and takes no more (Nemhauser and Ullmann,
Management Science 15, 1969).  What patterns use and are worth is exact in 64-bit integers; the
bound is reckoned in floats and a trifle too high, so that it drops nothing wrongly.

A pattern may cut a blank more often than it is demanded where different parts hold it, and its
parts are known to fit by their sizes only: what is proved over such patterns holds for all real
ones.
"""

import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.stock.problem import Integers, Patterns, Problem

__all__ = ["Pricing", "best_patterns", "patterns_within", "unlike"]

_LOOKED_AT = 1000
"""Most profitable patterns of a stock from which those to keep are picked."""

_TOO_HIGH = 1 + 1e-12
"""Factor of the bound on what the rest of a board may be worth: far more than floats are off."""

_MOST_ALIKE = 3
"""Patterns kept of a stock that hold the same part; unlike ones help each other in a plan."""


@dataclass(frozen=True)
class Pricing:
    """What pricing found.

    Attributes:
        patterns: Profitable patterns, most profitable first within each stock.
        excess: (k,) proved: no pattern of a stock is worth more than its board weighs by more.
    """

    patterns: Patterns
    excess: Integers


@dataclass(frozen=True)
class _Grown:
    """Grown patterns: (N,) material used and worth, and how each came about."""

    used: Integers
    worth: Integers
    steps: tuple[tuple[int, NDArray[np.int32], NDArray[np.int16]], ...]

    def copies(self, chosen: Integers, parts: int) -> Integers:
        """(len(chosen), parts) how many of each part are in the chosen patterns."""
        copies = np.zeros((len(chosen), parts), dtype=np.int64)
        at = chosen
        for part, parent, count in reversed(self.steps):
            copies[:, part] = count[at]
            at = parent[at].astype(np.int64)
        return copies


def best_patterns(
    problem: Problem, worth: Integers, weights: Integers, *, deadline: float
) -> Pricing | None:
    """Find patterns worth more than their board weighs, the most profitable among them.

    Args:
        problem: The cutting problem.
        worth: (m,) of one blank of each kind, zero or more.
        weights: (k,) of one board of each stock.
        deadline: Monotonic time after which the search is given up.

    Returns:
        The patterns and the exact excess; None if the time ran out.
    """
    worth = problem.content @ worth
    grown = _grow(problem, worth, weights + 1, best_only=True, most=None, deadline=deadline)
    if grown is None:
        return None
    excess = np.zeros_like(weights)
    stock, copies = [], []
    for s, capacity in enumerate(problem.capacities):
        profit = np.where(grown.used <= capacity, grown.worth - weights[s], 0)
        good = np.flatnonzero(profit > 0)
        good = good[np.argsort(-profit[good], kind="stable")][:_LOOKED_AT]
        if len(good):
            excess[s] = profit[good[0]]
        found = grown.copies(good, len(worth))
        kept = found[unlike(found)]
        stock.append(np.full(len(kept), s, dtype=np.int64))
        copies.append(kept)
    return Pricing(Patterns(np.concatenate(stock), np.concatenate(copies)), excess)


def unlike(copies: Integers) -> Integers:
    """Rows of those patterns (n, p), first ones first, of which but a few hold the same part."""
    holding = np.zeros(copies.shape[1], dtype=np.int64)
    kept = []
    for row, pattern in enumerate(copies > 0):
        if holding[pattern].max(initial=0) < _MOST_ALIKE:
            holding += pattern
            kept.append(row)
    return np.array(kept, dtype=np.int64)


def patterns_within(
    problem: Problem, worth: Integers, weights: Integers, *, loss: int, most: int, deadline: float
) -> Patterns | None:
    """All patterns that lose at most `loss` and to which no further part can be added.

    A pattern is listed for a stock only if no cheaper stock, free to be used instead, holds it.

    Returns:
        The patterns, or None if there are more than `most` partial ones at a time, the time runs
        out, or it is too much to try whether some of them fit their board.
    """
    worth = problem.content @ worth
    grown = _grow(problem, worth, weights - loss, best_only=False, most=most, deadline=deadline)
    if grown is None:
        return None
    copies = grown.copies(np.arange(len(grown.used)), len(worth))
    smallest_left = np.where(
        copies < problem.limits(problem.demand), problem.sizes, np.iinfo(np.int64).max
    )
    smallest_left = smallest_left.min(axis=1)
    stock, chosen = [], []
    for s, capacity in enumerate(problem.capacities):
        listed = (grown.used <= capacity) & (grown.worth >= weights[s] - loss)
        if problem.order is None:
            cheaper = (problem.most >= problem.most_boards) & (problem.weights < problem.weights[s])
            cheaper &= problem.fewest[s] == 0
            held = int(problem.capacities[cheaper].max(initial=-1))
            listed &= (grown.used > held) & (grown.used + smallest_left > capacity)
        stock.append(np.full(np.count_nonzero(listed), s, dtype=np.int64))
        chosen.append(np.flatnonzero(listed))
    patterns = Patterns(np.concatenate(stock), copies[np.concatenate(chosen)])
    return patterns if problem.order is None else _held(problem, patterns, deadline)


def _held(problem: Problem, patterns: Patterns, deadline: float) -> Patterns | None:
    """The patterns that their boards really hold, less those that are part of another one."""
    held: dict[tuple[int, bytes], int] = {}
    for row, (stock, copies) in enumerate(zip(patterns.stock, patterns.copies, strict=True)):
        holds = problem.holds(int(stock), copies)
        if holds is None or time.monotonic() > deadline:
            return None
        if holds:
            held[(int(stock), copies.tobytes())] = row
    largest = []
    for (stock, _), row in held.items():
        wider = patterns.copies[row] + np.eye(len(problem.sizes), dtype=np.int64)
        if not any((stock, copies.tobytes()) in held for copies in wider):
            largest.append(row)
    return Patterns(patterns.stock[largest], patterns.copies[largest])


def _grow(
    problem: Problem,
    worth: Integers,
    needed: Integers,
    *,
    best_only: bool,
    most: int | None,
    deadline: float,
) -> _Grown | None:
    """Grow patterns whose worth can reach `needed` (k,) on some stock that holds them."""
    order = np.argsort(-(worth / problem.sizes), kind="stable")
    if best_only:
        order = order[worth[order] > 0]
    limits = problem.limits(problem.demand)
    used, value = np.zeros(1, np.int64), np.zeros(1, np.int64)
    steps = []
    for place, part in enumerate(order):
        following = order[place + 1] if place + 1 < len(order) else None
        level_used, level_value = used, value
        levels = [(used, value, np.arange(len(used), dtype=np.int32))]
        for _ in range(int(limits[part])):
            level_used = level_used + problem.sizes[part]
            level_value = level_value + worth[part]
            alive = level_used <= problem.capacities.max()
            if not alive.any():
                break
            level_used, level_value = level_used[alive], level_value[alive]
            levels.append((level_used, level_value, levels[-1][2][alive]))
        count = np.repeat(np.arange(len(levels), dtype=np.int16), [len(v[0]) for v in levels])
        used = np.concatenate([v[0] for v in levels])
        value = np.concatenate([v[1] for v in levels])
        parent = np.concatenate([v[2] for v in levels])
        kept = np.flatnonzero(_promising(problem, worth, needed, used, value, following))
        if best_only:
            kept = kept[_undominated(used[kept], value[kept])]
        if (most is not None and len(kept) > most) or time.monotonic() > deadline:
            return None
        used, value = used[kept], value[kept]
        steps.append((int(part), parent[kept], count[kept]))
        if not len(used):
            break
    return _Grown(used, value, tuple(steps))


def _promising(
    problem: Problem,
    worth: Integers,
    needed: Integers,
    used: Integers,
    value: Integers,
    following: np.intp | None,
) -> NDArray[np.bool_]:
    """(N,) whether a partial pattern can still reach `needed` on a stock that holds it."""
    rate = 0.0 if following is None else float(worth[following] / problem.sizes[following])
    room = problem.capacities[:, None] - used
    surplus = value - needed[:, None] + room * (rate * _TOO_HIGH)
    return np.asarray(((room >= 0) & (surplus >= 0)).any(axis=0))


def _undominated(used: Integers, value: Integers) -> Integers:
    """Indices of the partial patterns that no other beats in both material and worth."""
    order = np.lexsort((-value, used))
    best = np.maximum.accumulate(value[order])
    first = np.ones(len(order), dtype=bool)
    first[1:] = value[order][1:] > best[:-1]
    return np.asarray(order[first])
