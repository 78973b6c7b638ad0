"""The material list and the marks for drilling templates, as CSV (see `csv_text`)."""

from collections.abc import Iterator, Sequence

from shapecut.papers.csv_text import Cell, csv_bytes, rounded_mm
from shapecut.stock.materials import Fittings, Material, total_cost
from shapecut.units import format_inches

__all__ = ["drill_marks_csv", "materials_csv"]

_MATERIAL_HEADER = (
    "material", "length mm", "length in", "needed", "to buy", "spare %", "waste %", "price each",
    "price",
)  # fmt: skip

_MARK_HEADER = ("mark", "on", "along mm", "along in", "up mm", "up in", "x mm", "y mm")


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


def drill_marks_csv(fittings: Fittings, *, denominator: int = 16) -> bytes:
    """Write one line for each mark: holes of the fascia, then evenly spaced points.

    Along is measured from the left end as seen from outside, up from a board's lower edge.
    """
    lines = [
        (
            name,
            on,
            rounded_mm(along),
            format_inches(along, denominator),
            rounded_mm(up),
            None if up is None else format_inches(up, denominator),
            *(rounded_mm(c) for c in place or (None, None)),
        )
        for name, on, along, up, place in _marks(fittings)
    ]
    return csv_bytes(_MARK_HEADER, lines)


_Mark = tuple[str, str, float, float | None, tuple[float, float] | None]


def _marks(fittings: Fittings) -> Iterator[_Mark]:
    for part in fittings.fascia.parts if fittings.fascia else ():
        for mark in part.marks:
            yield mark.name, part.label, mark.along_mm, mark.up_mm, None
    for row in fittings.rows:
        for point in row.points:
            yield point.name, row.rules.edge or row.rules.name, point.along_mm, None, point.place
