"""A mark seen in a picture: where its printed corners are, in pixels and on its card.

A sheet of paper and a set of pencilled points are seen alike: a sheet is a card whose only mark is
its own outline, a set of points is a card whose marks are single points.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["STATED_U_PX", "Sighting"]

STATED_U_PX = 1.0
"""Standard uncertainty per axis of a place that a person read off a picture, pixels."""


@dataclass(frozen=True)
class Sighting:
    """One mark of one card in one picture.

    Attributes:
        photo: Index of the picture among the job's.
        card: Name of the card that carries the mark.
        mark: The mark's number in its dictionary; of what is no printed mark, its name.
        corners_px: (N, 2) corners of its black square (N = 4) or sheet, or a single point (N = 1),
            sub-pixel and free of edge spread, in the picture's pixels; in the order of
            `corners_mm`.
        corners_mm: (N, 2) the same corners in the card's frame (origin at the card's centre, x
            right, y up as printed).
        u_px: Standard uncertainty of a corner per axis, pixels.
        stands_alone: Whether its card alone is enough to measure by, as the person who stated it
            says: a sheet of paper or a set of taped points, not a printed card.
    """

    photo: int
    card: str
    mark: int | str
    corners_px: NDArray[np.float64]
    corners_mm: NDArray[np.float64]
    u_px: float
    stands_alone: bool = False
