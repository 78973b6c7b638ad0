"""Regions some of whose sides are moved across themselves, each by a depth of its own.

Corners are where the moved neighbours meet.  Where only one of two neighbours moves and the region
turns to the right between them, or they go straight on, the moved one ends square at their corner
and a step joins it to the other.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.loops import regions
from shapecut.shape.meetings import carrier_meetings
from shapecut.shape.offset import offset
from shapecut.shape.outermost import SAME_PLACE_MM, outermost
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop, Region, Side

__all__ = ["STRAIGHT_ON_RAD", "inset", "turn_between"]

STRAIGHT_ON_RAD = math.radians(1.0)
"""Neighbours that turn less than this go straight on; their carriers may meet far away."""


def turn_between(before: Curve, after: Curve) -> float:
    """How far a boundary turns to the left where one curve follows another, in (-π, π]."""
    (ux, uy), (vx, vy) = before.direction(1.0), after.direction(0.0)
    return math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)


def inset(region: Region, depths: Mapping[str, float]) -> tuple[Region, ...]:
    """Move the sides that follow some edges.

    Args:
        region: In any frame, mm.
        depths: By source: how far its sides move into the material; negative for outwards.  Arcs
            keep their centres.

    Returns:
        What is left: no region, one, or several.  Steps go by the source of the side that moved.
    """
    if not any(depths.values()):
        return (region,)
    outer, *holes = (_moved_loop(loop, depths) for loop in region.loops)
    # A hole that closes up altogether comes back turned inside out, as does a lost outer loop.
    if _area(outer) <= 0:
        return ()
    found = outermost([outer, *(hole for hole in holes if _area(hole) < 0)])
    return regions(found, thinnest_mm=SAME_PLACE_MM)


@dataclass(frozen=True)
class _Moved:
    """A side moved by its depth, its ends not yet brought to the corners."""

    side: Side
    depth: float
    start: Point
    end: Point
    curve: Curve


def _moved(side: Side, depths: Mapping[str, float]) -> _Moved:
    depth = depths.get(side.source or "", 0.0)
    moved = offset(side.curve, -depth)
    return _Moved(side, depth, moved.start, moved.end, moved.curve or side.curve)


def _moved_loop(loop: Loop, depths: Mapping[str, float]) -> list[Side]:
    moved = [_moved(side, depths) for side in loop]
    followers = [*moved[1:], *moved[:1]]
    corners = [_corner(here, after) for here, after in zip(moved, followers, strict=True)]
    sides: list[Side] = []
    for place, (here, after) in enumerate(zip(moved, followers, strict=True)):
        start, end = corners[place - 1] or here.start, corners[place] or here.end
        if math.dist(start, end) > SAME_PLACE_MM:
            sides.append(Side(_between(here.curve, start, end), here.side.source))
        if corners[place] is None and math.dist(here.end, after.start) > SAME_PLACE_MM:
            mover = here if abs(here.depth) > abs(after.depth) else after
            sides.append(Side(Line(here.end, after.start), mover.side.source))
    return sides


def _between(curve: Curve, start: Point, end: Point) -> Curve:
    """The carrier of a curve between two of its points."""
    if isinstance(curve, Line):
        return Line(start, end)
    return Arc(start, end, curve.centre, curve.ccw)


def _corner(before: _Moved, after: _Moved) -> Point | None:
    """Where two moved neighbours meet, or None if a step is to join them."""
    if math.dist(before.end, after.start) < SAME_PLACE_MM:
        return before.end
    turn = turn_between(before.side.curve, after.side.curve)
    alike = abs(before.depth - after.depth) < SAME_PLACE_MM
    if abs(turn) < STRAIGHT_ON_RAD and not alike:
        return None
    if turn < 0 and not alike and min(abs(before.depth), abs(after.depth)) < SAME_PLACE_MM:
        return None
    corner = before.side.curve.end
    meetings = carrier_meetings(before.curve, after.curve)
    return min(meetings, key=lambda point: math.dist(point, corner), default=before.end)


def _area(loop: Sequence[Side]) -> float:
    return sum(side.curve.area_term() for side in loop)
