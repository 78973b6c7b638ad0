"""Find the template among the cards: which cells of the raster are template, floor or card.

Two colour models (template and floor) are learned from the pictures themselves.  The floor is seen
along the rim of what the pictures show, because a template must not touch the frame; the template
is the coherent colour that the middle among the cards has more of than the rim.  Both models are
then learned again from what they select, with enclosed print counted as template.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.cell_masks import closed, eroded, filled, grown, opened, patches
from shapecut.trace.colours import (
    ColourModel,
    Histogram,
    coherent_excess,
    colour_bins,
    histogram,
    log_ratio,
)
from shapecut.trace.raster import LaidPhoto, Mask

__all__ = ["Silhouette", "find_template", "stands_out"]

_ROUNDS = 4
"""Times the colour models are learned again."""
_RIM_FRACTION = 0.05
"""Width of the rim that is taken as floor, as a fraction of the raster's longer side."""
_LEAST_DISTANCE = 3.0
"""Standard deviations of the floor's colours that a template must lie away from their mean; single
planks and tiles lie within 2."""
_SURROUNDED = 0.4
"""Share of a patch's surroundings that is template for it to be print at the template's edge."""
_SMOOTHING_CELLS = 1.5
"""Standard deviation of the smoothing of the log ratio, cells."""
_LEAST_WEIGHT = 0.3
"""Cells with less seen around them than this are left undecided."""
_FLOOR_LIKENESS = 0.6
"""What looks like floor at least this much, by its log ratio over that of the floor itself, is
floor; less is print or tape when it lies within the template or joins it."""


@dataclass(frozen=True)
class Silhouette:
    """Where the template is, coarsely.

    Attributes:
        mask: Filled template, cells.
        holes: Cells of floor seen through it, one mask for all.
        seen: Cells that any picture shows.
        colours: What each picture's colours say, in the order of the pictures.
    """

    mask: Mask
    holes: Mask
    seen: Mask
    colours: tuple[ColourModel, ...]


def find_template(
    pictures: Sequence[LaidPhoto], papers: Sequence[Mask], middle: Mask
) -> Silhouette | None:
    """The template's silhouette on the raster, or None where nothing stands out.

    Args:
        pictures: All pictures on one raster.
        papers: The cards' paper in each picture.
        middle: Cells among the cards.
    """
    seen = np.logical_or.reduce([picture.seen for picture in pictures])
    free = [picture.seen & ~paper for picture, paper in zip(pictures, papers, strict=True)]
    bins = [colour_bins(picture.rgb) for picture in pictures]
    rim = seen & ~eroded(seen, _RIM_FRACTION * max(seen.shape))
    floors = [histogram(b[f & rim]) for b, f in zip(bins, free, strict=True)]
    templates = [
        coherent_excess(histogram(b[f & middle]), floor)
        for b, f, floor in zip(bins, free, floors, strict=True)
    ]
    mask, around = middle, rim
    for _ in range(_ROUNDS):
        score = _score(bins, free, templates, floors)
        selected = _select(score > 0, middle)
        if selected is None:
            return None
        mask, around = selected, ~grown(selected, 2)
        templates = [histogram(b[f & mask]) for b, f in zip(bins, free, strict=True)]
        floors = [histogram(b[f & around]) for b, f in zip(bins, free, strict=True)]
    if not any(
        stands_out(picture.rgb[f & mask], picture.rgb[f & around])
        for picture, f in zip(pictures, free, strict=True)
    ):
        return None
    known = np.logical_or.reduce(free)
    limit = _FLOOR_LIKENESS * float(np.median(score[known & around]))
    mask = filled(closed(mask | _print_at_edge(mask, known & (score > limit)), 3))
    models = tuple(ColourModel(*pair, limit) for pair in zip(templates, floors, strict=True))
    return Silhouette(mask, _holes(score, limit, mask), seen, models)


def stands_out(template: NDArray[np.uint8], floor: NDArray[np.uint8]) -> bool:
    """Whether the colours of (N, 3) template cells lie outside those of (M, 3) floor cells.

    By the Mahalanobis distance of the template's median in L*, a*, b* from the floor's colours.
    """
    if len(template) < 2 or len(floor) < 2:
        return False
    template_lab, floor_lab = (
        cv2.cvtColor(cells[None], cv2.COLOR_RGB2LAB)[0].astype(float) for cells in (template, floor)
    )
    gap = np.median(template_lab, axis=0) - floor_lab.mean(axis=0)
    # One code value of rounding on each axis keeps the covariance of a plain floor regular.
    covariance = np.cov(floor_lab.T) + np.eye(3)
    return float(gap @ np.linalg.solve(covariance, gap)) > _LEAST_DISTANCE**2


def _score(
    bins: Sequence[NDArray[np.intp]],
    free: Sequence[Mask],
    templates: Sequence[Histogram],
    floors: Sequence[Histogram],
) -> NDArray[np.float32]:
    """Mean log ratio over the pictures, smoothed; unseen cells take their surroundings' opinion."""
    total = np.zeros(bins[0].shape, np.float32)
    weight = np.zeros(bins[0].shape, np.float32)
    for b, f, template, floor in zip(bins, free, templates, floors, strict=True):
        total += np.where(f, log_ratio(b, template, floor), 0)
        weight += f
    near = cv2.GaussianBlur(weight, (0, 0), _SMOOTHING_CELLS)
    return np.asarray(
        cv2.GaussianBlur(total, (0, 0), _SMOOTHING_CELLS) / np.maximum(near, _LEAST_WEIGHT)
    )


def _select(positive: Mask, middle: Mask) -> Mask | None:
    """The component of template-like cells that covers most of the middle, filled."""
    _, labels = cv2.connectedComponents(opened(positive, 2).astype(np.uint8))
    shares = np.bincount(labels[middle], minlength=2)
    shares[0] = 0
    if shares.max() == 0:
        return None
    return filled(closed(labels == int(np.argmax(shares)), 3))


def _print_at_edge(mask: Mask, not_floor: Mask) -> Mask:
    """Patches unlike the floor that the template surrounds for the most part: print at its edge."""
    added = np.zeros_like(mask)
    # Print is wider than the blurred rim between template and floor.
    for window, patch in patches(opened(not_floor & ~mask, 1), margin=2):
        beside = grown(patch, 2) & ~patch
        if mask[window][beside].mean() > _SURROUNDED:
            added[window] |= patch
    return added


def _holes(score: NDArray[np.float32], limit: float, mask: Mask) -> Mask:
    """Enclosed patches whose middle looks like the floor outside."""
    holes = np.zeros_like(mask)
    for window, patch in patches(opened((score < 0) & eroded(mask, 2), 1), margin=0):
        if float(np.median(score[window][patch])) < limit:
            holes[window] |= patch
    return holes
