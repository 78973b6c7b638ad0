"""How a boundary turns where one curve follows another."""

import math

from shapecut.shape.curves import Curve

__all__ = ["turn_between"]


def turn_between(before: Curve, after: Curve) -> float:
    """How far a boundary turns to the left from one curve to the next, in (-π, π]."""
    (ux, uy), (vx, vy) = before.direction(1.0), after.direction(0.0)
    return math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
