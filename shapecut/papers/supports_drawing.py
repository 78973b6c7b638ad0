"""The pieces over their joists and the blocking proposed, as one drawing in the plane."""

from collections.abc import Iterator

from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.papers.drawing import Drawing, Layer, Stroke, Text, chain
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement

__all__ = ["drawing_of_supports", "joist_items", "joist_name"]

BEYOND_SHARE = 0.4
"""How far joists are drawn past the field, as a share of the board's width."""

NAME_SHARE = 0.3
"""Height of a joist's name as a share of the board's width."""


def joist_name(index: int) -> str:
    """What a joist is called in the report, counted from 1."""
    return f"J{index + 1}"


def drawing_of_supports(layout: Layout, supports: Supports, title: str) -> Drawing:
    """Draw the pieces over their joists."""
    items: list[Stroke | Text] = [
        Stroke(
            tuple(side.curve.placed(piece.placement) for side in loop), Layer.CONTOUR, closed=True
        )
        for piece in layout.pieces
        for loop in piece.region.loops
    ]
    items += joist_items(layout, supports)
    width = supports.joists.width_mm
    items += (
        _band(Placement(block.middle, block.turn_rad), block.length_mm, width, Layer.BLOCKING)
        for block in supports.blocks
    )
    return Drawing(title, tuple(items))


def joist_items(layout: Layout, supports: Supports) -> Iterator[Stroke | Text]:
    """The joists under a plan and their names, in its plane."""
    joists = supports.joists
    inside = joists.frame.inverse()
    left, _, right, _ = bounds(side.curve.placed(inside) for side in layout.field.outer)
    beyond = BEYOND_SHARE * layout.board.width_mm
    length = right - left + 2 * beyond
    name = NAME_SHARE * layout.board.width_mm
    for index, line in enumerate(joists.lines_mm):
        middle = joists.frame.to_plane(((left + right) / 2, line))
        placement = Placement(middle, joists.frame.turn_rad)
        yield _band(placement, length, joists.width_mm, Layer.JOIST)
        at = joists.frame.to_plane((left - beyond - 1.5 * name, line))
        yield Text(joist_name(index), at, name, Layer.EDGE_NAME)


def _band(placement: Placement, length_mm: float, width_mm: float, layer: Layer) -> Stroke:
    """A rectangle round a placement's origin, along its x."""
    x, y = length_mm / 2, width_mm / 2
    return chain(((-x, -y), (x, -y), (x, y), (-x, y), (-x, -y)), placement, layer)
