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

__all__ = ["may_be_floor", "told_from_print"]

_UNLIKE, _PRINT = 5.0, 8.0
"""Standard deviations of the mean colours of patches of floor from which a patch is unlike them,
and from which it is print."""
_PLAIN_SHARE = 0.005
"""Share of the patches of floor that are plainer than a patch which is too plain for floor."""
_GRAIN_CELLS = 2.0
"""Grain is what lightness shows beside its mean over so many cells."""
_BULK = 0.93
"""Share of the patches of floor, the nearest to their median, that make up its colours."""
_WALL_CELLS = 3
"""Width of a hole's rim where its wall and blur are, cells."""
_LEAST_CELLS = 6
"""Holes with fewer cells inside their rim tell nothing."""
_FULL = 0.9
"""Share of a patch that is floor, at least."""
_LEAST_PATCHES, _MOST_PATCHES = 30, 4000


def told_from_print(
    holes: Mask, template: Mask, pictures: Sequence[LaidPhoto], free: Sequence[Mask], cell_mm: float
) -> tuple[Mask, tuple[DoubtfulPlace, ...]]:
    """The holes without those that are plainly print, and those that may be print.

    Args:
        holes: As found.
        template: The template with its holes filled.
        pictures: In even light, on one raster.
        free: Cells of each picture that neither a card nor glare covers.
        cell_mm: Side of a cell.
    """
    kept, doubtful = holes.copy(), []
    for window, patch in patches(holes, margin=0):
        inner = np.zeros_like(holes)
        inner[window] = eroded(patch, _WALL_CELLS)
        away, plainer = _unlikeness(inner, ~template, pictures, free)
        if away > _PRINT:
            kept[window] &= ~patch
        elif away > _UNLIKE or plainer < _PLAIN_SHARE:
            width = float(np.sqrt(patch.sum())) * cell_mm
            doubtful.append(DoubtfulPlace(Doubt.MAYBE_PRINT, middle_of(window, patch), width))
    return kept, tuple(doubtful)


def may_be_floor(
    patch: Mask, floor: Mask, pictures: Sequence[LaidPhoto], free: Sequence[Mask]
) -> bool:
    """Whether a patch, clear of its rim, looks like the floor in some picture, and plain in none.

    Args:
        patch: Its cells.
        floor: Cells of the floor.
        pictures: As for `told_from_print`.
        free: As for `told_from_print`.
    """
    away, plainer = _unlikeness(patch, floor, pictures, free)
    return away <= _UNLIKE and plainer >= _PLAIN_SHARE


def _unlikeness(
    patch: Mask, floor: Mask, pictures: Sequence[LaidPhoto], free: Sequence[Mask]
) -> tuple[float, float]:
    """How far a patch is from the floor's colours at least, and the least share that is plainer.

    What is unlike the floor is so in every picture that shows it; what is plain may be blurred in
    another.
    """
    beyond = ~grown(~floor, _WALL_CELLS)
    told = [
        _likeness(picture, clear & patch, clear & beyond)
        for picture, clear in zip(pictures, free, strict=True)
        if int((clear & patch).sum()) >= _LEAST_CELLS
    ]
    if not told:
        return 0.0, 1.0
    away, plainer = zip(*told, strict=True)
    return min(away), min(plainer)


def _likeness(picture: LaidPhoto, patch: Mask, floor: Mask) -> tuple[float, float]:
    """How far a patch's mean colour is from those of floor of its shape; share of them plainer.

    In standard deviations of their mean colours.  How plain they are is told by their tint and by
    their grain, which light that changes slowly does not change.
    """
    lab = cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2LAB).astype(np.float32)
    grain = lab[..., :1] - cv2.GaussianBlur(lab[..., 0], (0, 0), _GRAIN_CELLS)[..., None]
    cells = np.concatenate([lab, grain], axis=2)
    means, spreads = _floor_of_shape(cells, floor, patch)
    if len(means) < _LEAST_PATCHES:
        return 0.0, 1.0
    means, own = means[:, :3], cells[patch].std(axis=0)
    plainer = min(
        float(np.mean(spreads[:, 1:3].max(axis=1) < own[1:3].max())),
        float(np.mean(spreads[:, 3] < own[3])),
    )
    middle = np.median(means, axis=0)
    away = np.abs(means - middle).max(axis=1)
    means = means[away <= np.quantile(away, _BULK)]
    # One code value of rounding on each axis keeps the covariance of a plain floor regular.
    covariance: NDArray[np.float64] = np.cov(means.T) + np.eye(3)
    gap = lab[patch].mean(axis=0) - middle
    return float(np.sqrt(gap @ np.linalg.solve(covariance, gap))), plainer


def _floor_of_shape(
    values: NDArray[np.float32], floor: Mask, patch: Mask
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(N, C) means and spreads of the cells' values in pieces of floor as large as a patch.

    They have the patch's shape: a long strip of a chequered floor is never of one colour.
    """
    rows, columns = (slice(at.min(), at.max() + 1) for at in np.nonzero(patch))
    shape = patch[rows, columns].astype(np.float32)

    def over_shape(values: NDArray[np.float32]) -> NDArray[np.float32]:
        total = cv2.filter2D(values, cv2.CV_32F, shape, borderType=cv2.BORDER_CONSTANT)
        return np.asarray(total / shape.sum(), np.float32)

    share = over_shape(floor.astype(np.float32))
    full = share > _FULL
    on_floor = values * floor[..., None]
    mean, square = (
        (over_shape(each)[full] / share[full, None]).astype(float)
        for each in (on_floor, on_floor * on_floor)
    )
    thin = slice(None, None, max(1, len(mean) // _MOST_PATCHES))
    return mean[thin], np.sqrt(np.maximum(square - mean**2, 0.0))[thin]
