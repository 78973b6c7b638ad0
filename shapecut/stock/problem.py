"""The cutting problem in whole numbers, as the solvers see it.

Glossary:
    size: what one blank takes from a board, its kerf included.
    capacity: what a board has to give, one kerf added because the last blank needs no cut behind
        it when it ends at the board's end: n blanks fit when sum(lengths) + (n - 1) * kerf is at
        most the length, that is when sum(lengths + kerf) is at most length + kerf.
    pattern: how many blanks of each size one board of one stock gives.
    weight: a price scaled by `Problem.scale`, plus a little for the board itself, so that among
        plans of equal price the one with fewer boards is lighter.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

__all__ = ["FilledBoard", "Floats", "Integers", "Patterns", "Problem", "total_price"]

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]

FilledBoard = tuple[int, tuple[int, ...]]
"""A board: the index of its stock, and how many blanks of each size it gives."""

_LARGEST_WEIGHT = 2**40
"""Keeps weight x capacity, the largest product the knapsack forms, well inside 64 bits."""

_TIE_SHARE = 64
"""All boards' extra weights together stay below this part of one unit of price."""


@dataclass(frozen=True)
class Problem:
    """Blanks of `m` sizes to be cut from `k` stocks at the least total price.

    Attributes:
        sizes: (m,) falling, all different.
        demand: (m,) how many blanks of each size.
        capacities: (k,) rising.
        prices: (k,) zero or more, in units of their greatest common divisor.
        fewest: (k,) boards of each stock to use at least.
        most: (k,) boards of each stock to use at most.
        most_boards: No sensible plan has more.
    """

    sizes: Integers
    demand: Integers
    capacities: Integers
    prices: Integers
    fewest: Integers
    most: Integers
    most_boards: int

    @cached_property
    def scale(self) -> int:
        """Weight of one unit of price."""
        return max(1, _LARGEST_WEIGHT // max(1, int(self.prices.max())))

    @cached_property
    def board_weight(self) -> int:
        """Extra weight of every board."""
        return max(1, self.scale // (_TIE_SHARE * self.most_boards))

    @cached_property
    def weights(self) -> Integers:
        """(k,) weight of one board of each stock."""
        return self.prices * self.scale + self.board_weight

    def price_bound(self, weight: int) -> int:
        """The least price, in units, of a plan that weighs at least `weight`."""
        return max(0, -(-(weight - self.most_boards * self.board_weight) // self.scale))

    def most_weight(self, price: int) -> int:
        """The most that a plan of this price can weigh."""
        return price * self.scale + self.most_boards * self.board_weight

    def within(self, fewest: Integers, most: Integers) -> "Problem":
        """The same problem with other numbers of boards to use."""
        return replace(self, fewest=fewest, most=most)

    def after(self, boards: Iterable[FilledBoard]) -> "Problem":
        """What is left to cut, and to cut it from, after some boards."""
        demand, fewest, most = self.demand.copy(), self.fewest.copy(), self.most.copy()
        for stock, copies in boards:
            demand -= copies
            fewest[stock] -= 1
            most[stock] -= 1
        return replace(self, demand=demand, fewest=np.maximum(0, fewest), most=most)


@dataclass(frozen=True)
class Patterns:
    """A list of patterns.

    Attributes:
        stock: (p,) index of each pattern's stock.
        copies: (p, m) blanks of each size.
    """

    stock: Integers
    copies: Integers

    def __len__(self) -> int:
        return len(self.stock)


def total_price(problem: Problem, boards: tuple[FilledBoard, ...]) -> int:
    """The price of a plan in the problem's units."""
    return sum(int(problem.prices[stock]) for stock, _ in boards)
