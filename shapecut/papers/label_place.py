"""Where there is room for a text inside a piece.

A band is a straight stretch inside a piece along its board; texts are centred on the longest one,
those nearest the board's middle first.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from shapecut.shape.placement import Point
from shapecut.shape.region import Region

__all__ = ["Band", "bands", "label_place"]

BAND_PLACES = (0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9)
"""Heights of the bands over the board's lower edge, as shares of its width, best first."""

WORTH_MOVING = 1.5
"""A band farther from the board's middle is taken only if it is longer by this factor."""


@dataclass(frozen=True)
class Band:
    """A stretch inside a piece at height `y` from `start` to `end`, in the piece's frame, mm."""

    y: float
    start: float
    end: float

    @property
    def length(self) -> float:
        """Length in mm."""
        return self.end - self.start


def bands(region: Region, width_mm: float, tolerance_mm: float) -> tuple[Band, ...]:
    """Find the stretches inside a piece at a few heights across its board.

    Args:
        region: The piece, in its own frame.
        width_mm: The board's width.
        tolerance_mm: Greatest distance of chords from their arc.

    Returns:
        Bands in the order of `BAND_PLACES`, each height from left to right.  A piece so thin that
        it lies between them has one band over its whole length at its middle height.
    """
    polylines = [
        np.concatenate([side.curve.flattened(tolerance_mm)[:-1] for side in loop])
        for loop in region.loops
    ]
    starts = np.concatenate(polylines)
    ends = np.concatenate([np.roll(polyline, -1, axis=0) for polyline in polylines])
    found: list[Band] = []
    for share in BAND_PLACES:
        y = share * width_mm
        crossing = (starts[:, 1] <= y) != (ends[:, 1] <= y)
        (xa, ya), (xb, yb) = starts[crossing].T, ends[crossing].T
        xs = np.sort(xa + (y - ya) / (yb - ya) * (xb - xa))
        found += [Band(y, float(a), float(b)) for a, b in xs.reshape(-1, 2)]
    if found:
        return tuple(found)
    (x0, y0), (x1, y1) = starts.min(axis=0), starts.max(axis=0)
    return (Band(float(y0 + y1) / 2, float(x0), float(x1)),)


def label_place(inside: Iterable[Band]) -> tuple[Point, float]:
    """Choose the band for a text.

    Returns:
        The middle of the band, in the piece's frame, and its length in mm.
    """
    chosen, *others = inside
    for band in others:
        factor = 1.0 if band.y == chosen.y else WORTH_MOVING
        if band.length > factor * chosen.length:
            chosen = band
    return ((chosen.start + chosen.end) / 2, chosen.y), chosen.length
