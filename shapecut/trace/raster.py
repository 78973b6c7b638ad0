"""The pictures laid onto the template's face at reduced size: for finding, never for measuring.

Glossary:
    raster: a grid of square cells over the plane at the height of the template's face; row 0 is
        the lowest y, column 0 the lowest x.
    seen: cells that a picture shows.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.survey.view import View

__all__ = ["LaidPhoto", "Raster", "lay_photo"]

Points = NDArray[np.float64]
Mask = NDArray[np.bool_]

_NODE = 8
"""Cells from one exactly projected cell to the next."""
_DARK = 12
"""Code values below which there is hardly any light, and mostly noise."""
_CELL_PX = 1.5
"""Pixels of the shrunk picture to a cell, at least."""


@dataclass(frozen=True)
class Raster:
    """A grid of cells over the plane.

    Attributes:
        low: (x, y) of the centre of cell (0, 0), mm.
        cell_mm: Side of a cell.
        shape: (rows, columns).
    """

    low: tuple[float, float]
    cell_mm: float
    shape: tuple[int, int]

    @classmethod
    def over(cls, points: Points, *, margin: float, cells: int) -> "Raster":
        """The raster over the bounding box of (N, 2) plane points, mm.

        Args:
            points: What must lie inside.
            margin: Room added on every side, as a fraction of the box's longer side.
            cells: About how many cells to use.
        """
        low, high = points.min(axis=0), points.max(axis=0)
        room = margin * float((high - low).max())
        low, high = low - room, high + room
        cell = math.sqrt(float(np.prod(high - low)) / cells)
        columns, rows = (int(n) for n in np.ceil((high - low) / cell))
        return cls((float(low[0]), float(low[1])), cell, (rows, columns))

    def mm_from_cells(self, cells: Points) -> Points:
        """Map (N, 2) (column, row) to (N, 2) plane mm."""
        return np.asarray(cells * self.cell_mm + np.array(self.low))

    def cells_from_mm(self, points: Points) -> Points:
        """Map (N, 2) plane mm to (N, 2) (column, row)."""
        return np.asarray((points - np.array(self.low)) / self.cell_mm)

    def polygon_mask(self, polygon: Points) -> Mask:
        """Cells inside an (N, 2) polygon in plane mm."""
        mask = np.zeros(self.shape, np.uint8)
        cv2.fillPoly(mask, [np.round(self.cells_from_mm(polygon)).astype(np.int32)], 1)
        return mask.astype(bool)


@dataclass(frozen=True)
class LaidPhoto:
    """One picture on the raster.

    Attributes:
        photo: Index of the picture among the job's.
        rgb: (rows, columns, 3) uint8 sRGB; black where not seen.
        seen: (rows, columns), True where the picture shows the cell.
        dark: (rows, columns), True where it is too dark there to tell anything.
    """

    photo: int
    rgb: NDArray[np.uint8]
    seen: Mask
    dark: Mask


def lay_photo(photo: Photo, view: View, raster: Raster, *, height_mm: float) -> LaidPhoto:
    """Lay a picture onto the raster at `height_mm` above the floor."""
    px = _px_of_cells(view, raster, height_mm)
    width, height = photo.size
    seen = np.all((px > 1) & (px < (width - 2, height - 2)), axis=2)
    # Shrinking by area first keeps fine texture from aliasing into the cells.
    step_px = float(np.median(np.hypot(*np.diff(px[::_NODE], axis=1).reshape(-1, 2).T)))
    shrink = max(1, int(step_px / _CELL_PX))
    small = cv2.resize(
        photo.pixels, (width // shrink, height // shrink), interpolation=cv2.INTER_AREA
    )
    at = (px + 0.5) / shrink - 0.5
    rgb = cv2.remap(small, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    dark = seen & np.all([rgb[..., k] < _DARK for k in range(3)], axis=0)
    return LaidPhoto(view.photo, np.asarray(rgb, np.uint8), seen, dark)


def _px_of_cells(view: View, raster: Raster, height_mm: float) -> NDArray[np.float32]:
    """(rows, columns, 2) pixels that show the cells, interpolated between every eighth."""
    # `cv2.resize` puts node k at cell (k + 1/2)·8 − 1/2; one node more on each side.
    rows, columns = (
        (np.arange(-1, -(-count // _NODE) + 1) + 0.5) * _NODE - 0.5 for count in raster.shape
    )
    nodes = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    places = raster.mm_from_cells(nodes)
    px = view.px_from_mm(np.column_stack([places, np.full(len(places), height_mm)]))
    coarse = px.reshape(len(rows), len(columns), 2).astype(np.float32)
    fine = cv2.resize(coarse, (len(columns) * _NODE, len(rows) * _NODE))
    return np.asarray(
        fine[_NODE : _NODE + raster.shape[0], _NODE : _NODE + raster.shape[1]], np.float32
    )
