"""The report's plan: rows, pieces, what is fitted and marked, and the key to its lines."""

from shapecut.layout.fasteners import Fixing
from shapecut.layout.layout import Layout
from shapecut.papers.fittings_drawing import with_fittings
from shapecut.papers.layout_drawing import drawing_of_layout, name_height
from shapecut.papers.markup import Lengths, section
from shapecut.papers.setting_out import with_setting_out
from shapecut.papers.svg import svg_element
from shapecut.shape.monotone import bounds
from shapecut.shape.setting_out import SettingOut
from shapecut.stock.materials import Fittings

__all__ = ["plan_section"]

_LINES = (
    ("M1 4H21", "stroke:#111;stroke-width:2.2", "saw cut"),
    ("M1 4H21", "stroke:#8d7442;stroke-width:1", "board's own edge"),
    (
        "M1 4H21",
        "stroke:#3f6f8c;stroke-width:1;stroke-dasharray:5 3",
        "field to cover, its edges named",
    ),
    ("M1 4H21", "stroke:#dfe3df;stroke-width:7", "waste of the row's boards"),
)

_FASTENERS = {
    Fixing.CLIP: "M8 1h6v6h-6Z",
    Fixing.STARTER: "M11 1l3.5 6h-7Z",
    Fixing.SCREW: "M8 4a3 3 0 1 0 6 0a3 3 0 1 0-6 0",
}

_POINT = ("M7 4H15M11 1V7", "stroke:#8f1d14;stroke-width:1.2", "evenly spaced point")

_MARK = ("M7 4H15M11 1V7", "stroke:#a8481c;stroke-width:1.2", "marked on the template")


def plan_section(
    layout: Layout, fittings: Fittings, marked: SettingOut, title: str, lengths: Lengths
) -> str:
    """Write the section with the plan, its key and what there is of rows, pieces and boards."""
    board = layout.board
    left, low, right, high = bounds(side.curve for side in layout.field.outer)
    drawing = drawing_of_layout(layout, f"Plan of {title}: rows and pieces with their labels")
    name_mm = name_height(layout)
    drawing = with_setting_out(drawing, marked, name_mm=name_mm)
    drawing = with_fittings(drawing, fittings, name_mm=name_mm)
    return section(
        "plan",
        "Plan",
        f'<figure class="plan">{svg_element(drawing)}</figure>',
        _plan_key(fittings, marked),
        f"<p>{len(layout.rows)} rows, {len(layout.pieces)} pieces of boards "
        f"{lengths(board.width_mm)} wide and {lengths(board.thickness_mm)} thick, "
        f"{lengths(board.gap_mm)} apart; {lengths(right - left)} by {lengths(high - low)} "
        "over all.</p>",
    )


def _plan_key(fittings: Fittings, marked: SettingOut) -> str:
    """What the plan's lines and little shapes are."""
    kinds = fittings.fasteners.counts() if fittings.fasteners else ()
    shapes = [(_FASTENERS[kind], "fill:none;stroke:#111", kind.value) for kind in kinds]
    if any(point.place for row in fittings.rows for point in row.points):
        shapes.append(_POINT)
    if marked != SettingOut():
        shapes.append(_MARK)
    items = "".join(
        f'<li><svg viewBox="0 0 22 8" aria-hidden="true"><path d="{path}" style="{style}"/></svg>'
        f"{word}</li>"
        for path, style, word in (*_LINES, *shapes)
    )
    return f'<ul class="key">{items}</ul>'
