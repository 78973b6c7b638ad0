"""What lies along the template's boundary, or elsewhere, that a silhouette leaves in doubt.

A silhouette is sure where the floor's colours lie just outside it and the template's just inside.
Where something else does (print cut off with what lies beyond it, an object that touches the
template, a stretch of floor taken in), a person must look.
"""

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.cell_masks import eroded, grown, opened, patches
from shapecut.trace.raster import Mask

__all__ = ["Doubt", "DoubtfulPlace", "doubtful_places", "middle_of"]

_NEAREST, _FARTHEST = 2, 7
"""Cells from the silhouette's edge between which its neighbourhood is looked at: the nearest are
blurred, and the farthest may be another matter."""
_LEAST_MM = 35.0
"""Stretches of boundary shorter than this are left to the fit, mm."""
_LEAST_HOLE_MM = 22.0
"""Patches within the template that are narrower than this are print or specks, mm."""
_STRIP_MM = 70.0
"""Strips of tape that may cut a part of the template off are at most this wide, mm."""
_FULL = 0.5
"""Share of the neighbourhood of such a stretch that is in doubt, at least."""
_SECOND = 0.25
"""Share of the template's area from which on another patch like it may be a template itself."""


class Doubt(Enum):
    """What is wrong with a place."""

    NO_FLOOR_BESIDE = "no floor beside"
    """Beyond the boundary there is no floor."""
    FLOOR_WITHIN = "floor within"
    """Within the boundary there is floor."""
    ADDED = "added"
    """A patch at the boundary counts as template but does not look like it."""
    GLARE = "glare"
    """The boundary runs through glare."""
    GLARE_WITHIN = "glare within"
    """Glare on the template hides what is there."""
    DARK = "dark"
    """The boundary lies in the dark."""
    MAYBE_HOLE = "maybe a hole"
    """A patch within looks neither like template nor quite like floor."""
    MAYBE_PRINT = "maybe print"
    """A hole is unlike the floor."""
    CUT_OFF = "cut off"
    """A patch like the template lies just beyond a strip of something else."""
    SECOND = "second"
    """Another patch looks like the template."""


@dataclass(frozen=True)
class DoubtfulPlace:
    """A place to look at.

    Attributes:
        doubt: What is wrong there.
        cell: (column, row) of its middle on the raster.
        size_mm: How long the stretch of boundary is, or how wide the patch.
    """

    doubt: Doubt
    cell: tuple[float, float]
    size_mm: float


def doubtful_places(
    mask: Mask,
    score: NDArray[np.float32],
    limit: float,
    *,
    strange: Mask,
    added: Mask,
    known: Mask,
    glare: Mask,
    dark: Mask,
    cell_mm: float,
) -> tuple[DoubtfulPlace, ...]:
    """Look along a silhouette, and for others like it.

    Args:
        mask: The silhouette, with its holes left out.
        score: Log ratio of template to floor, cell by cell.
        limit: The score below which a cell looks like the floor.
        strange: Cells whose colour the floor has nowhere else.
        added: Cells that were counted to the template though they do not look like it.
        known: Cells that tell anything: seen, no card's paper, no glare.
        glare: Cells under glare in every picture that shows them.
        dark: Cells too dark to tell anything in every picture that shows them.
        cell_mm: Side of a cell.
    """
    outside = grown(mask, _FARTHEST) & ~grown(mask, _NEAREST) & known
    inside = eroded(mask, _NEAREST) & ~eroded(mask, _FARTHEST) & known
    least = _FULL * (_FARTHEST - _NEAREST) * _LEAST_MM / cell_mm
    found = []
    for doubt, band, wrong in (
        (Doubt.NO_FLOOR_BESIDE, outside, (score > limit) | strange),
        (Doubt.FLOOR_WITHIN, inside, score < limit),
        (Doubt.GLARE, grown(mask, _FARTHEST - _NEAREST) & ~mask, glare),
        (Doubt.DARK, grown(mask, _FARTHEST) & ~grown(mask, _NEAREST), dark),
    ):
        for window, patch in patches(opened(band & wrong, 1), margin=0):
            if patch.sum() >= least:
                length = float(patch.sum()) / (_FARTHEST - _NEAREST) * cell_mm
                found.append(DoubtfulPlace(doubt, middle_of(window, patch), length))
    for window, patch in patches(added, margin=0):
        width = float(np.sqrt(patch.sum())) * cell_mm
        if width >= _LEAST_MM:
            found.append(DoubtfulPlace(Doubt.ADDED, middle_of(window, patch), width))
    within = opened((score < 0) & known & eroded(mask, _NEAREST + 1), 1)
    for window, patch in patches(within, margin=0):
        width = float(np.sqrt(patch.sum())) * cell_mm
        if width >= _LEAST_HOLE_MM:
            found.append(DoubtfulPlace(Doubt.MAYBE_HOLE, middle_of(window, patch), width))
    for window, patch in patches(opened(glare & eroded(mask, _NEAREST), 1), margin=0):
        width = float(np.sqrt(patch.sum())) * cell_mm
        if width >= _LEAST_HOLE_MM:
            found.append(DoubtfulPlace(Doubt.GLARE_WITHIN, middle_of(window, patch), width))
    like = opened((score > 0) & known & ~grown(mask, _FARTHEST), 3)
    near = grown(mask, round(_STRIP_MM / cell_mm))
    for window, patch in patches(like, margin=0):
        width = float(np.sqrt(patch.sum())) * cell_mm
        if patch.sum() >= _SECOND * mask.sum():
            found.append(DoubtfulPlace(Doubt.SECOND, middle_of(window, patch), width))
        elif width >= _LEAST_MM and near[window][patch].any():
            found.append(DoubtfulPlace(Doubt.CUT_OFF, middle_of(window, patch), width))
    return tuple(found)


def middle_of(window: tuple[slice, slice], patch: Mask) -> tuple[float, float]:
    """The patch's cell nearest to its centroid, so that it lies on the patch."""
    cells = np.argwhere(patch)
    row, column = cells[np.argmin(np.sum((cells - cells.mean(axis=0)) ** 2, axis=1))]
    return float(column + window[1].start), float(row + window[0].start)
