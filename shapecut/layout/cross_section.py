"""What of a piece lies on lines along it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.polygons import flattened
from shapecut.shape.region import Region

__all__ = ["Chords", "Stretch", "chords_of", "stretches_at"]

FLATTENING_MM = 0.05
"""Greatest distance of chords from their arc, where nothing else is asked for."""

Stretch = tuple[float, float]
"""(from, to) along a piece."""


@dataclass(frozen=True)
class Chords:
    """The boundary of a region as straight segments: their starts and ends, (N, 2) each."""

    starts: NDArray[np.float64]
    ends: NDArray[np.float64]

    def stretches_at(self, across_mm: float) -> tuple[Stretch, ...]:
        """What a line along x has in common with the region, from left to right.

        Args:
            across_mm: y of the line; not that of a side which lies along it.
        """
        crossing = (self.starts[:, 1] < across_mm) != (self.ends[:, 1] < across_mm)
        (xa, ya), (xb, yb) = self.starts[crossing].T, self.ends[crossing].T
        at = np.sort(xa + (across_mm - ya) / (yb - ya) * (xb - xa)).tolist()
        return tuple(zip(at[::2], at[1::2], strict=True))


def chords_of(region: Region, *, tolerance_mm: float = FLATTENING_MM) -> Chords:
    """The boundary of a region, its arcs as chords no further from them than a tolerance."""
    rings = [flattened(loop, tolerance_mm=tolerance_mm) for loop in region.loops]
    ends = [np.roll(ring, -1, axis=0) for ring in rings]
    return Chords(np.concatenate(rings), np.concatenate(ends))


def stretches_at(region: Region, across_mm: float) -> tuple[Stretch, ...]:
    """The stretches of a piece at a distance across it; see `Chords.stretches_at`.

    Args:
        region: In the piece's frame, x along it.
        across_mm: y of the line.
    """
    return chords_of(region).stretches_at(across_mm)
