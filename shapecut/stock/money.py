"""What boards cost, and money in whole units, so that bounds on it can be rounded up."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from shapecut.stock.cutplan import Stock

__all__ = ["Money", "cost_of", "money_text", "penny_exact"]

_COST_DIGITS = 3
"""Digits of a board's length in mm that count as its cost when prices are not stated."""


def cost_of(stock: Stock) -> Decimal:
    """The price of a board; its length in mm where none is stated; of an offcut, what it costs."""
    if stock.on_hand is not None:
        return stock.on_hand.cost
    if stock.price is None:
        return Decimal(str(round(stock.length_mm, _COST_DIGITS)))
    return stock.price


def money_text(amount: Decimal, currency: str) -> str:
    """An amount as it is read, with two digits or more behind the point."""
    return f"{penny_exact(amount)} {currency}".strip()


def penny_exact(amount: Decimal) -> Decimal:
    """An amount with two digits behind the point, or more where it has them.

    >>> penny_exact(Decimal("31.0")), penny_exact(Decimal("0.125"))
    (Decimal('31.00'), Decimal('0.125'))
    """
    return amount.quantize(Decimal(1).scaleb(-max(2, -_exponent(amount))))


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


def _exponent(cost: Decimal) -> int:
    exponent = cost.normalize().as_tuple().exponent
    assert isinstance(exponent, int)  # finite, as check_job saw to
    return min(0, exponent)
