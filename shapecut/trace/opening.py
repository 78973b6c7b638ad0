"""Find an opening in a frame: what lies within the frame's face and does not look like it.

The frame's face is what the cards lie on, so its colours are learned round them; those of the
opening (its walls, whatever lies below, shadows) may be anything else, and are learned from what
the frame does not explain.  Both models are then learned again from what they select.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.cell_masks import closed, eroded, filled, grown, opened
from shapecut.trace.colours import (
    ColourModel,
    Histogram,
    colour_bins,
    histogram,
    log_ratio,
)
from shapecut.trace.raster import LaidPhoto, Mask
from shapecut.trace.segment import Silhouette, stands_out

__all__ = ["find_opening"]

_BESIDE_MM = 20.0
"""How far round a card the frame's face is looked at; frames of 38 mm timber have no more."""
_RARE = 0.25
"""Colours beside the cards less frequent than this share of the most frequent one may be the
opening's, where a card lies at its rim, and are not the frame's."""
_DEEP = 0.5
"""Cells deeper among the cards than this share of the deepest surely lie in the opening."""
_ROUNDS = 3
"""Times the colour models are learned again."""
_SMOOTHING_CELLS = 1.0
"""Standard deviation of the smoothing of the log ratio, cells."""
_LEAST_SHARE = 0.02
"""Openings of less than this share of the room among the cards are not looked for."""


def find_opening(
    pictures: Sequence[LaidPhoto], papers: Sequence[Mask], middle: Mask, cell_mm: float
) -> Silhouette | None:
    """The opening on the raster, or None where nothing among the cards differs from the frame.

    Args:
        pictures: All pictures on one raster.
        papers: The cards' paper in each picture.
        middle: Cells among the cards.
        cell_mm: Side of a cell.
    """
    beside = max(2, round(_BESIDE_MM / cell_mm))
    seen = np.logical_or.reduce([picture.seen for picture in pictures])
    cards = np.logical_or.reduce(papers)
    free = [
        picture.seen & ~grown(paper, 2) for picture, paper in zip(pictures, papers, strict=True)
    ]
    bins = [colour_bins(picture.rgb) for picture in pictures]
    depth = cv2.distanceTransform(middle.astype(np.uint8), cv2.DIST_L2, 5)
    deep = (depth > _DEEP * depth.max()) & ~cards
    inside = [histogram(b[f & deep]) for b, f in zip(bins, free, strict=True)]
    near_cards = grown(cards, beside) & ~deep
    frames = [_frequent(histogram(b[f & near_cards])) for b, f in zip(bins, free, strict=True)]
    mask: Mask | None = None
    for _ in range(_ROUNDS):
        mask = _select(_unlike_frame(bins, free, inside, frames) > 0, middle & ~cards)
        if mask is None:
            return None
        around = near_cards & ~grown(mask, 2)
        inside = [histogram(b[f & mask]) for b, f in zip(bins, free, strict=True)]
        frames = [_frequent(histogram(b[f & around])) for b, f in zip(bins, free, strict=True)]
    if mask is None or mask.sum() < _LEAST_SHARE * middle.sum():
        return None
    if not any(
        stands_out(picture.rgb[f & mask], picture.rgb[f & around])
        for picture, f in zip(pictures, free, strict=True)
    ):
        return None
    models = tuple(
        ColourModel(within, frame, 0.0) for within, frame in zip(inside, frames, strict=True)
    )
    return Silhouette(mask, np.zeros_like(mask), seen, models)


def _frequent(colours: Histogram) -> Histogram:
    """The histogram without its rare colours."""
    kept = np.where(colours >= _RARE * colours.max(), colours, 0.0)
    return np.asarray(kept / max(float(kept.sum()), 1e-12))


def _unlike_frame(
    bins: Sequence[NDArray[np.intp]],
    free: Sequence[Mask],
    inside: Sequence[Histogram],
    frames: Sequence[Histogram],
) -> NDArray[np.float32]:
    """Log ratio of opening against frame in the picture that is surest of the opening.

    No line of sight through the opening ends on the frame's face: where one picture shows something
    else, there is no face, even if a wall looks like it in another.  What neither model knows is
    opening.
    """
    surest = np.full(bins[0].shape, -np.inf, np.float32)
    for b, f, within, frame in zip(bins, free, inside, frames, strict=True):
        ratio = cv2.GaussianBlur(-log_ratio(b, frame, within), (0, 0), _SMOOTHING_CELLS)
        surest = np.where(f, np.maximum(surest, ratio), surest)
    return np.where(np.isfinite(surest), surest, 0).astype(np.float32)


def _select(unlike: Mask, middle: Mask) -> Mask | None:
    """The component of cells unlike the frame that covers most of the middle, filled."""
    _, labels = cv2.connectedComponents(opened(unlike, 2).astype(np.uint8))
    shares = np.bincount(labels[eroded(middle, 2)], minlength=2)
    shares[0] = 0
    if shares.max() == 0:
        return None
    return filled(closed(labels == int(np.argmax(shares)), 3))
