"""A mark seen in a picture: where its printed corners are, in pixels and on its card."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Sighting"]


@dataclass(frozen=True)
class Sighting:
    """One mark of one card in one picture.

    Attributes:
        photo: Index of the picture among the job's.
        card: Name of the card that carries the mark.
        mark: The mark's number in its dictionary.
        corners_px: (4, 2) corners of its black square, sub-pixel and free of edge spread, in the
            picture's pixels; in the order of `corners_mm`.
        corners_mm: (4, 2) the same corners in the card's frame (origin at the card's centre, x
            right, y up as printed).
        u_px: Standard uncertainty of a corner per axis, pixels.
    """

    photo: int
    card: str
    mark: int
    corners_px: NDArray[np.float64]
    corners_mm: NDArray[np.float64]
    u_px: float
