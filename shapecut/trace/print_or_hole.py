"""Whether what looks like a hole shows the floor, or print of nearly its colour.

A hole shows the floor as it lies all round: its mean colour is one that patches of floor of the
same size have.  Single cells say less, since grain, joints and tiles spread their colours wide.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.alongside import Doubt, DoubtfulPlace, middle_of
from shapecut.trace.cell_masks import eroded, grown, patches
from shapecut.trace.raster import LaidPhoto, Mask

__all__ = ["perhaps_print", "unlike_floor"]

_UNLIKE = 5.0
"""Standard deviations of the mean colours of patches of floor from which a patch is unlike them."""
_BULK = 0.93
"""Share of the patches of floor, the nearest to their median, that make up its colours."""
_WALL_CELLS = 3
"""Width of a hole's rim where its wall and blur are, cells."""
_LEAST_CELLS = 6
"""Holes with fewer cells inside their rim tell nothing."""
_FULL = 0.9
"""Share of a patch that is floor, at least."""
_MOST_PATCHES = 4000


def perhaps_print(
    holes: Mask, template: Mask, pictures: Sequence[LaidPhoto], free: Sequence[Mask], cell_mm: float
) -> tuple[DoubtfulPlace, ...]:
    """Holes that are unlike the floor in every picture that shows them.

    Args:
        holes: As found.
        template: The template with its holes filled.
        pictures: In even light, on one raster.
        free: Cells of each picture that neither a card nor glare covers.
        cell_mm: Side of a cell.
    """
    found = []
    for window, patch in patches(holes, margin=0):
        inner = np.zeros_like(holes)
        inner[window] = eroded(patch, _WALL_CELLS)
        if unlike_floor(inner, ~template, pictures, free):
            width = float(np.sqrt(patch.sum())) * cell_mm
            found.append(DoubtfulPlace(Doubt.MAYBE_PRINT, middle_of(window, patch), width))
    return tuple(found)


def unlike_floor(
    patch: Mask, floor: Mask, pictures: Sequence[LaidPhoto], free: Sequence[Mask]
) -> bool:
    """Whether a patch is unlike the floor in every picture that shows it.

    Args:
        patch: Its cells, clear of its rim.
        floor: Cells of the floor.
        pictures: As for `perhaps_print`.
        free: As for `perhaps_print`.
    """
    beyond = ~grown(~floor, _WALL_CELLS)
    told = [
        _is_unlike(picture, clear & patch, clear & beyond)
        for picture, clear in zip(pictures, free, strict=True)
        if int((clear & patch).sum()) >= _LEAST_CELLS
    ]
    return bool(told) and all(told)


def _is_unlike(picture: LaidPhoto, hole: Mask, floor: Mask) -> bool:
    lab = cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2LAB).astype(np.float32)
    size = max(3, round(float(np.sqrt(hole.sum()))))
    share = cv2.blur(floor.astype(np.float32), (size, size))
    full = share > _FULL
    if not full.any():
        return False
    means = (cv2.blur(lab * floor[..., None], (size, size)) / np.maximum(share, 1e-3)[..., None])[
        full
    ]
    means = means[:: max(1, len(means) // _MOST_PATCHES)].astype(float)
    middle = np.median(means, axis=0)
    away = np.abs(means - middle).max(axis=1)
    means = means[away <= np.quantile(away, _BULK)]
    # One code value of rounding on each axis keeps the covariance of a plain floor regular.
    covariance: NDArray[np.float64] = np.cov(means.T) + np.eye(3)
    gap = lab[hole].mean(axis=0) - middle
    return float(gap @ np.linalg.solve(covariance, gap)) > _UNLIKE**2
