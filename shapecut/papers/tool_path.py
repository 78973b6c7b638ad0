"""Where the middle of a router's bit goes round a piece, and what the bit does not reach.

Glossary:
    path: the line at the bit's radius from the piece, round its outer corners in arcs.
    inside corner: where the contour turns towards the piece; the bit leaves a fillet there.
    relief: running into an inside corner until the bit touches its tip, so that a square part fits.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import shapely

from shapecut.papers.tool import Tool
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.offset import offset
from shapecut.shape.outermost import SAME_PLACE_MM, outermost
from shapecut.shape.placement import Point
from shapecut.shape.polygons import GRID_MM, region_polygon
from shapecut.shape.region import Loop, Region, Side

__all__ = ["narrow_places", "tool_path"]

STRAIGHT_ON_RAD = math.radians(3.0)
"""A contour that turns into the piece by less than this has no inside corner there."""

FARTHEST_RADII = 6.0
"""A path stays within so many radii of an inside corner's tip, or the bit does not get there."""

FLATTENING_MM = 0.02

SMALLEST_MM2 = 1.0
"""A place that the bit does not reach is told of if it is larger than this."""


def tool_path(region: Region, tool: Tool) -> tuple[Loop, ...]:
    """The loops along which the bit's middle goes, the piece on their left.

    Each side moves to its right by the radius; outer corners are rounded about their tips, and what
    then runs across itself, as at inside corners and in openings narrower than the bit, drops out.
    """
    moved = [list(_moved(loop, tool.radius_mm)) for loop in region.loops]
    loops = outermost([loop for loop in moved if loop])
    if not tool.relieves:
        return tuple(loops)
    corners = [corner for loop in region.loops for corner in _inside_corners(loop)]
    return tuple(tuple(_relieved(loop, corners, tool.radius_mm)) for loop in loops)


def _moved(loop: Loop, by_mm: float) -> Iterator[Side]:
    """A loop's sides moved to their right and joined end to end; they may cross."""
    moved = [offset(side.curve, by_mm) for side in loop]
    for k, (side, one) in enumerate(zip(loop, moved, strict=True)):
        after = (k + 1) % len(loop)
        if one.curve is not None:
            yield replace(side, curve=one.curve)
        elif math.dist(one.start, one.end) > SAME_PLACE_MM:
            yield Side(Line(one.start, one.end))
        start, end = one.end, moved[after].start
        if math.dist(start, end) <= SAME_PLACE_MM:
            continue
        if _turn(side.curve, loop[after].curve) > 0:
            yield Side(Arc(start, end, side.curve.end, ccw=True))
        else:
            yield Side(Line(start, end))


def _turn(before: Curve, after: Curve) -> float:
    """How far a contour turns left from one curve to the next, rad."""
    (u0, v0), (u1, v1) = before.direction(1.0), after.direction(0.0)
    return math.atan2(u0 * v1 - v0 * u1, u0 * u1 + v0 * v1)


def _inside_corners(loop: Loop) -> Iterator[Point]:
    for before, side in zip((loop[-1], *loop[:-1]), loop, strict=True):
        if _turn(before.curve, side.curve) < -STRAIGHT_ON_RAD:
            yield side.curve.start


def _relieved(loop: Loop, corners: Sequence[Point], radius_mm: float) -> Iterator[Side]:
    """The loop with a way into each inside corner and back, where it turns nearest to its tip."""
    nearest: dict[int, Point] = {}
    for corner in corners:
        turns = [
            k for k in range(len(loop)) if _turn(loop[k - 1].curve, loop[k].curve) < -SAME_PLACE_MM
        ]
        place = min(turns, key=lambda k: math.dist(loop[k].curve.start, corner), default=None)
        if place is not None:
            away = math.dist(loop[place].curve.start, corner)
            if radius_mm + SAME_PLACE_MM < away < FARTHEST_RADII * radius_mm:
                nearest[place] = corner
    for k, side in enumerate(loop):
        if k in nearest:
            begin, (x, y) = side.curve.start, nearest[k]
            share = radius_mm / math.dist(begin, (x, y))
            tip = (x + share * (begin[0] - x), y + share * (begin[1] - y))
            yield Side(Line(begin, tip))
            yield Side(Line(tip, begin))
        yield side


def narrow_places(region: Region, tool: Tool) -> tuple[Point, ...]:
    """Places beside a piece that the bit does not get into, inside corners aside.

    What is not reached is the piece closed by a disc (dilated, then eroded) without the piece
    itself: J. Serra, "Image Analysis and Mathematical Morphology", 1982.  At an inside corner that
    is a fillet, which ends where the bit touches both sides.
    """
    radius = tool.radius_mm
    piece = region_polygon(region, tolerance_mm=FLATTENING_MM)
    closed = piece.buffer(radius, quad_segs=64).buffer(-radius, quad_segs=64)
    fillets = [
        shapely.Point(corner).buffer(2 * radius)
        for loop in region.loops
        for corner in _inside_corners(loop)
    ]
    reached = shapely.union_all([piece.buffer(FLATTENING_MM), *fillets])
    missed = shapely.difference(closed, reached, grid_size=GRID_MM)
    parts = (part for part in shapely.get_parts(missed) if part.area > SMALLEST_MM2)
    middles = (part.representative_point() for part in parts)
    return tuple((point.x, point.y) for point in middles)
