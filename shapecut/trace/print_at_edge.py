"""Print and tape that reach the template's edge: patches and strips that look like no template.

They belong to it where it surrounds them, or goes on beyond them.
"""

import numpy as np

from shapecut.trace.cell_masks import closed, filled, grown, opened, patches, touching
from shapecut.trace.raster import Mask

__all__ = ["print_at_edge", "with_parts_beyond_print"]

_WIDEST_STRIP_MM = 70.0
"""Strips of print or tape right across the template are at most this wide, mm."""
_MOST_STRIPS = 2
"""Times that parts are joined across such strips."""
_SURROUNDED = 0.4
"""Share of a patch's surroundings that is template for it to be print at the template's edge."""
_LEAST_PART = 0.03
"""Share of the template's area from which on a part beyond a strip is one."""


def with_parts_beyond_print(mask: Mask, positive: Mask, unlike: Mask, cell_mm: float) -> Mask:
    """The template with its parts that a strip of print or tape cuts off from the rest.

    Args:
        mask: Its largest part.
        positive: Cells that look like the template.
        unlike: Cells that do not look like the floor.
        cell_mm: Side of a cell.
    """
    reach = max(1, round(_WIDEST_STRIP_MM / cell_mm / 2))
    parts = opened(positive & ~mask, 3)
    for _ in range(_MOST_STRIPS):
        joined = mask | parts
        strips = opened(closed(joined, reach) & unlike & ~joined, 1)
        whole = touching(opened(joined | strips, 2), mask)
        grew = int((whole & parts).sum())
        mask, parts = closed(mask | (whole & (parts | strips)), 2), parts & ~whole
        if grew == 0:
            break
    return filled(mask)


def print_at_edge(mask: Mask, not_floor: Mask) -> Mask:
    """Patches unlike the floor that the template surrounds for the most part: print at its edge."""
    added = np.zeros_like(mask)
    # Print is wider than the blurred rim between template and floor.
    for window, patch in patches(opened(not_floor & ~mask, 1), margin=2):
        beside = grown(patch, 2) & ~patch
        if mask[window][beside].mean() > _SURROUNDED:
            added[window] |= patch
    return added
