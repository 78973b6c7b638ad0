"""Slots that stay bare between boards and are wider than the gaps that are meant.

They are left where breakers, borders and rows of unlike directions meet: too narrow for a board of
their own, too wide for a gap, and at least as long as a board is wide.
"""

import math
from collections.abc import Iterator

import shapely

from shapecut.findings import Finding, Level, listed
from shapecut.layout.layout import Layout
from shapecut.shape.polygons import GRID_MM, region_polygon
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["bare_slots"]

WIDER = 1.3
"""A slot is this many gaps wide; where gaps meet at a square corner, 1.2 gaps are bare across."""

NARROWEST_MM = 2.0
"""No slot is narrower, whatever the gap."""

MOST_NAMED = 3
"""Boards named beside a slot."""


def bare_slots(
    layout: Layout, gap_mm: float, *, lengths: LengthStyle = MILLIMETRES
) -> Iterator[Finding]:
    """What of a place stays bare between its boards, but for gaps.

    Args:
        layout: All boards, and the place that they cover.
        gap_mm: The widest that is meant anywhere.
        lengths: How findings write lengths.
    """
    shapes = [region_polygon(piece.region.placed(piece.placement)) for piece in layout.pieces]
    boards = shapely.union_all(shapes, grid_size=GRID_MM)
    bare = shapely.difference(region_polygon(layout.field), boards, grid_size=GRID_MM)
    reach = max(WIDER * gap_mm, NARROWEST_MM) / 2
    tree = shapely.STRtree(shapes)
    for core in shapely.get_parts(bare.buffer(-reach)):
        slot = core.buffer(reach)
        # Where gaps meet at a sharp angle they are wider together, but not for long.
        if slot.is_empty or _sides(slot)[0] < layout.board.width_mm:
            continue
        long_side, width = _sides(slot)
        beside = sorted(tree.query(slot, predicate="dwithin", distance=GRID_MM * 10))
        named = listed([layout.pieces[index].label for index in beside], MOST_NAMED)
        middle = shapely.point_on_surface(core)
        yield Finding(
            Level.CHECK,
            f"slot beside {named}" if named else "slot",
            f"It is {lengths(long_side)} long and up to {lengths(width)} wide, more than a gap, "
            f"and stays bare.",
            "Move the boards beside it, or fill it with a strip.",
            (middle.x, middle.y),
        )


def _sides(shape: shapely.Geometry) -> tuple[float, float]:
    """The longer and the shorter side of the least rectangle round a shape."""
    a, b, c, *_ = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shape)).tolist()
    first, second = math.dist(a, b), math.dist(b, c)
    return max(first, second), min(first, second)
