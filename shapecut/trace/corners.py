"""Join fitted primitives into a closed chain of lines and arcs: corners by intersection."""

import math
from collections.abc import Sequence

import numpy as np

from shapecut.shape.curves import Arc, Curve, Line
from shapecut.trace.primitives import CircleFit, LineFit, Primitive
from shapecut.trace.raster import Points

__all__ = ["chain", "whole_circle"]

_TANGENT_RAD = math.radians(8.0)
"""Primitives that meet at less than this angle are joined where they come closest, since their
intersection would slide along them."""


def chain(primitives: Sequence[Primitive], joints: Sequence[Points]) -> tuple[Curve, ...]:
    """The closed chain of curves along primitives in ring order.

    Args:
        primitives: At least two.
        joints: (2,) rough place where each primitive begins, mm.
    """
    count = len(primitives)
    corners = [_corner(primitives[k - 1], primitives[k], joints[k]) for k in range(count)]
    return tuple(
        _curve(primitive, corners[k], corners[(k + 1) % count])
        for k, primitive in enumerate(primitives)
    )


def whole_circle(circle: CircleFit) -> tuple[Arc, Arc]:
    """A full circle as two arcs, from its leftmost point."""
    (x, y), r = circle.centre, circle.radius
    left, right = (x - r, y), (x + r, y)
    return (
        Arc(left, right, circle.centre, circle.ccw),
        Arc(right, left, circle.centre, circle.ccw),
    )


def _corner(first: Primitive, second: Primitive, joint: Points) -> Points:
    """Where two neighbouring primitives meet, near a rough place."""
    meetings = _intersections(first, second)
    if meetings:
        near = min(meetings, key=lambda p: float(np.hypot(*(p - joint))))
        a, b = _tangent(first, near), _tangent(second, near)
        turn = abs(math.atan2(a[0] * b[1] - a[1] * b[0], float(a @ b)))
        if min(turn, math.pi - turn) > _TANGENT_RAD:
            return near
    return _closest_approach(first, second, joint)


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


def _closest_approach(first: Primitive, second: Primitive, joint: Points) -> Points:
    """Midway between two primitives where they run closest to each other."""
    if isinstance(first, LineFit) and isinstance(second, CircleFit):
        place = first.nearest(np.array(second.centre))
    elif isinstance(first, CircleFit) and isinstance(second, LineFit):
        place = second.nearest(np.array(first.centre))
    elif isinstance(first, CircleFit) and isinstance(second, CircleFit):
        place = _on_centre_line(first, second, joint)
    else:
        place = joint
    if np.hypot(*(place - joint)) > max(_reach(first), _reach(second)):
        place = joint
    return np.asarray((first.nearest(place) + second.nearest(place)) / 2)


def _reach(primitive: Primitive) -> float:
    """How far from the rough joint a tangent point is still believed, mm."""
    return 0.5 * primitive.radius if isinstance(primitive, CircleFit) else 0.0


def _on_centre_line(first: CircleFit, second: CircleFit, joint: Points) -> Points:
    axis = np.array(second.centre) - np.array(first.centre)
    gap = float(np.hypot(*axis))
    if gap < 1e-9:
        return joint
    axis = axis / gap
    ends = [np.array(first.centre) + sign * axis * first.radius for sign in (1.0, -1.0)]
    return min(ends, key=lambda p: float(np.hypot(*(p - joint))))


def _curve(primitive: Primitive, start: Points, end: Points) -> Curve:
    """The primitive from corner to corner; an arc's centre moves to be as far from both."""
    first, last = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    if isinstance(primitive, LineFit):
        return Line(first, last)
    middle, chord = (start + end) / 2, end - start
    normal = np.array([-chord[1], chord[0]]) / math.dist(first, last)
    centre = middle + normal * float((np.array(primitive.centre) - middle) @ normal)
    return Arc(first, last, (float(centre[0]), float(centre[1])), primitive.ccw)
