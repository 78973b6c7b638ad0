"""The band round an edge in which it lies with 95 %, drawn so many times wider than it is."""

import numpy as np
from numpy.typing import NDArray

from shapecut.papers.edge_points import points_beside
from shapecut.papers.length_uncertainty import COVERAGE
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Edge, Outline

__all__ = ["band_enlargement", "band_round"]

WIDEST_BAND = 0.02
"""Half the band of the least sure edge, as it is drawn, is no more than this share of the longest
straight distance along or across the outline."""

ENLARGED = (200, 100, 50, 20, 10, 5, 2, 1)
"""How many times wider than they are bands may be drawn."""


def band_enlargement(outline: Outline) -> int | None:
    """By how much bands are drawn wider, so that the widest is seen and none hides too much.

    Returns:
        One of `ENLARGED`; None where nothing is known of how sure the edges are.
    """
    worst = max((edge.u_mm or 0.0 for edge in outline.edges), default=0.0)
    if not worst:
        return None
    left, low, right, high = bounds(edge.curve for edge in outline.outer.edges)
    widest = WIDEST_BAND * max(right - left, high - low)
    return next((by for by in ENLARGED if by * COVERAGE * worst <= widest), 1)


def band_round(edge: Edge, enlarged: int, spacing_mm: float) -> NDArray[np.float64] | None:
    """The band round an edge.

    Args:
        edge: In the plane.
        enlarged: How many times wider than it is.
        spacing_mm: Greatest distance of neighbouring points along the edge.

    Returns:
        (N, 2) corners of its rim in the plane; None where the edge states no uncertainty.
    """
    aside = enlarged * COVERAGE * (edge.u_mm or 0.0)
    if not aside:
        return None
    left, right = (points_beside(edge.curve, by, spacing_mm) for by in (aside, -aside))
    return np.vstack([left, right[::-1]])
