"""The cards' paper on the raster: white round the marks, larger than the marks themselves."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.cell_masks import closed, eroded, filled, grown, touching
from shapecut.trace.raster import LaidPhoto, Mask, Points, Raster

__all__ = ["CardMarks", "paper_mask"]

_MARGIN = 0.14
"""White paper round the marks of our own cards, in sides of a mark."""
_REACH = 0.9
"""How far other cards' paper may reach beyond their marks, in sides of a mark."""
_GOES_ON = 0.2
"""Share of the rim of that reach that is white from which on it is not a card that is white there,
but the template or the floor."""
_WHITE, _COLOURLESS = 0.15, 0.2
"""How far paper may be from the mark's white in lightness, and in difference of its channels, as a
fraction of the step from the mark's black to its white."""
_LEAST_CELLS = 9
"""Marks of fewer cells cannot tell black from white."""


@dataclass(frozen=True)
class CardMarks:
    """One card in one picture.

    Attributes:
        corners_mm: (M, 4, 2) corners of its marks where the raster shows them; of a sheet of paper
            its own.
        printed: Whether they are marks on a card rather than a sheet's own corners.
    """

    corners_mm: Points
    printed: bool


def paper_mask(laid: LaidPhoto, raster: Raster, cards: Sequence[CardMarks]) -> Mask:
    """Cells that show the paper of the cards in a picture.

    Args:
        laid: The picture on the raster.
        raster: The raster.
        cards: In the picture.
    """
    paper = np.zeros(raster.shape, bool)
    for card in cards:
        cells = raster.cells_from_mm(card.corners_mm.reshape(-1, 2)).reshape(-1, 4, 2)
        side = float(np.median(np.linalg.norm(cells[:, 1] - cells[:, 0], axis=1)))
        low = np.floor(cells.min(axis=(0, 1)) - 2 * side).astype(int)
        high = np.ceil(cells.max(axis=(0, 1)) + 2 * side).astype(int)
        (left, top), (right, bottom) = np.maximum(low, 0), np.maximum(high, 0)
        window = (slice(top, bottom), slice(left, right))
        if paper[window].size:
            sheet = _sheet(laid.rgb[window], cells - (left, top), side, printed=card.printed)
            paper[window] |= sheet
    return grown(filled(paper), 2)


def _sheet(rgb: NDArray[np.uint8], marks: Points, side: float, *, printed: bool) -> Mask:
    """Cells of one card's paper: round all its marks, and what is white beside that."""
    hull = cv2.convexHull(marks.reshape(-1, 2).astype(np.float32))[:, 0].astype(float)
    sheet = _polygon(rgb.shape[:2], hull)
    if not printed:
        return sheet
    sheet = grown(sheet, max(1, round(_MARGIN * side)))
    reach = grown(sheet, max(1, round(_REACH * side)))
    white = touching(closed(_whitish(rgb, marks) & reach | sheet, 2), sheet) & reach
    rim = reach & ~eroded(reach, 2)
    return sheet if white[rim].mean() > _GOES_ON else white


def _whitish(rgb: NDArray[np.uint8], marks: Points) -> Mask:
    """Cells as white and colourless as the white of any of the marks."""
    grey = cv2.cvtColor(rgb, cv2.COLOR_RGB2GRAY).astype(float)
    spread = rgb.max(axis=2) - rgb.min(axis=2)
    found = np.zeros(grey.shape, bool)
    for corners in marks:
        mark = _polygon(grey.shape, corners)
        if mark.sum() < _LEAST_CELLS:
            continue
        black, white = np.percentile(grey[mark], [10, 90])
        step = white - black
        found |= (np.abs(grey - white) < _WHITE * step) & (spread < _COLOURLESS * step)
    return found


def _polygon(shape: tuple[int, ...], corners: Points) -> Mask:
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(corners).astype(np.int32)], 1)
    return mask.astype(bool)
