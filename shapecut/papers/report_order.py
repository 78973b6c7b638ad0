"""The report's order of installation: what is fitted first, row by row, and what last."""

from collections.abc import Iterator

from shapecut.layout.edging import Edging
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.papers.markup import Lengths, section, table
from shapecut.stock.materials import Fittings

__all__ = ["order_section"]


def order_section(
    layout: Layout,
    supports: Supports | None,
    edging: Edging,
    fittings: Fittings,
    lengths: Lengths,
) -> str:
    """Write the steps in order, each with what to check by before it is fastened."""
    steps = [
        *_before(layout, supports),
        *_rows(layout, lengths),
        *_after(edging, fittings),
    ]
    rows = [(str(number), what, check) for number, (what, check) in enumerate(steps, start=1)]
    caption = "In this order; lay everything out loose before the first board is fastened"
    return section("order", "Order of installation", table(caption, ("step", "fit", "check"), rows))


def _before(layout: Layout, supports: Supports | None) -> Iterator[tuple[str, str]]:
    if supports and supports.blocks:
        yield ("the blocking between the joists", "flush with the joists' upper sides")
    numbers = {row.number for row in layout.rows}
    around = [piece.label for piece in layout.pieces if piece.row not in numbers]
    if around:
        yield (f"border and breaker boards: {', '.join(around)}", "corners closed, before the rows")


def _rows(layout: Layout, lengths: Lengths) -> Iterator[tuple[str, str]]:
    gap = lengths(layout.board.gap_mm)
    for row in layout.rows:
        labels = [piece.label for piece in layout.pieces if piece.row == row.number]
        if not labels:
            continue
        check = "straight: later rows follow it"
        if row is not layout.rows[0]:
            # The first row's near edge may be ripped to the outline; its far one is the board's.
            low, high = layout.rows[0].across_mm
            on = lengths(abs(row.across_mm[0] - low) - (high - low))
            check = f"gap {gap}; its near edge {on} from the first row's far edge"
        yield (f"row {row.number}: {', '.join(labels)}", check)


def _after(edging: Edging, fittings: Fittings) -> Iterator[tuple[str, str]]:
    for trim in edging.trims:
        yield (f"trim the boards along {trim.edge}", "along one line, snapped from mark to mark")
    if fittings.fascia:
        parts = ", ".join(part.label for part in fittings.fascia.parts)
        yield (f"the fascia: {parts}", "its upper edge, and its mitres closed")
