"""The material list, as CSV (see `csv_text`) and in one line."""

from collections import Counter
from collections.abc import Sequence

from shapecut.papers.csv_text import Cell, csv_bytes, rounded_mm
from shapecut.stock.alternatives import Alternative
from shapecut.stock.materials import BOARDS, Material, total_cost
from shapecut.stock.money import money_text
from shapecut.units import format_inches

__all__ = ["besides_boards", "materials_csv", "ways_of_buying_csv"]

_MATERIAL_HEADER = (
    "material", "length mm", "length in", "needed", "to buy", "spare % as bought", "waste %",
    "price each", "price",
)  # fmt: skip


def materials_csv(materials: Sequence[Material], *, denominator: int = 16) -> bytes:
    """Write one line for each thing to buy, and the total.

    Args:
        materials: In the order of the list.
        denominator: Inches are rounded to 1/denominator.
    """
    lines: list[Sequence[Cell]] = [
        (
            material.name,
            rounded_mm(material.length_mm),
            None if material.length_mm is None else format_inches(material.length_mm, denominator),
            material.needed,
            material.bought,
            round(100 * (material.bought / material.needed - 1), 1) if material.needed else None,
            None if material.wasted is None else round(100 * material.wasted, 1),
            material.price,
            material.cost,
        )
        for material in materials
    ]
    total = total_cost(materials)
    if total is not None:
        lines.append(("total of what has a price", *[None] * 7, total))
    return csv_bytes(_MATERIAL_HEADER, lines)


_WAY_HEADER = (
    "buy", "length mm", "length in", "boards", "waste %", "price without spares", "why not",
)  # fmt: skip


def ways_of_buying_csv(ways: Sequence[Alternative], *, denominator: int = 16) -> bytes:
    """Write one line for each way of buying: one length throughout, each in turn, and the mix.

    Args:
        ways: Side by side; what they cost is without spares.
        denominator: Inches are rounded to 1/denominator.
    """
    lines: list[Sequence[Cell]] = [
        (
            "one length" if way.stock else "cheapest mix",
            rounded_mm(way.stock.length_mm) if way.stock else None,
            format_inches(way.stock.length_mm, denominator) if way.stock else None,
            way.boards if way.plan else None,
            None if way.wasted is None else round(100 * way.wasted, 1),
            way.cost,
            way.why_not,
        )
        for way in ways
    ]
    return csv_bytes(_WAY_HEADER, lines)


def besides_boards(materials: Sequence[Material], currency: str) -> str:
    """What is bought besides boards and how many of each, and what all costs that has a price.

    >>> from decimal import Decimal
    >>> clips = Material("hidden clips", None, 60, 66, Decimal("0.50"))
    >>> besides_boards([clips, Material("blocking", 362.0, 2, 2)], "EUR")
    'hidden clips (66), blocking (2): 33.00 EUR (no price: blocking)'

    Empty where there is nothing besides.
    """
    counts = Counter[str]()
    for material in materials:
        counts[material.name] += material.bought
    listed = ", ".join(f"{name} ({count})" for name, count in counts.items() if name != BOARDS)
    total = total_cost(materials)
    if not listed or total is None:
        return listed
    names = dict.fromkeys(material.name for material in materials if material.cost is None)
    priced = " with the boards" if BOARDS in counts and BOARDS not in names else ""
    left_out = f" (no price: {', '.join(names)})" if names else ""
    return f"{listed}: {money_text(total, currency)}{priced}{left_out}"
