"""What of a piece lies on a line along it."""

import numpy as np

from shapecut.shape.polygons import flattened
from shapecut.shape.region import Region

__all__ = ["stretches_at"]

FLATTENING_MM = 0.05
"""Greatest distance of chords from their arc."""


def stretches_at(region: Region, across_mm: float) -> tuple[tuple[float, float], ...]:
    """The stretches of a piece at a distance across it.

    Args:
        region: In the piece's frame, x along it.
        across_mm: y of the line; not that of a side which lies along it.

    Returns:
        (from, to) in x, rising.
    """
    rings = [flattened(loop, tolerance_mm=FLATTENING_MM) for loop in region.loops]
    starts = np.concatenate(rings)
    ends = np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
    crossing = (starts[:, 1] < across_mm) != (ends[:, 1] < across_mm)
    (xa, ya), (xb, yb) = starts[crossing].T, ends[crossing].T
    at = np.sort(xa + (across_mm - ya) / (yb - ya) * (xb - xa)).tolist()
    return tuple(zip(at[::2], at[1::2], strict=True))
