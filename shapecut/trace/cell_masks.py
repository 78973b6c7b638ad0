"""Masks of raster cells: grown, shrunk, filled, taken apart."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.raster import Mask

__all__ = ["closed", "corners", "eroded", "filled", "grown", "opened", "patches", "touching"]


_CORNER_CELLS = 3.0
"""Corners are those of polygons that follow a rim within so many cells."""


def _disc(radius: int) -> NDArray[np.uint8]:
    size = (2 * radius + 1, 2 * radius + 1)
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, size), np.uint8)


def grown(mask: Mask, cells: int) -> Mask:
    """The mask and all cells within a radius of it."""
    return cv2.dilate(mask.astype(np.uint8), _disc(cells)).astype(bool)


def eroded(mask: Mask, cells: float) -> Mask:
    """Cells farther than a radius from the mask's edge; outside the raster is outside the mask."""
    padded = np.pad(mask.astype(np.uint8), 1)
    distance = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    return np.asarray(distance > cells)


def opened(mask: Mask, cells: int) -> Mask:
    """Without what is narrower than a disc of that radius."""
    return cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, _disc(cells)).astype(bool)


def closed(mask: Mask, cells: int) -> Mask:
    """With clefts narrower than a disc of that radius filled."""
    return cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, _disc(cells)).astype(bool)


def filled(mask: Mask) -> Mask:
    """With everything that it encloses."""
    whole = mask.astype(np.uint8)
    outlines, _ = cv2.findContours(whole, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return cv2.drawContours(np.zeros_like(whole), outlines, -1, 1, -1).astype(bool)


def corners(mask: Mask) -> int:
    """Corners of the polygons that follow the mask's rims, holes included."""
    rims, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    return sum(len(cv2.approxPolyDP(rim, _CORNER_CELLS, True)) for rim in rims)


def touching(mask: Mask, seed: Mask) -> Mask:
    """The components of the mask that share a cell with the seed."""
    _, labels = cv2.connectedComponents(mask.astype(np.uint8))
    wanted = np.unique(labels[seed & mask])
    return np.isin(labels, wanted[wanted > 0])


def patches(mask: Mask, *, margin: int) -> Iterator[tuple[tuple[slice, slice], Mask]]:
    """Each component: the window of the raster that holds it with a margin, and its cells there."""
    if not mask.any():
        return
    count, labels, boxes, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8))
    for k in range(1, count):
        left, top, width, height = (int(v) for v in boxes[k, :4])
        window = (
            slice(max(top - margin, 0), top + height + margin),
            slice(max(left - margin, 0), left + width + margin),
        )
        yield window, labels[window] == k
