"""The cutting problem in whole numbers, as the solvers see it.

Glossary:
    kind: blanks that are alike in all that matters for cutting.
    part: what lies along a board: a blank of one kind, or several abreast.
    size: what one part takes from a board, its kerf included.
    capacity: what a board has to give, one kerf added because the last part needs no cut behind
        it when it ends at the board's end: n parts fit when sum(lengths) + (n - 1) * kerf is at
        most the length, that is when sum(lengths + kerf) is at most length + kerf.
    order: the rule by which parts with slanted ends need less when they follow one another well.
        With an order, size and capacity are least and greatest amounts: parts whose sizes exceed
        the capacity never fit, and the order tells of the others whether they do.
    pattern: how many of each part one board of one stock gives.
    weight: a price scaled by `Problem.scale`, plus a little for the board itself, so that among
        plans of equal price the one with fewer boards is lighter.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

__all__ = ["FilledBoard", "Floats", "Integers", "Order", "Patterns", "Problem", "total_price"]

Integers = NDArray[np.int64]
Floats = NDArray[np.float64]

FilledBoard = tuple[int, tuple[int, ...]]
"""A board: the index of its stock, and how many of each part it gives."""

_LARGEST_WEIGHT = 2**40
"""Keeps the worth of any pattern inside 64 bits, also where one blank is worth all boards."""

_TIE_SHARE = 64
"""All boards' extra weights together stay below this part of one unit of price."""


class Order(Protocol):
    """Tells whether parts fit a board in some order."""

    def holds(self, stock: int, copies: tuple[int, ...]) -> bool | None:
        """Whether a board holds so many of each part; None if that is too much to try."""


@dataclass(frozen=True)
class Problem:
    """Blanks of `m` kinds to be cut as `p` parts from `k` stocks at the least total price.

    Attributes:
        sizes: (p,) one or more.
        content: (p, m) blanks of each kind in each part; every kind is a part by itself.
        demand: (m,) how many blanks of each kind.
        capacities: (k,) one or more.
        prices: (k,) zero or more, in units of their greatest common divisor.
        fewest: (k,) boards of each stock to use at least.
        most: (k,) boards of each stock to use at most.
        most_boards: No sensible plan has more.
        order: Where the sizes are not all there is to say about fitting.
    """

    sizes: Integers
    content: Integers
    demand: Integers
    capacities: Integers
    prices: Integers
    fewest: Integers
    most: Integers
    most_boards: int
    order: Order | None = None

    @cached_property
    def needed(self) -> Integers:
        """(m,) the least size of a part with a blank of each kind."""
        largest = np.iinfo(np.int64).max
        return np.asarray(np.where(self.content > 0, self.sizes[:, None], largest).min(axis=0))

    @cached_property
    def longest_first(self) -> tuple[tuple[int, int, tuple[tuple[int, int], ...]], ...]:
        """The parts, longest and then widest first: index, size, and (kind, number) of blanks."""
        order = np.lexsort((-self.content.sum(axis=1), -self.sizes))
        return tuple(
            (
                int(part),
                int(self.sizes[part]),
                tuple(
                    (int(k), int(self.content[part, k])) for k in self.content[part].nonzero()[0]
                ),
            )
            for part in order
        )

    @cached_property
    def singles(self) -> Integers:
        """(m,) the part that each kind is by itself."""
        alone = np.where(self.content.sum(axis=1)[:, None] == 1, self.content, 0)
        return np.asarray(alone.argmax(axis=0))

    @cached_property
    def shares(self) -> Integers:
        """(m,) a part of its size that every blank needs alone: no part is less than its blanks'.

        The blanks of a part share its size, which is at least what any of them needs: as many as
        are abreast at most share what each needs.
        """
        abreast = np.where(self.content > 0, self.content.sum(axis=1)[:, None], 1).max(axis=0)
        return np.asarray(self.needed // abreast)

    def blanks_in(self, copies: Integers | tuple[int, ...]) -> Integers:
        """(m,) how many blanks of each kind a pattern (p,) holds."""
        copies = np.asarray(copies)
        parts = np.flatnonzero(copies)  # a few of many: far quicker than the whole product
        return np.asarray(copies[parts] @ self.content[parts])

    def limits(self, left: Integers) -> Integers:
        """(p,) how many of each part there can be with blanks left (m,)."""
        with np.errstate(divide="ignore"):
            times = np.where(self.content > 0, left // self.content, np.iinfo(np.int64).max)
        return np.asarray(times.min(axis=1))

    def wanted(self, copies: Integers, left: Integers) -> tuple[Integers, Integers]:
        """A pattern (p,) without parts whose blanks are not wanted, and what is left (m,) then."""
        kept = np.zeros_like(copies)
        for part in np.repeat(np.arange(len(copies)), copies):
            taken = np.minimum(self.content[part], left)
            kept[part] += bool(taken.any())
            left = left - taken
        return kept, left

    def holds(self, stock: int, copies: Integers | tuple[int, ...]) -> bool | None:
        """Whether a board of a stock holds a pattern; None if that is too much to try."""
        if int(np.asarray(copies) @ self.sizes) > self.capacities[stock]:
            return False
        return True if self.order is None else self.order.holds(stock, tuple(map(int, copies)))

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
            demand -= self.blanks_in(copies)
            fewest[stock] -= 1
            most[stock] -= 1
        return replace(self, demand=np.maximum(0, demand), fewest=np.maximum(0, fewest), most=most)


@dataclass(frozen=True)
class Patterns:
    """A list of patterns.

    Attributes:
        stock: (n,) index of each pattern's stock.
        copies: (n, p) how many of each part.
    """

    stock: Integers
    copies: Integers

    def __len__(self) -> int:
        return len(self.stock)


def total_price(problem: Problem, boards: tuple[FilledBoard, ...]) -> int:
    """The price of a plan in the problem's units."""
    return sum(int(problem.prices[stock]) for stock, _ in boards)
