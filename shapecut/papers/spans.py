"""Rectangles over strokes: what lies in one, and the fewest in a row that cover all."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.papers.drawing import Stroke

__all__ = ["Box", "cells_over", "clipped_parameters", "segments_of", "spans_in"]

FLATTENING_MM = 0.1
"""Greatest distance of chords from their arc where pages that hold something are told."""


@dataclass(frozen=True)
class Box:
    """An upright rectangle in the drawing, mm."""

    x0: float
    y0: float
    x1: float
    y1: float

    @property
    def width(self) -> float:
        """Its extent along x."""
        return self.x1 - self.x0

    @property
    def height(self) -> float:
        """Its extent along y."""
        return self.y1 - self.y0

    def grown(self, by_mm: float) -> "Box":
        """The box with every side moved outwards (inwards when negative)."""
        return Box(self.x0 - by_mm, self.y0 - by_mm, self.x1 + by_mm, self.y1 + by_mm)

    def meets(self, other: "Box") -> bool:
        """Whether two boxes have a point in common."""
        apart_x = self.x1 < other.x0 or other.x1 < self.x0
        apart_y = self.y1 < other.y0 or other.y1 < self.y0
        return not (apart_x or apart_y)

    def hits(self, segments: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Tell which of (N, 2, 2) segments have a point in the box, as (N,) booleans."""
        first, last = clipped_parameters(segments, self)
        return np.asarray(first <= last)

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        """Its corners, counter-clockwise from the lower left."""
        return ((self.x0, self.y0), (self.x1, self.y0), (self.x1, self.y1), (self.x0, self.y1))


def segments_of(strokes: Iterable[Stroke]) -> NDArray[np.float64]:
    """All strokes as (N, 2, 2) segments, arcs to `FLATTENING_MM`."""
    polylines = [curve.flattened(FLATTENING_MM) for stroke in strokes for curve in stroke.curves]
    if not polylines:
        return np.empty((0, 2, 2))
    return np.concatenate([np.stack([line[:-1], line[1:]], axis=1) for line in polylines])


def clipped_parameters(
    segments: NDArray[np.float64], box: Box
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """First and last parameter, 0 … 1, of each segment in the box; first > last where outside.

    The parameter intervals of both slabs are intersected: Y.-D. Liang and B. A. Barsky, "A new
    concept and method for line clipping", ACM Transactions on Graphics 3(1), 1984.
    """
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


def spans_in(
    segments: NDArray[np.float64], low: float, high: float, *, clear_mm: float = 0.0
) -> NDArray[np.float64]:
    """The stretches of x over which segments run in a level band.

    Args:
        segments: (N, 2, 2).
        low: Lower border of the band.
        high: Its upper border.
        clear_mm: How much every stretch is lengthened at both ends.

    Returns:
        (K, 2) first and last x of stretches that do not meet, rising.
    """
    first, last = clipped_parameters(segments, Box(-np.inf, low, np.inf, high))
    seen = first <= last
    x, along = segments[seen, 0, 0], segments[seen, 1, 0] - segments[seen, 0, 0]
    ends = np.sort(np.stack([x + along * first[seen], x + along * last[seen]], axis=1), axis=1)
    if not len(ends):
        return np.empty((0, 2))
    ends = (ends + np.array([-clear_mm, clear_mm]))[np.argsort(ends[:, 0], kind="stable")]
    reach = np.maximum.accumulate(ends[:, 1])
    begins = np.concatenate([[True], ends[1:, 0] > reach[:-1]])
    final = np.concatenate([begins[1:], [True]])
    return np.asarray(np.column_stack([ends[begins, 0], reach[final]]))


def cells_over(
    segments: NDArray[np.float64],
    width_mm: float,
    height_mm: float,
    *,
    lowest: float,
    clear_mm: float,
) -> list[Box]:
    """Cover segments with cells of one size, in bands from `lowest` upwards.

    In a band each cell begins where the one before ends, or, if nothing is there, where the next
    stretch begins: no fewer cells cover the band.

    Args:
        segments: (N, 2, 2).
        width_mm: Of a cell.
        height_mm: Of a cell, and so of a band.
        lowest: Lower border of the lowest band, at or below all segments.
        clear_mm: How far cells reach past the ends of a stretch at least.
    """
    top = segments[:, :, 1].max()
    bands = max(1, int(np.ceil((top - lowest) / height_mm - 1e-9)))
    cells = []
    for band in range(bands):
        low = lowest + band * height_mm
        spans = spans_in(segments, low, low + height_mm, clear_mm=clear_mm)
        cells += [
            Box(x, low, x + width_mm, low + height_mm) for x in _lefts(spans.tolist(), width_mm)
        ]
    return cells


def _lefts(spans: list[list[float]], width_mm: float) -> list[float]:
    """Left borders of the fewest cells over some stretches; each unbroken run of them centred."""
    runs: list[tuple[list[float], float]] = []
    covered = -np.inf
    for begin, end in spans:
        if end <= covered:
            runs[-1] = (runs[-1][0], end)
            continue
        if begin > covered:
            runs.append(([], end))
            covered = begin
        lefts = runs[-1][0]
        while covered < end - 1e-9:
            lefts.append(covered)
            covered += width_mm
        runs[-1] = (lefts, end)
    centred: list[float] = []
    for lefts, end in runs:
        spare = lefts[-1] + width_mm - end
        room = lefts[0] - centred[-1] - width_mm if centred else np.inf
        shift = min(spare / 2, room)
        centred += [left - shift for left in lefts]
    return centred
