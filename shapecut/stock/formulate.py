"""From millimetres and money to the cutting problem in whole numbers, and back.

Lengths are reckoned on a grid of `GRID_MM`, blanks and kerf rounded up and boards down, so that a
plan always fits the real boards; among all plans on that grid the cost is exact.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

import numpy as np

from shapecut.errors import StockError
from shapecut.stock.cutplan import Blank, Stock
from shapecut.stock.problem import Problem
from shapecut.units import format_mm

__all__ = ["GRID_MM", "Job", "Money", "check_job", "formulate", "named_stock"]

GRID_MM = 0.01
"""Step of the lengths that plans are made with; far below what a saw keeps."""

_SAME_STEP = 1e-6
"""A length this part of a grid step beyond a grid line lies on it: floats are not exact."""

_COST_DIGITS = 3
"""Digits of a board's length in mm that count as its cost when prices are not stated."""


@dataclass(frozen=True)
class Job:
    """Everything a plan depends on; `stock` rises in length, then in price."""

    blanks: tuple[Blank, ...]
    stock: tuple[Stock, ...]
    kerf_mm: float
    squared_end_mm: float

    @property
    def priced(self) -> bool:
        """Whether prices are stated."""
        return self.stock[0].price is not None

    def costs(self) -> tuple[Decimal, ...]:
        """The price of each stock, or its length in mm."""
        return tuple(
            Decimal(str(round(s.length_mm, _COST_DIGITS))) if s.price is None else s.price
            for s in self.stock
        )

    def usable_mm(self, stock: Stock) -> float:
        """What a board has after its end is squared."""
        return stock.length_mm - self.squared_end_mm

    def takes(self, stock: Stock, blank: Blank) -> bool:
        """Whether a board is long enough for a blank."""
        return _steps_up(blank.length_mm) <= _steps_down(self.usable_mm(stock))

    def with_useful_stock(self) -> "Job":
        """The job without boards that are too short for every blank."""
        shortest = min(self.blanks, key=lambda blank: blank.length_mm)
        return replace(self, stock=tuple(s for s in self.stock if self.takes(s, shortest)))


@dataclass(frozen=True)
class Money:
    """The greatest amount that all costs are whole multiples of: `unit` · 10^`exponent`."""

    unit: int
    exponent: int

    @classmethod
    def common(cls, costs: Sequence[Decimal]) -> "Money":
        """The greatest common divisor of some costs."""
        exponent = min(_exponent(cost) for cost in costs)
        whole = [int(cost.scaleb(-exponent)) for cost in costs]
        return cls(math.gcd(*whole) or 1, exponent)

    def units(self, cost: Decimal) -> int:
        """A cost as a number of units."""
        return int(cost.scaleb(-self.exponent)) // self.unit

    def amount(self, units: int) -> Decimal:
        """A number of units as a cost."""
        return Decimal(units * self.unit).scaleb(self.exponent)


def check_job(job: Job) -> None:
    """Raise a `StockError` with what is wrong with the job, if anything is."""
    _check_measures(job)
    if not job.stock:
        raise StockError("No stock is stated: give at least one board length that can be bought.")
    _check_prices(job)
    longest = job.stock[-1]
    for blank in job.blanks:
        if not job.takes(longest, blank):
            squared = " less its squared end" if job.squared_end_mm else ""
            raise StockError(
                f"Piece {blank.label} is {format_mm(blank.length_mm)} long and the longest board "
                f"{format_mm(longest.length_mm)}{squared}: add a longer stock, or turn the boards."
            )


def _check_measures(job: Job) -> None:
    for blank in job.blanks:
        if not (math.isfinite(blank.length_mm) and blank.length_mm > 0):
            raise StockError(
                f"Piece {blank.label} has a length of {format_mm(blank.length_mm)}: "
                "a piece must be longer than nothing."
            )
    labels = [blank.label for blank in job.blanks]
    if len(set(labels)) < len(labels):
        twice = next(label for label in labels if labels.count(label) > 1)
        raise StockError(f"Piece {twice} is there twice: give every piece its own label.")
    for name, value in (("kerf", job.kerf_mm), ("squared end", job.squared_end_mm)):
        if not (math.isfinite(value) and value >= 0):
            raise StockError(f"The {name} is {format_mm(value)}: state zero or more.")


def _check_prices(job: Job) -> None:
    for stock in job.stock:
        if not (math.isfinite(stock.length_mm) and stock.length_mm > 0):
            raise StockError(
                f"A stock length is {format_mm(stock.length_mm)}: state what the yard sells."
            )
        if stock.available is not None and stock.available < 0:
            raise StockError(
                f"{stock.available} boards of {format_mm(stock.length_mm)} are said to be "
                "available: state zero or more, or nothing for no limit."
            )
        if stock.price is not None and not (stock.price.is_finite() and stock.price >= 0):
            raise StockError(
                f"The price of the {format_mm(stock.length_mm)} board is {stock.price}: "
                "state zero or more."
            )
    unpriced = [stock for stock in job.stock if stock.price is None]
    if unpriced and len(unpriced) < len(job.stock):
        raise StockError(
            f"The {format_mm(unpriced[0].length_mm)} board has no price and other boards do: "
            "state the prices of all boards, or of none."
        )


def formulate(job: Job, money: Money) -> tuple[Problem, tuple[tuple[Blank, ...], ...]]:
    """Bring a checked job to whole numbers.

    Returns:
        The problem, its stocks in the job's order, and the blanks of each of its sizes.
    """
    kerf = _steps_up(job.kerf_mm)
    sizes = [_steps_up(blank.length_mm) + kerf for blank in job.blanks]
    step = math.gcd(*sizes)
    groups: dict[int, list[Blank]] = {}
    for size, blank in sorted(zip(sizes, job.blanks, strict=True), key=lambda pair: -pair[0]):
        groups.setdefault(size // step, []).append(blank)
    capacities = [(_steps_down(job.usable_mm(stock)) + kerf) // step for stock in job.stock]
    count = len(job.blanks)
    available = [count if s.available is None else s.available for s in job.stock]
    problem = Problem(
        sizes=np.array(list(groups), dtype=np.int64),
        demand=np.array([len(group) for group in groups.values()], dtype=np.int64),
        capacities=np.array(capacities, dtype=np.int64),
        prices=np.array([money.units(cost) for cost in job.costs()], dtype=np.int64),
        fewest=np.zeros(len(job.stock), dtype=np.int64),
        most=np.minimum(available, count).astype(np.int64),
        most_boards=count,
    )
    return problem, tuple(tuple(group) for group in groups.values())


def named_stock(stock: Sequence[Stock]) -> str:
    """The stock in words, e.g. `2 of 2400.0 mm, any number of 3600.0 mm`."""
    return ", ".join(
        f"{'any number' if s.available is None else s.available} of {format_mm(s.length_mm)}"
        for s in stock
    )


def _steps_up(length_mm: float) -> int:
    return math.ceil(length_mm / GRID_MM - _SAME_STEP)


def _steps_down(length_mm: float) -> int:
    return math.floor(length_mm / GRID_MM + _SAME_STEP)


def _exponent(cost: Decimal) -> int:
    exponent = cost.normalize().as_tuple().exponent
    assert isinstance(exponent, int)  # finite, as check_job saw to
    return min(0, exponent)
