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

from shapecut.trace.colours import (
    ColourModel,
    Histogram,
    coherent_excess,
    colour_bins,
    histogram,
    log_ratio,
)
from shapecut.trace.raster import LaidPhoto, Mask, Points, Raster

__all__ = ["Silhouette", "find_template", "paper_mask"]

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
_PAPER_REACH = 1.6
"""How far a card's paper may reach from a mark's centre, in sides of the mark."""
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


def paper_mask(laid: LaidPhoto, raster: Raster, marks_mm: Sequence[Points]) -> Mask:
    """Cells that show a card's paper.

    Args:
        laid: A picture on the raster.
        raster: The raster.
        marks_mm: (4, 2) corners of each mark of the picture, where the raster shows them.
    """
    paper = np.zeros(raster.shape, np.uint8)
    grey = cv2.cvtColor(laid.rgb, cv2.COLOR_RGB2GRAY)
    spread = laid.rgb.max(axis=2) - laid.rgb.min(axis=2)
    for corners in marks_mm:
        mark = raster.polygon_mask(corners)
        if mark.sum() < 9:
            continue
        black, white = np.percentile(grey[mark], [10, 90])
        contrast = white - black
        whitish = (np.abs(grey - white) < 0.15 * contrast) & (spread < 0.2 * contrast)
        reach = np.zeros(raster.shape, np.uint8)
        centre = raster.cells_from_mm(corners.mean(axis=0)[None])[0]
        side = float(np.hypot(*(corners[1] - corners[0]))) / raster.cell_mm
        cv2.circle(reach, tuple(int(v) for v in np.round(centre)), int(_PAPER_REACH * side), 1, -1)
        near = ((whitish & (reach > 0)) | mark).astype(np.uint8)
        near = cv2.morphologyEx(near, cv2.MORPH_CLOSE, _disc(2))
        paper |= _component_touching(near > 0, mark)
    return cv2.dilate(_filled(paper), _disc(2)).astype(bool)


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
    rim = seen & ~_eroded(seen, _RIM_FRACTION * max(seen.shape))
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
        mask = selected
        around = ~cv2.dilate(mask.astype(np.uint8), _disc(2)).astype(bool)
        templates = [histogram(b[f & mask]) for b, f in zip(bins, free, strict=True)]
        floors = [histogram(b[f & around]) for b, f in zip(bins, free, strict=True)]
    if not any(
        _stands_out(picture.rgb[f & mask], picture.rgb[f & around])
        for picture, f in zip(pictures, free, strict=True)
    ):
        return None
    known = np.logical_or.reduce(free)
    floor = known & around
    limit = _FLOOR_LIKENESS * float(np.median(score[floor])) if floor.any() else 0.0
    mask = _filled_mask(mask | _print_at_edge(mask, known & (score > limit)))
    models = tuple(
        ColourModel(template, ground, limit)
        for template, ground in zip(templates, floors, strict=True)
    )
    return Silhouette(mask, _holes(score, limit, mask), seen, models)


def _stands_out(template: NDArray[np.uint8], floor: NDArray[np.uint8]) -> bool:
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
    opened = cv2.morphologyEx(positive.astype(np.uint8), cv2.MORPH_OPEN, _disc(2))
    count, labels = cv2.connectedComponents(opened)
    shares = np.bincount(labels[middle], minlength=count)
    shares[0] = 0
    if shares.max() == 0:
        return None
    return _filled_mask(labels == int(np.argmax(shares)))


def _print_at_edge(mask: Mask, not_floor: Mask) -> Mask:
    """Patches unlike the floor that the template surrounds for the most part: print at its edge."""
    # Print is wider than the blurred rim between template and floor.
    patches = cv2.morphologyEx((not_floor & ~mask).astype(np.uint8), cv2.MORPH_OPEN, _disc(1))
    count, labels = cv2.connectedComponents(patches)
    added = np.zeros_like(mask)
    for k in range(1, count):
        patch = labels == k
        beside = cv2.dilate(patch.astype(np.uint8), _disc(2)).astype(bool) & ~patch
        if mask[beside].mean() > _SURROUNDED:
            added |= patch
    return added


def _holes(score: NDArray[np.float32], limit: float, mask: Mask) -> Mask:
    """Enclosed patches whose middle looks like the floor outside."""
    patches = ((score < 0) & _eroded(mask, 2)).astype(np.uint8)
    count, labels = cv2.connectedComponents(cv2.morphologyEx(patches, cv2.MORPH_OPEN, _disc(1)))
    holes = [k for k in range(1, count) if float(np.median(score[labels == k])) < limit]
    return np.asarray(np.isin(labels, holes))


def _disc(radius: int) -> NDArray[np.uint8]:
    return np.asarray(
        cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * radius + 1, 2 * radius + 1)), np.uint8
    )


def _eroded(mask: Mask, cells: float) -> Mask:
    padded = np.pad(mask.astype(np.uint8), 1)
    distance = cv2.distanceTransform(padded, cv2.DIST_L2, 3)[1:-1, 1:-1]
    return np.asarray(distance > cells)


def _filled(mask: NDArray[np.uint8]) -> NDArray[np.uint8]:
    outlines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(cv2.drawContours(np.zeros_like(mask), outlines, -1, 1, -1), np.uint8)


def _filled_mask(mask: Mask) -> Mask:
    """Without narrow clefts or enclosed patches."""
    closed = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_CLOSE, _disc(3))
    return _filled(closed.astype(np.uint8)).astype(bool)


def _component_touching(mask: Mask, seed: Mask) -> NDArray[np.uint8]:
    _, labels = cv2.connectedComponents(mask.astype(np.uint8))
    wanted = np.unique(labels[seed & mask])
    return np.isin(labels, wanted[wanted > 0]).astype(np.uint8)
