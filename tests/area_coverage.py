"""Exact area coverage of polygons on the pixel grid.

Each pixel is the unit square round its centre, which has integer coordinates.  What a polygon
covers of it follows from Green's theorem: every stretch of boundary inside one pixel row adds the
signed area between itself and the row's right end.  Boundaries are split where they cross pixel
borders, so that each stretch lies in one pixel; a running sum along the row does the rest.  No
sampling, hence no error but that of the arithmetic.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Boundary", "Patch", "painted"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Boundary:
    """Directed straight stretches of closed polygons, each with the value its polygon paints.

    Attributes:
        start: (N, 2) pixels.
        end: (N, 2) pixels.
        value: (N,) what its polygon adds to a pixel it covers wholly, when it runs
            counter-clockwise as the eye sees it; the other way round it takes that away.
    """

    start: Array
    end: Array
    value: Array


@dataclass(frozen=True)
class Patch:
    """The part of a picture that polygons touch.

    Attributes:
        window: Its rows and columns.
        values: (rows, columns) float32, sum over polygons of value × covered fraction.
    """

    window: tuple[slice, slice]
    values: NDArray[np.float32]


def painted(boundary: Boundary, size: tuple[int, int]) -> Patch:
    """Paint closed polygons; values of those that overlap add up.

    Args:
        boundary: Of the polygons; parts outside the picture are allowed.
        size: (width, height) of the picture.
    """
    window = _window(boundary, size)
    rows, columns = window
    height, width = rows.stop - rows.start, columns.stop - columns.start
    # From here on pixel (i, j) of the window is the square [i, i + 1) × [j, j + 1).
    corner = np.array([columns.start, rows.start]) - 0.5
    pieces = np.column_stack([boundary.start - corner, boundary.end - corner, boundary.value])
    low, high = np.minimum(pieces[:, 1], pieces[:, 3]), np.maximum(pieces[:, 1], pieces[:, 3])
    pieces = pieces[(high > 0) & (low < height)]
    pieces = _split_at_integers(_split_at_integers(pieces, axis=1), axis=0)
    row = np.floor((pieces[:, 1] + pieces[:, 3]) / 2).astype(np.int64)
    kept = (row >= 0) & (row < height)
    pieces, row = pieces[kept], row[kept]
    x = np.clip((pieces[:, 0] + pieces[:, 2]) / 2, 0.0, width)
    column = np.minimum(x.astype(np.int64), width - 1)
    # A counter-clockwise polygon goes down the picture on its left side, where the row grows.
    drop = (pieces[:, 3] - pieces[:, 1]) * pieces[:, 4]
    beyond = drop * (x - column)
    flat = row * (width + 1) + column
    steps = np.bincount(flat, drop - beyond, height * (width + 1))
    steps += np.bincount(flat + 1, beyond, height * (width + 1))
    sums = np.cumsum(steps.reshape(height, width + 1), axis=1, out=steps.reshape(height, width + 1))
    return Patch(window, sums[:, :width].astype(np.float32))


def _window(boundary: Boundary, size: tuple[int, int]) -> tuple[slice, slice]:
    """Rows and columns that the boundary's bounding box touches; one pixel when there is none."""
    points = np.vstack([boundary.start, boundary.end])
    if len(points) == 0:
        return slice(0, 1), slice(0, 1)
    low = np.floor(points.min(axis=0) + 0.5).astype(int)
    high = np.floor(points.max(axis=0) + 0.5).astype(int) + 1
    x0, y0 = (int(min(max(v, 0), n - 1)) for v, n in zip(low, size, strict=True))
    x1, y1 = (int(min(max(v, 1), n)) for v, n in zip(high, size, strict=True))
    return slice(y0, max(y1, y0 + 1)), slice(x0, max(x1, x0 + 1))


def _split_at_integers(pieces: Array, *, axis: int) -> Array:
    """Split (N, 5) stretches (x0, y0, x1, y1, value) where one coordinate crosses an integer."""
    first, last = pieces[:, axis], pieces[:, 2 + axis]
    low, high = np.minimum(first, last), np.maximum(first, last)
    base = np.floor(low)
    counts = np.maximum(np.ceil(high) - base, 1).astype(np.int64)
    parts = np.repeat(pieces, counts, axis=0)
    number = np.arange(len(parts)) - np.repeat(np.cumsum(counts) - counts, counts)
    span = np.repeat(np.where(high > low, high - low, 1.0), counts)
    low, base = np.repeat(low, counts), np.repeat(base, counts)
    ends = [np.clip((base + number + k - low) / span, 0.0, 1.0) for k in (0, 1)]
    falling = parts[:, axis] > parts[:, 2 + axis]
    begin = np.where(falling, 1 - ends[1], ends[0])[:, None]
    stop = np.where(falling, 1 - ends[0], ends[1])[:, None]
    step = parts[:, 2:4] - parts[:, 0:2]
    return np.column_stack([parts[:, 0:2] + begin * step, parts[:, 0:2] + stop * step, parts[:, 4]])
