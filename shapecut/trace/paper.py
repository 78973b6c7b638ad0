"""The cards' paper on the raster: white round the marks, larger than the marks themselves."""

from collections.abc import Sequence

import cv2
import numpy as np

from shapecut.trace.cell_masks import closed, filled, grown, touching
from shapecut.trace.raster import LaidPhoto, Mask, Points, Raster

__all__ = ["paper_mask"]

_REACH = 1.6
"""How far a card's paper may reach from a mark's centre, in sides of the mark."""
_WHITE, _COLOURLESS = 0.15, 0.2
"""How far paper may be from the mark's white in lightness, and in difference of its channels, as a
fraction of the step from the mark's black to its white."""
_LEAST_CELLS = 9
"""Marks of fewer cells cannot tell black from white."""


def paper_mask(laid: LaidPhoto, raster: Raster, marks_mm: Sequence[Points]) -> Mask:
    """Cells that show a card's paper.

    Args:
        laid: A picture on the raster.
        raster: The raster.
        marks_mm: (4, 2) corners of each mark of the picture, where the raster shows them.
    """
    paper = np.zeros(raster.shape, bool)
    grey = cv2.cvtColor(laid.rgb, cv2.COLOR_RGB2GRAY)
    spread = laid.rgb.max(axis=2) - laid.rgb.min(axis=2)
    for corners in marks_mm:
        mark = raster.polygon_mask(corners)
        if mark.sum() < _LEAST_CELLS:
            continue
        black, white = np.percentile(grey[mark], [10, 90])
        contrast = white - black
        whitish = (np.abs(grey - white) < _WHITE * contrast) & (spread < _COLOURLESS * contrast)
        paper |= touching(closed(whitish & _reach(corners, raster) | mark, 2), mark)
    return grown(filled(paper), 2)


def _reach(corners: Points, raster: Raster) -> Mask:
    """Cells that the paper round a mark can reach."""
    disc = np.zeros(raster.shape, np.uint8)
    column, row = np.round(raster.cells_from_mm(corners.mean(axis=0)[None])[0])
    side = float(np.hypot(*(corners[1] - corners[0]))) / raster.cell_mm
    cv2.circle(disc, (int(column), int(row)), int(_REACH * side), 1, -1)
    return disc.astype(bool)
