"""Where lines and arcs meet, and how near they come to each other.

Glossary:
    carrier: the whole line or circle that a curve is a part of.
    contact: a point that two curves share, be it a crossing, a touch, or the end of an overlap.
"""

import math

from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point

__all__ = [
    "carrier_meetings",
    "contacts",
    "distance",
    "distance_from",
    "fraction_at",
    "lies_on",
]


PARALLEL_RAD = 1e-9
"""Lines that differ in direction by less are parallel: over ten metres that is 1e-5 mm."""


def carrier_meetings(first: Curve, second: Curve) -> tuple[Point, ...]:
    """The points that the carriers of two curves share: none, one or two.

    A touch gives one or two points close together; carriers that coincide give none.
    """
    if isinstance(first, Arc):
        if isinstance(second, Arc):
            return _circle_circle(first, second)
        return _line_circle(second, first)
    if isinstance(second, Arc):
        return _line_circle(first, second)
    return _line_line(first, second)


def _line_line(first: Line, second: Line) -> tuple[Point, ...]:
    (ux, uy), (vx, vy) = first.direction(), second.direction()
    cross = ux * vy - uy * vx
    if abs(cross) < PARALLEL_RAD:
        return ()
    dx, dy = second.start[0] - first.start[0], second.start[1] - first.start[1]
    reach = (dx * vy - dy * vx) / cross
    return ((first.start[0] + reach * ux, first.start[1] + reach * uy),)


def _line_circle(line: Line, arc: Arc) -> tuple[Point, ...]:
    ux, uy = line.direction()
    dx, dy = arc.centre[0] - line.start[0], arc.centre[1] - line.start[1]
    foot, height = dx * ux + dy * uy, dx * uy - dy * ux
    squared = (arc.radius - height) * (arc.radius + height)
    if squared < 0:
        return ()
    half = math.sqrt(squared)
    return tuple(
        (line.start[0] + reach * ux, line.start[1] + reach * uy)
        for reach in (foot - half, foot + half)
    )


def _circle_circle(first: Arc, second: Arc) -> tuple[Point, ...]:
    dx, dy = second.centre[0] - first.centre[0], second.centre[1] - first.centre[1]
    apart = math.hypot(dx, dy)
    if apart < 1e-9:
        return ()
    ux, uy = dx / apart, dy / apart
    r1, r2 = first.radius, second.radius
    foot = (apart + (r1 - r2) * (r1 + r2) / apart) / 2
    squared = (r1 - foot) * (r1 + foot)
    if squared < 0:
        return ()
    half = math.sqrt(squared)
    x, y = first.centre[0] + foot * ux, first.centre[1] + foot * uy
    return ((x - half * uy, y + half * ux), (x + half * uy, y - half * ux))


def fraction_at(curve: Curve, point: Point) -> float:
    """The fraction along a curve of the place nearest to a point on its carrier.

    Outside [0, 1] beyond the ends; on an arc the ends are extended evenly to both sides.
    """
    if isinstance(curve, Line):
        (ux, uy), (x0, y0) = curve.direction(), curve.start
        return ((point[0] - x0) * ux + (point[1] - y0) * uy) / curve.length
    sweep = curve.sweep_rad
    angle = math.atan2(point[1] - curve.centre[1], point[0] - curve.centre[0])
    turned = math.remainder(angle - curve.start_rad - sweep / 2, math.tau)
    return 0.5 + turned / sweep


def lies_on(curve: Curve, point: Point, *, tolerance_mm: float) -> bool:
    """Whether a point lies on a curve, ends included, within a tolerance across and along it."""
    slack = tolerance_mm / curve.length
    if not -slack <= fraction_at(curve, point) <= 1 + slack:
        return False
    if isinstance(curve, Arc):
        return abs(math.dist(point, curve.centre) - curve.radius) <= tolerance_mm
    ux, uy = curve.direction()
    height = ux * (point[1] - curve.start[1]) - uy * (point[0] - curve.start[0])
    return abs(height) <= tolerance_mm


def contacts(first: Curve, second: Curve, *, tolerance_mm: float) -> tuple[Point, ...]:
    """The contacts of two curves, ends included.

    Args:
        first: One curve.
        second: Another.
        tolerance_mm: Points this near to a curve lie on it.

    Returns:
        Crossings first, then ends of either that lie on the other; places may repeat.
    """
    crossings = [
        point
        for point in carrier_meetings(first, second)
        if lies_on(first, point, tolerance_mm=tolerance_mm)
        and lies_on(second, point, tolerance_mm=tolerance_mm)
    ]
    ends = [
        end
        for one, other in ((first, second), (second, first))
        for end in (one.start, one.end)
        if lies_on(other, end, tolerance_mm=tolerance_mm)
    ]
    return (*crossings, *ends)


def distance(first: Curve, second: Curve) -> float:
    """The least distance between two curves, mm; 0 where they cross."""
    for point in carrier_meetings(first, second):
        if all(0 <= fraction_at(curve, point) <= 1 for curve in (first, second)):
            return 0.0
    # At the nearest pair of places one is an end, or both face the centre of the other's circle.
    return min(
        distance_from(other, point)
        for one, other in ((first, second), (second, first))
        for point in (
            one.start,
            one.end,
            *((_nearest(one, other.centre),) if isinstance(other, Arc) else ()),
        )
    )


def distance_from(curve: Curve, point: Point) -> float:
    """The least distance from a point to a curve, mm."""
    return math.dist(point, _nearest(curve, point))


def _nearest(curve: Curve, point: Point) -> Point:
    return curve.at(min(max(fraction_at(curve, point), 0.0), 1.0))
