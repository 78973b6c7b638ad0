"""How far each edge of a measured outline is from the true one, beside its stated uncertainty."""

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.outline import Outline
from tests.outline_deviation import aligned, rough_placement, sampled, signed_distances_mm

__all__ = ["PLACES", "edge_deviations"]

PLACES = np.linspace(0.06, 0.94, 9)
"""Where along an edge it is compared, as fractions of its length."""


def edge_deviations(measured: Outline, true: Outline) -> NDArray[np.float64]:
    """Signed distances and stated standard uncertainties, (edges, 9, 2) mm.

    Args:
        measured: With uncertainties, in its own frame; it is laid on the true one without scaling,
            sure edges counting more than unsure ones.
        true: In its own frame.
    """
    points = np.array([[edge.curve.at(float(f)) for f in PLACES] for edge in measured.edges])
    u_mm = np.repeat([edge.u_mm for edge in measured.edges], len(PLACES)).astype(float)
    lengths = np.repeat([edge.curve.length for edge in measured.edges], len(PLACES))
    flat = points.reshape(-1, 2)
    start = aligned(sampled(measured), true, rough_placement(measured, true))
    placement = aligned(flat, true, start, lengths / np.maximum(u_mm, 0.02) ** 2)
    off = signed_distances_mm(placement.points_to_plane(flat), true)
    return np.column_stack([off, u_mm]).reshape(*points.shape[:2], 2)
