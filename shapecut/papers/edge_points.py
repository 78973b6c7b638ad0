"""Points along an edge, or beside it, to draw it into a photograph."""

import math

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Curve

__all__ = ["points_beside"]


def points_beside(curve: Curve, aside_mm: float, spacing_mm: float) -> NDArray[np.float64]:
    """Points so far to the left of a curve, from its start to its end.

    Lenses bend even straight lines, hence the spacing.

    Args:
        curve: In the plane.
        aside_mm: Negative for its right.
        spacing_mm: Greatest distance of neighbours, along the curve.

    Returns:
        (N, 2) places in the plane, N at least 2.
    """
    count = max(2, math.ceil(curve.length / spacing_mm) + 1)
    shares = np.linspace(0.0, 1.0, count)
    along = np.array([curve.at(share) for share in shares])
    turns = np.array([curve.direction(share) for share in shares])
    return along + aside_mm * np.column_stack([-turns[:, 1], turns[:, 0]])
