"""Fasteners and evenly spaced points in the plane of a plan.

What is one kind is told by its shape: a clip is a square, a starter fixing a triangle, a face screw
a circle.
"""

import math
from collections.abc import Iterator
from dataclasses import replace

from shapecut.layout.fasteners import Fixing
from shapecut.layout.point_rows import SpacedPoint
from shapecut.papers.drawing import Drawing, Layer, Stroke, Text, chain, circle, printable
from shapecut.shape.curves import Line
from shapecut.shape.placement import Placement
from shapecut.stock.materials import Fittings

__all__ = ["with_fittings"]

SCREW_MM = 6.0
"""Radius of a face screw's circle; other fixings are drawn a little larger than they are, too."""

FIXING_MM = 10.0
"""From the middle to a corner of a clip's square and of a starter fixing's triangle."""

POINT_MM = 14.0
"""Half the length of a point's cross."""


def with_fittings(drawing: Drawing, fittings: Fittings, *, name_mm: float) -> Drawing:
    """The drawing of a plan with its fasteners and points, each on a layer of their own.

    Args:
        drawing: In the plane of the plan.
        fittings: What is fitted besides the boards.
        name_mm: Height of the points' names.
    """
    fasteners = fittings.fasteners.places if fittings.fasteners else ()
    items = [_fastener(one.kind, Placement(one.place)) for one in fasteners]
    points = [
        item
        for row in fittings.rows
        for point in row.points
        for item in _point(point, row.rules.size_mm, name_mm)
    ]
    return replace(drawing, items=(*drawing.items, *items, *points))


def _fastener(kind: Fixing, at: Placement) -> Stroke:
    if kind is Fixing.SCREW:
        return circle(at.origin, SCREW_MM, Layer.FASTENER)
    count, first_rad = (4, math.pi / 4) if kind is Fixing.CLIP else (3, math.pi / 2)
    turns = [first_rad + k * math.tau / count for k in range(count)]
    corners = [(FIXING_MM * math.cos(turn), FIXING_MM * math.sin(turn)) for turn in turns]
    return chain((*corners, corners[0]), at, Layer.FASTENER)


def _point(point: SpacedPoint, size_mm: float, height_mm: float) -> Iterator[Stroke | Text]:
    """A cross with the point's name, in a circle of the size of what stands there."""
    if point.place is None:
        return
    x, y = point.place
    yield Stroke((Line((x - POINT_MM, y), (x + POINT_MM, y)),), Layer.POINT)
    yield Stroke((Line((x, y - POINT_MM), (x, y + POINT_MM)),), Layer.POINT)
    if size_mm:
        yield circle(point.place, size_mm / 2, Layer.POINT)
    above = max(POINT_MM, size_mm / 2) + height_mm
    yield Text(printable(point.name), (x, y + above), height_mm, Layer.POINT)
