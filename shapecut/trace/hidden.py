"""Where a picture does not show the template's boundary, because a card or glare lies over it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.raster import Mask, Points, Raster

__all__ = ["Hidden"]


@dataclass(frozen=True)
class Hidden:
    """What cards and glare hide or blur in one picture.

    Attributes:
        raster: Of the masks.
        mask: Cells that show a card's paper or the core of glare, or lie beside a card.
        pale: These, and cells that glare pales, where colours do not tell the boundary but its
            step may still show.
    """

    raster: Raster
    mask: Mask
    pale: Mask

    def covers(self, places: Points, *, by_colour: bool = False) -> NDArray[np.bool_]:
        """Whether anything hides (N, 2) plane mm; off the raster nothing does.

        Args:
            places: To look at.
            by_colour: Whether the boundary is looked for by its colours.
        """
        mask = self.pale if by_colour else self.mask
        column, row = np.round(self.raster.cells_from_mm(places)).astype(int).T
        rows, columns = mask.shape
        inside = (column >= 0) & (column < columns) & (row >= 0) & (row < rows)
        there = np.zeros(len(places), bool)
        there[inside] = mask[row[inside], column[inside]]
        return there
