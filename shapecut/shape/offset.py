"""Curves moved across themselves."""

from dataclasses import dataclass, replace

from shapecut.shape.curves import Curve, Line
from shapecut.shape.placement import Point

__all__ = ["Offset", "offset"]

SMALLEST_RADIUS_MM = 1e-6
"""Arcs of a smaller radius are nothing."""


@dataclass(frozen=True)
class Offset:
    """A curve moved across itself; `curve` is None for an arc with no radius left."""

    start: Point
    end: Point
    curve: Curve | None


def offset(curve: Curve, right_mm: float) -> Offset:
    """Move a curve to its right, away from the material on its left.

    Args:
        curve: A line, which stays one as long, or an arc, which keeps its centre and its sweep.
        right_mm: How far; to the left if negative.
    """
    if isinstance(curve, Line):
        dx, dy = curve.direction()
        line = Line(
            (curve.start[0] + right_mm * dy, curve.start[1] - right_mm * dx),
            (curve.end[0] + right_mm * dy, curve.end[1] - right_mm * dx),
        )
        return Offset(line.start, line.end, line)
    radius = curve.radius
    scale = max(0.0, 1 + (right_mm if curve.ccw else -right_mm) / radius)
    start, end = (
        (
            curve.centre[0] + scale * (point[0] - curve.centre[0]),
            curve.centre[1] + scale * (point[1] - curve.centre[1]),
        )
        for point in (curve.start, curve.end)
    )
    arc = replace(curve, start=start, end=end)
    return Offset(start, end, arc if scale * radius > SMALLEST_RADIUS_MM else None)
