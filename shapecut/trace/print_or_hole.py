"""Whether what looks like a hole shows the floor, or print of nearly its colour.

A hole shows the floor as it lies all round: its mean colour is one that patches of floor of the
same size have, and it is no plainer than they are.  Single cells say less, since grain, joints and
tiles spread their colours wide.
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
_PLAIN_SHARE = 0.005
"""Share of the patches of floor that are plainer than a patch which is too plain for floor."""
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
    """Whether a patch is unlike the floor in every picture that shows it, or too plain in one.

    Args:
        patch: Its cells, clear of its rim.
        floor: Cells of the floor.
        pictures: As for `perhaps_print`.
        free: As for `perhaps_print`.
    """
    beyond = ~grown(~floor, _WALL_CELLS)
    told = [
        _likeness(picture, clear & patch, clear & beyond)
        for picture, clear in zip(pictures, free, strict=True)
        if int((clear & patch).sum()) >= _LEAST_CELLS
    ]
    if not told:
        return False
    away, plainer = np.array(told).T
    return bool(np.all(away > _UNLIKE) or np.any(plainer < _PLAIN_SHARE))


def _likeness(picture: LaidPhoto, hole: Mask, floor: Mask) -> tuple[float, float]:
    """How far a hole's mean colour is from those of patches of floor; share of them plainer.

    In standard deviations of their mean colours.  How plain they are is told by their tint, which
    light hardly changes.
    """
    lab = cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2LAB).astype(np.float32)
    size = max(3, round(float(np.sqrt(hole.sum()))))
    if not (cv2.blur(floor.astype(np.float32), (size, size)) > _FULL).any():
        return 0.0, 1.0
    means, spreads = _patches_of(lab, floor, size)
    plainer = float(np.mean(spreads < lab[hole].std(axis=0)[1:].max()))
    middle = np.median(means, axis=0)
    away = np.abs(means - middle).max(axis=1)
    means = means[away <= np.quantile(away, _BULK)]
    # One code value of rounding on each axis keeps the covariance of a plain floor regular.
    covariance: NDArray[np.float64] = np.cov(means.T) + np.eye(3)
    gap = lab[hole].mean(axis=0) - middle
    return float(np.sqrt(gap @ np.linalg.solve(covariance, gap))), plainer


def _patches_of(
    lab: NDArray[np.float32], floor: Mask, size: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(N, 3) mean colours of square patches of floor, and (N,) how far their tints spread."""
    box = (size, size)
    share = cv2.blur(floor.astype(np.float32), box)
    full = share > _FULL
    cells = lab * floor[..., None]
    mean, square = (
        (cv2.blur(values, box)[full] / share[full, None]).astype(float)
        for values in (cells, cells * cells)
    )
    thin = slice(None, None, max(1, len(mean) // _MOST_PATCHES))
    spread = np.sqrt(np.maximum(square - mean**2, 0.0))[:, 1:].max(axis=1)
    return mean[thin], spread[thin]
