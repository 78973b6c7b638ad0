"""Openings in a piece that are whole circles, as one drill or hole saw makes them."""

import math

from shapecut.shape.curves import Arc
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop

__all__ = ["round_opening"]

SAME_CIRCLE_MM = 1e-3
"""Arcs whose centres and radii agree within this are of one circle."""


def round_opening(loop: Loop) -> tuple[Point, float] | None:
    """Centre and diameter of a hole that is one whole circle; None for any other."""
    arcs = [side.curve for side in loop if isinstance(side.curve, Arc)]
    if len(arcs) != len(loop) or not arcs:
        return None
    first = arcs[0]
    for arc in arcs[1:]:
        off = math.dist(arc.centre, first.centre) + abs(arc.radius - first.radius)
        if off > SAME_CIRCLE_MM or arc.ccw != first.ccw:
            return None
    whole = math.isclose(sum(arc.sweep_rad for arc in arcs), -math.tau, rel_tol=1e-6)
    return (first.centre, 2 * first.radius) if whole else None
