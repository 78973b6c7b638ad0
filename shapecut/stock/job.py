"""A cutting job as it is stated, and what is wrong with it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

from shapecut.errors import StockError
from shapecut.stock.cutplan import Blank, Offcut, Rip, Stock
from shapecut.stock.grid import steps_down, steps_up
from shapecut.stock.turns import Turn
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["Job", "check_job", "named_stock"]


@dataclass(frozen=True)
class Job:
    """Everything a plan depends on.

    Attributes:
        blanks: To cut.
        stock: To buy, rising in length, then in price.
        on_hand: Offcuts that are there.
        kerf_mm: Width of a cut, square to it.
        squared_end_mm: What squaring takes off either end of a bought board.
        width_mm: Of the boards; matters for pieces abreast and offcuts with slanted ends.
        turns: How pieces may be turned.
        lengths: How refusals write lengths.
    """

    blanks: tuple[Blank, ...]
    stock: tuple[Stock, ...]
    on_hand: tuple[Offcut, ...]
    kerf_mm: float
    squared_end_mm: float
    width_mm: float
    turns: tuple[Turn, ...]
    lengths: LengthStyle = MILLIMETRES

    @property
    def priced(self) -> bool:
        """Whether prices are stated."""
        return bool(self.stock) and self.stock[0].price is not None

    def usable_mm(self, stock: Stock) -> float:
        """What a bought board has between its squared ends."""
        return stock.length_mm - 2 * self.squared_end_mm


def check_job(job: Job) -> None:
    """Raise a `StockError` with what is wrong with the job, if anything is."""
    _check_measures(job)
    if not job.stock and not job.on_hand:
        raise StockError("No stock is stated: give at least one board length that can be bought.")
    _check_prices(job)
    _check_offcuts(job)
    for blank in job.blanks:
        _check_rip(blank, blank.rip, job)
        _check_length(blank, job)


def _check_measures(job: Job) -> None:
    written = job.lengths.fine
    for blank in job.blanks:
        if not (math.isfinite(blank.length_mm) and blank.length_mm > 0):
            raise StockError(
                f"Piece {blank.label} has a length of {written(blank.length_mm)}: "
                "a piece must be longer than nothing."
            )
    labels = [blank.label for blank in job.blanks]
    if len(set(labels)) < len(labels):
        twice = next(label for label in labels if labels.count(label) > 1)
        raise StockError(f"Piece {twice} is there twice: give every piece its own label.")
    for name, value in (("kerf", job.kerf_mm), ("squared end", job.squared_end_mm)):
        if not (math.isfinite(value) and value >= 0):
            raise StockError(f"The {name} is {written(value)}: state zero or more.")


def _check_prices(job: Job) -> None:
    written = job.lengths.fine
    for stock in job.stock:
        if not (math.isfinite(stock.length_mm) and stock.length_mm > 0):
            raise StockError(
                f"A stock length is {written(stock.length_mm)}: state what the yard sells."
            )
        if stock.available is not None and stock.available < 0:
            raise StockError(
                f"{stock.available} boards of {written(stock.length_mm)} are said to be "
                "available: state zero or more, or nothing for no limit."
            )
        if stock.price is not None and not (stock.price.is_finite() and stock.price >= 0):
            raise StockError(
                f"The price of the {written(stock.length_mm)} board is {stock.price}: "
                "state zero or more."
            )
    unpriced = [stock for stock in job.stock if stock.price is None]
    if unpriced and len(unpriced) < len(job.stock):
        raise StockError(
            f"The {written(unpriced[0].length_mm)} board has no price and other boards do: "
            "state the prices of all boards, or of none."
        )


def _check_offcuts(job: Job) -> None:
    written = job.lengths.fine
    names = [offcut.name for offcut in job.on_hand]
    for offcut in job.on_hand:
        if names.count(offcut.name) > 1:
            raise StockError(
                f"Offcut {offcut.name} is there twice: give every offcut its own name."
            )
        for edge, (begin, end) in (("lower", offcut.lower_mm), ("upper", offcut.upper_mm)):
            if not (math.isfinite(end) and 0 <= begin <= end):
                raise StockError(
                    f"The {edge} edge of offcut {offcut.name} goes from {written(begin)} to "
                    f"{written(end)}: state where it begins and then where it ends."
                )
        if not offcut.length_mm > 0:
            raise StockError(f"Offcut {offcut.name} has no length: leave it out.")
        for begin, end in offcut.avoid_mm:
            if not (math.isfinite(end) and 0 <= begin < end):
                raise StockError(
                    f"Offcut {offcut.name} is to be avoided from {written(begin)} to "
                    f"{written(end)}: state where the stretch begins and then where it ends."
                )
        _check_cost(offcut, job)


def _check_cost(offcut: Offcut, job: Job) -> None:
    if not (offcut.cost.is_finite() and offcut.cost >= 0):
        raise StockError(
            f"The cost of offcut {offcut.name} is {offcut.cost}: state zero or more, or nothing."
        )
    if offcut.cost and job.stock and not job.priced:
        raise StockError(
            f"Offcut {offcut.name} costs something and the boards to buy have no prices: state "
            "their prices, or leave the offcut's cost out."
        )
    if offcut.cost and offcut.avoid_mm:
        raise StockError(
            f"Offcut {offcut.name} costs something and has stretches to avoid, and its parts "
            "cannot be reckoned one by one: leave its cost out, or state its parts as offcuts."
        )


def _check_rip(blank: Blank, rip: Rip | None, job: Job) -> None:
    written = job.lengths.fine
    if rip is not None and not 0 <= rip.low_mm < rip.high_mm <= job.width_mm:
        raise StockError(
            f"Piece {blank.label} lies from {written(rip.low_mm)} to {written(rip.high_mm)} "
            f"across a board {written(job.width_mm)} wide: state the board's real width."
        )


def _check_length(blank: Blank, job: Job) -> None:
    """Every piece must fit some board, slanted ends or not."""
    written = job.lengths.fine
    if any(steps_up(blank.length_mm) <= steps_down(job.usable_mm(s)) for s in job.stock):
        return
    if any(blank.length_mm <= offcut.length_mm for offcut in job.on_hand):
        return
    longest = max(
        [*(stock.length_mm for stock in job.stock), *(off.length_mm for off in job.on_hand)]
    )
    squared = " less its squared ends" if job.squared_end_mm else ""
    raise StockError(
        f"Piece {blank.label} is {written(blank.length_mm)} long and the longest board "
        f"{written(longest)}{squared}: add a longer stock, or turn the boards."
    )


def named_stock(job: Job) -> str:
    """What can be had in words, e.g. `2 of 2400.0 mm, any number of 3600.0 mm, 3 offcuts`."""
    return ", ".join(_names(job))


def _names(job: Job) -> Iterator[str]:
    written = job.lengths.fine
    for stock in job.stock:
        number = "any number" if stock.available is None else str(stock.available)
        yield f"{number} of {written(stock.length_mm)}"
    if job.on_hand:
        yield f"{len(job.on_hand)} offcut{'s' if len(job.on_hand) > 1 else ''}"
