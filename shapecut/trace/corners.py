"""Where fitted primitives meet: corners by intersection, smooth joints where they touch."""

import math

import numpy as np

from shapecut.shape.curves import Arc, Curve, Line
from shapecut.trace.primitives import CircleFit, LineFit, Primitive
from shapecut.trace.raster import Points

__all__ = ["between", "corner", "touching_point", "turn_at", "whole_circle"]

_TANGENT_RAD = math.radians(8.0)
"""Primitives that meet at less than this angle are joined where they come closest, since their
intersection would slide along them."""

_SLIDES_MM = 40.0
"""A smooth joint is no farther than this from where the samples change over."""


def whole_circle(circle: CircleFit) -> tuple[Arc, Arc]:
    """A full circle as two arcs, from its leftmost point."""
    (x, y), r = circle.centre, circle.radius
    left, right = (x - r, y), (x + r, y)
    return (
        Arc(left, right, circle.centre, circle.ccw),
        Arc(right, left, circle.centre, circle.ccw),
    )


def corner(first: Primitive, second: Primitive, joint: Points, reach_mm: float) -> Points:
    """The (2,) point where two neighbouring primitives meet.

    Args:
        first: Ends there.
        second: Begins there.
        joint: (2,) rough place.
        reach_mm: How far from it an intersection is believed.
    """
    meetings = _intersections(first, second)
    if meetings:
        near = min(meetings, key=lambda p: float(np.hypot(*(p - joint))))
        turn = turn_at(first, second, near)
        close = float(np.hypot(*(near - joint))) <= reach_mm
        if close and min(turn, math.pi - turn) > _TANGENT_RAD:
            return near
    place = touching_point(first, second, joint)
    if place is None or np.hypot(*(place - joint)) > max(reach_mm, _reach(first), _reach(second)):
        place = joint
    return np.asarray((first.nearest(place) + second.nearest(place)) / 2)


def turn_at(first: Primitive, second: Primitive, place: Points) -> float:
    """Angle, 0 to π, by which the ring turns from one primitive into the next at a place."""
    a, b = _tangent(first, place), _tangent(second, place)
    return abs(math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b)))


def _tangent(primitive: Primitive, point: Points) -> Points:
    """Unit tangent along the ring at a point of the primitive."""
    if isinstance(primitive, LineFit):
        return np.array(primitive.direction)
    spoke = (point - np.array(primitive.centre)) / primitive.radius
    sign = 1.0 if primitive.ccw else -1.0
    return sign * np.array([-spoke[1], spoke[0]])


def _intersections(first: Primitive, second: Primitive) -> list[Points]:
    if isinstance(first, LineFit):
        if isinstance(second, LineFit):
            return _line_line(first, second)
        return _line_circle(first, second)
    if isinstance(second, LineFit):
        return _line_circle(second, first)
    return _circle_circle(first, second)


def _line_line(first: LineFit, second: LineFit) -> list[Points]:
    a, b = np.array(first.direction), np.array(second.direction)
    cross = float(a[0] * b[1] - a[1] * b[0])
    if abs(cross) < 1e-9:
        return []
    gap = np.array(second.point) - np.array(first.point)
    return [np.array(first.point) + a * float(gap[0] * b[1] - gap[1] * b[0]) / cross]


def _line_circle(line: LineFit, circle: CircleFit) -> list[Points]:
    foot = line.nearest(np.array(circle.centre))
    reach = circle.radius**2 - float(np.sum((foot - circle.centre) ** 2))
    if reach < 0:
        return []
    along = np.array(line.direction) * math.sqrt(reach)
    return [foot + along, foot - along]


def _circle_circle(first: CircleFit, second: CircleFit) -> list[Points]:
    axis = np.array(second.centre) - np.array(first.centre)
    gap = float(np.hypot(*axis))
    if gap < 1e-9:
        return []
    along = (gap**2 + first.radius**2 - second.radius**2) / (2 * gap)
    reach = first.radius**2 - along**2
    if reach < 0:
        return []
    axis = axis / gap
    foot = np.array(first.centre) + axis * along
    side = np.array([-axis[1], axis[0]]) * math.sqrt(reach)
    return [foot + side, foot - side]


def touching_point(first: Primitive, second: Primitive, joint: Points) -> Points | None:
    """Where two primitives run closest to each other, if that is near a rough place; (2,)."""
    if isinstance(first, LineFit) and isinstance(second, CircleFit):
        place = first.nearest(np.array(second.centre))
    elif isinstance(first, CircleFit) and isinstance(second, LineFit):
        place = second.nearest(np.array(first.centre))
    elif isinstance(first, CircleFit) and isinstance(second, CircleFit):
        place = _on_centre_line(first, second, joint)
    else:
        return None
    reach = max(_reach(first), _reach(second))
    return place if np.hypot(*(place - joint)) <= reach else None


def _reach(primitive: Primitive) -> float:
    """How far from the rough joint a tangent point is still believed, mm."""
    return min(0.5 * primitive.radius, _SLIDES_MM) if isinstance(primitive, CircleFit) else 0.0


def _on_centre_line(first: CircleFit, second: CircleFit, joint: Points) -> Points:
    axis = np.array(second.centre) - np.array(first.centre)
    gap = float(np.hypot(*axis))
    if gap < 1e-9:
        return joint
    axis = axis / gap
    ends = [np.array(first.centre) + sign * axis * first.radius for sign in (1.0, -1.0)]
    return min(ends, key=lambda p: float(np.hypot(*(p - joint))))


def between(primitive: Primitive, start: Points, end: Points) -> Curve:
    """The primitive between corners, (2,) each; an arc's centre moves to be as far from both."""
    first, last = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    if isinstance(primitive, LineFit):
        return Line(first, last)
    middle, chord = (start + end) / 2, end - start
    normal = np.array([-chord[1], chord[0]]) / math.dist(first, last)
    centre = middle + normal * float((np.array(primitive.centre) - middle) @ normal)
    return Arc(first, last, (float(centre[0]), float(centre[1])), primitive.ccw)
