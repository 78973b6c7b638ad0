"""Spare boards: bought on top of a plan, for boards that split or are cut wrongly."""

from dataclasses import replace
from math import ceil

from shapecut.stock.cutplan import CutPlan, Stock

__all__ = ["with_spares"]

_WHOLE = 1e-9
"""A number of boards this little beyond a whole one is that whole one: floats are not exact."""


def with_spares(plan: CutPlan, share: float) -> CutPlan:
    """Add a part of the boards that a plan buys, rounded up, as far as they can be had.

    Spares are of the longest boards bought, which can stand in for every other one.

    >>> from shapecut.stock.cutplan import Blank
    >>> from shapecut.stock.plan import plan_cuts
    >>> plan = plan_cuts([Blank(f"{i}a", 2000) for i in range(11)], [Stock(2400)], kerf_mm=3)
    >>> [stock.length_mm for stock in with_spares(plan, 0.1).spares]
    [2400, 2400]
    """
    wanted = ceil(sum(1 for _ in plan.bought) * share - _WHOLE)
    spares: list[Stock] = []
    for stock, bought in plan.purchase.items():
        left = wanted - len(spares)
        spares += [stock] * (
            left if stock.available is None else min(left, stock.available - bought)
        )
    return replace(plan, spares=tuple(spares))
