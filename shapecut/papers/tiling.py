"""Which part of a drawing goes on which page at full scale.

Glossary:
    cell: the rectangle of the drawing that one page answers for; cells meet without overlap.
    window: the part of the drawing shown on a page, the cell and half the overlap round it.
    register mark: a numbered cross at each corner of the cells; the pages that meet there all show
        it, so two pages fit where crosses of the same number lie on one another.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.papers.drawing import Drawing
from shapecut.papers.paper import Sheet
from shapecut.shape.placement import Point

__all__ = ["Box", "RegisterMark", "Tile", "TileMargins", "Tiling", "hits", "tile_drawing"]

FLATTENING_MM = 0.05
"""Greatest distance of chords from their arc where pages that hold something are told."""


@dataclass(frozen=True)
class Box:
    """An upright rectangle in the drawing, mm."""

    x0: float
    y0: float
    x1: float
    y1: float

    def grown(self, by_mm: float) -> "Box":
        """The box with every side moved outwards (inwards when negative)."""
        return Box(self.x0 - by_mm, self.y0 - by_mm, self.x1 + by_mm, self.y1 + by_mm)

    def meets(self, other: "Box") -> bool:
        """Whether two boxes have a point in common."""
        apart_x = self.x1 < other.x0 or other.x1 < self.x0
        apart_y = self.y1 < other.y0 or other.y1 < self.y0
        return not (apart_x or apart_y)


@dataclass(frozen=True)
class TileMargins:
    """Paper round the window, mm: room for check bars and lines of text, and for the printer.

    Attributes:
        left: Holds the upright check bar.
        bottom: Holds the level check bar and the page's name.
        right: Kept free.
        top: Kept free.
        overlap: Width of drawing that neighbouring pages both show.
    """

    left: float = 18.0
    bottom: float = 22.0
    right: float = 9.0
    top: float = 9.0
    overlap: float = 12.0


@dataclass(frozen=True)
class RegisterMark:
    """A numbered cross, mm in the drawing."""

    number: int
    at: Point


@dataclass(frozen=True)
class Tile:
    """One page's cell; columns count from the left and rows from the top, both from 1."""

    column: int
    row: int
    cell: Box


@dataclass(frozen=True)
class Tiling:
    """Pages over a drawing.

    Attributes:
        sheet: The paper as it lies.
        margins: Round the window.
        columns: Of the whole grid.
        rows: Of the whole grid.
        tiles: The cells that hold something, row by row from the top left.
    """

    sheet: Sheet
    margins: TileMargins
    columns: int
    rows: int
    tiles: tuple[Tile, ...]

    def window(self, tile: Tile) -> Box:
        """The part of the drawing that the tile's page shows."""
        return tile.cell.grown(self.margins.overlap / 2)

    def marks(self, tile: Tile) -> tuple[RegisterMark, ...]:
        """The four register marks at the corners of the tile's cell."""
        cell = tile.cell
        return tuple(
            RegisterMark(
                (tile.row - 1 + down) * (self.columns + 1) + tile.column + right,
                (cell.x1 if right else cell.x0, cell.y0 if down else cell.y1),
            )
            for down in (0, 1)
            for right in (0, 1)
        )


def tile_drawing(drawing: Drawing, sheet: Sheet, margins: TileMargins) -> Tiling:
    """Lay a grid of pages over a drawing, upright or turned, whichever needs fewer pages.

    Args:
        drawing: What must be on paper; the grid is centred on it.
        sheet: The paper, upright.
        margins: Round each page's window.

    Returns:
        The tiling; only cells that a stroke passes through become tiles.
    """
    upright, turned = (_grid(drawing, way, margins) for way in (sheet, sheet.turned()))
    return upright if len(upright.tiles) <= len(turned.tiles) else turned


def _grid(drawing: Drawing, sheet: Sheet, margins: TileMargins) -> Tiling:
    cell_width = sheet.width_mm - margins.left - margins.right - margins.overlap
    cell_height = sheet.height_mm - margins.bottom - margins.top - margins.overlap
    x0, y0, x1, y1 = drawing.bounds()
    columns = max(1, math.ceil((x1 - x0) / cell_width))
    rows = max(1, math.ceil((y1 - y0) / cell_height))
    left = (x0 + x1 - columns * cell_width) / 2
    top = (y0 + y1 + rows * cell_height) / 2
    segments = _segments(drawing)
    tiles = []
    for row in range(rows):
        for column in range(columns):
            cell = Box(
                left + column * cell_width,
                top - (row + 1) * cell_height,
                left + (column + 1) * cell_width,
                top - row * cell_height,
            )
            if hits(segments, cell).any():
                tiles.append(Tile(column + 1, row + 1, cell))
    return Tiling(sheet, margins, columns, rows, tuple(tiles))


def _segments(drawing: Drawing) -> NDArray[np.float64]:
    """All strokes as (N, 2, 2) segments."""
    polylines = [
        curve.flattened(FLATTENING_MM) for stroke in drawing.strokes for curve in stroke.curves
    ]
    return np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in polylines])


def hits(segments: NDArray[np.float64], box: Box) -> NDArray[np.bool_]:
    """Tell which of (N, 2, 2) segments have a point in a box, as (N,) booleans.

    The parameter intervals of both slabs are intersected: Y.-D. Liang and B. A. Barsky, "A new
    concept and method for line clipping", ACM Transactions on Graphics 3(1), 1984.
    """
    first, last = clipped_parameters(segments, box)
    return np.asarray(first <= last)


def clipped_parameters(
    segments: NDArray[np.float64], box: Box
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """First and last parameter, 0 … 1, of each segment in the box; first > last where outside."""
    start, along = segments[:, 0], segments[:, 1] - segments[:, 0]
    low, high = np.array([box.x0, box.y0]), np.array([box.x1, box.y1])
    with np.errstate(divide="ignore", invalid="ignore"):
        to_low, to_high = (low - start) / along, (high - start) / along
    # Parallel to a side: no bound if inside that slab, an impossible one if outside.
    inside = (start >= low) & (start <= high)
    parallel = along == 0.0
    enter = np.where(parallel, np.where(inside, -np.inf, np.inf), np.minimum(to_low, to_high))
    leave = np.where(parallel, np.where(inside, np.inf, -np.inf), np.maximum(to_low, to_high))
    return np.maximum(enter.max(axis=1), 0.0), np.minimum(leave.min(axis=1), 1.0)
