"""Pricing on a grid of lengths: for every part a good pattern with it, and what none can exceed.

With sizes rounded up to the grid, every pattern found fits its board; with sizes rounded down, no
pattern that fits is worth more than the best one found.  Either way the most worth of every length
of board is found item by item (dynamic programming over lengths; Gilmore and Gomory, Operations
Research 14, 1966).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.stock.knapsack import Pricing, unlike
from shapecut.stock.problem import Integers, Patterns, Problem

__all__ = ["priced_on_grid"]

_PATTERN_STEPS = 8_000
"""Steps of the longest board, at most, on the grid on which patterns are looked for."""

_BOUND_STEPS = 60_000
"""The same of the grid on which their worth is bounded."""

_TABLE_SIZE = 3_000_000
"""Steps times parts of the tables that patterns are read from, at most."""

_MOST_LOOKED_AT = 300
"""Most profitable patterns of a stock from which those to keep are picked."""


def priced_on_grid(problem: Problem, worth: Integers, weights: Integers) -> Pricing:
    """Find patterns worth more than their board weighs, and bound by how much any of them is.

    Args:
        problem: The cutting problem.
        worth: (m,) of one blank of each kind, zero or more.
        weights: (k,) of one board of each stock.

    Returns:
        Of the most profitable pattern with each part, those that are profitable.
    """
    excess = np.maximum(0, _most_worth(problem, worth) - weights)
    if not excess.any():
        none = np.empty(0, np.int64)
        return Pricing(Patterns(none, np.empty((0, len(problem.sizes)), np.int64)), excess)
    return Pricing(_patterns_with_each(problem, worth, weights), excess)


@dataclass(frozen=True)
class _Items:
    """Lots of one part each, which lie on a board or do not.

    A part of which there may be n comes in lots of 1, 2, 4 …, n together, so that every number up
    to n can be put together of them.

    Attributes:
        part: (n,) which part.
        count: (n,) how many of it.
        size: (n,) steps of the grid.
        worth: (n,) of the lot.
    """

    part: Integers
    count: Integers
    size: Integers
    worth: Integers

    def __len__(self) -> int:
        return len(self.part)


def _most_worth(problem: Problem, worth: Integers) -> Integers:
    """(k,) at least the most worth of any pattern of each stock."""
    step = -(-int(problem.capacities.max()) // _BOUND_STEPS)
    items = _items(problem, worth, problem.sizes // step)
    capacities = problem.capacities // step
    best = np.zeros(int(capacities.max()) + 1, np.int64)
    for size, gain in zip(items.size.tolist(), items.worth.tolist(), strict=True):
        _add_item(best, size, gain, best)
    return np.asarray(best[capacities])


def _patterns_with_each(problem: Problem, worth: Integers, weights: Integers) -> Patterns:
    """For every item and stock the most profitable pattern with it; see `priced_on_grid`."""
    steps = min(_PATTERN_STEPS, _TABLE_SIZE // len(problem.sizes))
    step = -(-int(problem.capacities.max()) // steps)
    items = _items(problem, worth, -(-problem.sizes // step))
    capacities = problem.capacities // step
    tables = _tables(items, int(capacities.max()))
    chosen = []
    for stock, capacity in enumerate(capacities.tolist()):
        split, most = _best_with_each(items, tables, capacity)
        profit = most - weights[stock]
        good = np.argsort(-profit, kind="stable")[: np.count_nonzero(profit > 0)][:_MOST_LOOKED_AT]
        chosen.append(np.stack([np.full(len(good), stock), good, split[good]], axis=1))
    stock, item, split = np.concatenate(chosen).T
    lots = _lots_on_boards(items, tables, item, split, capacities[stock])
    copies = np.zeros((len(stock), len(problem.sizes)), np.int64)
    np.add.at(copies.T, items.part, (lots * items.count).T)
    kept = [np.flatnonzero(stock == s)[unlike(copies[stock == s])] for s in range(len(capacities))]
    rows = np.concatenate(kept)
    return Patterns(stock[rows], copies[rows])


def _items(problem: Problem, worth: Integers, sizes: Integers) -> _Items:
    """The parts that are worth something in lots, of the sizes given (p,)."""
    part_worth = problem.content @ worth
    limits = np.minimum(problem.limits(problem.demand), problem.capacities.max() // problem.sizes)
    lots = []
    for number in np.flatnonzero(part_worth > 0).tolist():
        left, lot = int(limits[number]), 1
        while left > 0:
            lots.append((number, min(lot, left)))
            left, lot = left - lot, 2 * lot
    part, count = np.array(lots, np.int64).reshape(-1, 2).T
    return _Items(part, count, sizes[part] * count, part_worth[part] * count)


def _add_item(best: Integers, size: int, gain: int, into: Integers) -> None:
    """The most worth (c,) of every length when one more item may lie on it; also in place."""
    fits = max(0, len(best) - size)
    with_item = best[:fits] + gain
    np.maximum(best[size:], with_item, out=into[size:])
    if into is not best:
        into[:size] = best[:size]


@dataclass(frozen=True)
class _Tables:
    """The most worth of every length, (n + 1, c).

    Attributes:
        before: Row i: of the first i items.
        behind: Row i: of all others.
    """

    before: Integers
    behind: Integers


def _tables(items: _Items, capacity: int) -> _Tables:
    n = len(items)
    before, behind = np.zeros((2, n + 1, capacity + 1), np.int64)
    for i in range(n):
        _add_item(before[i], int(items.size[i]), int(items.worth[i]), before[i + 1])
    for i in reversed(range(n)):
        _add_item(behind[i + 1], int(items.size[i]), int(items.worth[i]), behind[i])
    return _Tables(before, behind)


def _best_with_each(items: _Items, tables: _Tables, capacity: int) -> tuple[Integers, Integers]:
    """(n,) for each item the length that those before it take, and the most worth with it."""
    split, worth = np.zeros(len(items), np.int64), np.full(len(items), -1)
    for i, size in enumerate(items.size.tolist()):
        room = capacity - size
        if room >= 0:
            together = tables.before[i, : room + 1] + tables.behind[i + 1, room::-1]
            split[i] = together.argmax()
            worth[i] = together[split[i]] + items.worth[i]
    return split, worth


def _lots_on_boards(
    items: _Items, tables: _Tables, item: Integers, split: Integers, capacity: Integers
) -> NDArray[np.bool_]:
    """(b, n) which items lie on each of b boards, given one of them and the others' lengths."""
    lots = np.zeros((len(item), len(items)), dtype=bool)
    lots[np.arange(len(item)), item] = True
    at = split.copy()
    for i in reversed(range(len(items))):
        lies = (i < item) & (tables.before[i + 1, at] != tables.before[i, at])
        lots[lies, i] = True
        at[lies] -= items.size[i]
    at = capacity - items.size[item] - split
    for i in range(len(items)):
        lies = (i > item) & (tables.behind[i, at] != tables.behind[i + 1, at])
        lots[lies, i] = True
        at[lies] -= items.size[i]
    return lots
