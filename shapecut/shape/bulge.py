"""Arcs given by their ends and a bulge, as DXF polylines have them.

The bulge is the tangent of a quarter of the sweep, positive counter-clockwise (DXF reference,
LWPOLYLINE, group 42): 0 is a straight line, 1 a half circle.
"""

import math

from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point

__all__ = ["arc_through", "bulged", "rejoined"]


def bulged(start: Point, end: Point, bulge: float) -> Curve:
    """The line or arc between two points that differ.

    The centre lies (1 − b²) / (4 b) chords to the left of the chord's middle, since the tangent of
    half the sweep is 2 b / (1 − b²).
    """
    if abs(bulge) <= _FLAT:
        return Line(start, end)
    (x0, y0), (x1, y1) = start, end
    reach = (1 / bulge - bulge) / 4
    centre = ((x0 + x1) / 2 - reach * (y1 - y0), (y0 + y1) / 2 + reach * (x1 - x0))
    return Arc(start, end, centre, bulge > 0)


def rejoined(curve: Curve, start: Point, end: Point) -> Curve:
    """The curve led from and to points near its own ends; an arc keeps its sweep."""
    if (start, end) == (curve.start, curve.end):
        return curve
    return bulged(start, end, math.tan(curve.sweep_rad / 4) if isinstance(curve, Arc) else 0.0)


def arc_through(start: Point, middle: Point, end: Point) -> Curve:
    """The arc from one point through a second to a third; a line where the three lie in a row.

    The angle at the middle point is half a turn less half the sweep (Euclid, Elements III.20).
    """
    ax, ay = start[0] - middle[0], start[1] - middle[1]
    bx, by = end[0] - middle[0], end[1] - middle[1]
    cross, dot = ax * by - ay * bx, ax * bx + ay * by
    half_sweep = math.copysign(math.pi, -cross) + math.atan2(cross, dot)
    straight = dot < 0 and abs(cross) <= -dot * _IN_A_ROW_RAD
    return bulged(start, end, 0.0 if straight else math.tan(half_sweep / 2))


_IN_A_ROW_RAD = 1e-9
"""Three points bend by less than this: a line; over ten metres that is 1e-5 mm."""

_FLAT = 1e-9
"""A smaller bulge is a line with a rounding error: over ten metres it rises by 5e-6 mm."""
