"""Strokes of a pencil or a marker on the raster: narrow, darker than what lies on both sides."""

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.trace.raster import LaidPhoto, Mask

__all__ = ["WIDEST_STROKE_MM", "stroke_darkness", "thickened"]

WIDEST_STROKE_MM = 10.0
"""Nothing wider is a stroke; broad markers draw 5 to 8 mm."""


def stroke_darkness(
    pictures: Sequence[LaidPhoto], cards: Mask, cell_mm: float
) -> NDArray[np.float32]:
    """How much darker each cell is than its surroundings on both sides, in sRGB code values.

    The black top-hat of mathematical morphology (closing less the picture; J. Serra, "Image
    Analysis and Mathematical Morphology", 1982): an edge between a light and a dark material does
    not answer, a dark line between two light sides does.  Of the three channels the darkest
    counts, so that ink of any colour shows.  Several pictures are averaged.

    Args:
        pictures: All pictures on one raster.
        cards: What cards cover; nothing is drawn there.
        cell_mm: Side of a cell.
    """
    size = 2 * round(WIDEST_STROKE_MM / cell_mm / 2) + 3
    kernel = cv2.getStructuringElement(cv2.MORPH_RECT, (size, size))
    total = np.zeros(pictures[0].seen.shape, np.float32)
    weight = np.zeros_like(total)
    for picture in pictures:
        darkest = picture.rgb.min(axis=2)
        free = picture.seen & ~cards
        total += np.where(free, cv2.morphologyEx(darkest, cv2.MORPH_BLACKHAT, kernel), 0)
        weight += free
    return np.asarray(total / np.maximum(weight, 1), np.float32)


def thickened(photo: Photo) -> Photo:
    """The picture with dark strokes wider by a pixel on each side, so that no cell misses one."""
    return replace(photo, pixels=np.asarray(cv2.erode(photo.pixels, np.ones((3, 3), np.uint8))))
