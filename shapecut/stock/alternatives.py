"""Ways of buying side by side: one length throughout, each in turn, and the cheapest mix."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from shapecut.errors import StockError
from shapecut.stock.cutplan import CutPlan, Stock

__all__ = ["Alternative", "alternatives"]


@dataclass(frozen=True)
class Alternative:
    """One way of buying.

    Attributes:
        stock: The only length bought; None for the mix.
        plan: Its cutting plan; None where these boards do not do.
        why_not: Then, what stands against it.
    """

    stock: Stock | None
    plan: CutPlan | None
    why_not: str = ""

    @property
    def cost(self) -> Decimal | None:
        """In currency; None where prices are not stated or there is no plan."""
        return self.plan.cost if self.plan else None

    @property
    def boards(self) -> int:
        """How many boards are bought."""
        return len(list(self.plan.bought)) if self.plan else 0

    @property
    def wasted(self) -> float | None:
        """Part of the length bought that becomes no piece; None where nothing is bought."""
        return self.plan.wasted if self.plan else None


def alternatives(
    stock: Sequence[Stock],
    mix: CutPlan,
    plan: Callable[[Sequence[Stock]], CutPlan],
) -> tuple[Alternative, ...]:
    """Compare buying one length throughout with the cheapest mix.

    Args:
        stock: What the yard sells.
        mix: The plan over all lengths.
        plan: Makes a plan from some stock, everything else being as for the mix.

    Returns:
        Each length, rising, then the mix.
    """
    found = []
    for only in sorted(stock, key=lambda s: s.length_mm):
        try:
            found.append(Alternative(only, plan([only])))
        except StockError as error:
            found.append(Alternative(only, None, str(error)))
    return (*found, Alternative(None, mix))
