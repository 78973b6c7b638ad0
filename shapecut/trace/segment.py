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

from shapecut.trace.alongside import DoubtfulPlace, doubtful_places
from shapecut.trace.cell_masks import closed, eroded, filled, grown, opened, patches
from shapecut.trace.colours import (
    ColourModel,
    Histogram,
    Shade,
    coherent_excess,
    colour_bins,
    floor_colours,
    histogram,
    log_ratio,
)
from shapecut.trace.glare import Glare, glare
from shapecut.trace.hidden import Hidden
from shapecut.trace.hints import HintMasks
from shapecut.trace.print_at_edge import print_at_edge, with_parts_beyond_print
from shapecut.trace.print_or_hole import may_be_floor, told_from_print
from shapecut.trace.raster import LaidPhoto, Mask
from shapecut.trace.strips import strips_across

__all__ = ["Silhouette", "find_template", "stands_out"]

_ROUNDS = 4
"""Times the colour models are learned again."""
_RIM_FRACTION = 0.05
"""Width of the rim that is taken as floor, as a fraction of the raster's longer side."""
_LEAST_DISTANCE = 3.0
"""Standard deviations of the floor's colours that a template must lie away from their mean; single
planks and tiles lie within 2."""
_BULK = 0.93
"""Share of the floor's cells, the nearest to their median colour, that make up its colours."""
_LEAST_SHARE = 0.004
"""Share of the middle among the cards that a template covers at least."""
_RARE = 3e-6
"""Share of a colour of which less is none."""
_MOSTLY = 0.6
"""Share of a cell's surroundings that is strange for it to be so."""
_TOLD = 4.0
"""Log ratio of what a person says to be template, and against it of what is said to be floor."""
_RIM_CELLS = 2
"""Width of the template's rim where its colours mix with those beside it, cells."""
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
        glares: Mirrored light in each picture.
        hidden: Where cards or glare hide the boundary in each picture.
        doubtful: Places where it may be wrong.
    """

    mask: Mask
    holes: Mask
    seen: Mask
    colours: tuple[ColourModel, ...]
    glares: tuple[Glare, ...] = ()
    hidden: tuple[Hidden, ...] = ()
    doubtful: tuple[DoubtfulPlace, ...] = ()


def find_template(
    pictures: Sequence[LaidPhoto],
    papers: Sequence[Mask],
    middle: Mask,
    *,
    shades: Sequence[Shade],
    hints: HintMasks,
    cell_mm: float,
) -> Silhouette | None:
    """The template's silhouette on the raster, or None where nothing stands out.

    Args:
        pictures: All pictures on one raster, as in even light.
        papers: The cards' paper in each picture.
        middle: Cells among the cards.
        shades: For each picture the light in the shadow of the sun, where it shines.
        hints: Where a person says that the template and the floor are.
        cell_mm: Side of a cell.
    """
    middle = middle & hints.within | hints.template
    seen = np.logical_or.reduce([picture.seen for picture in pictures])
    free = [picture.seen & ~paper for picture, paper in zip(pictures, papers, strict=True)]
    bins = [colour_bins(picture.rgb) for picture in pictures]
    rim = seen & ~eroded(seen, _RIM_FRACTION * max(seen.shape)) | hints.floor
    floors = [
        floor_colours(p.rgb[f & rim], s) for p, f, s in zip(pictures, free, shades, strict=True)
    ]
    first = hints.template if hints.template.any() else middle
    templates = [
        coherent_excess(histogram(b[f & first]), floor)
        for b, f, floor in zip(bins, free, floors, strict=True)
    ]
    strange = _strange(pictures, free, seen & ~middle, shades)
    mask, around, clear = middle, rim, free
    for _ in range(_ROUNDS):
        score = _score(bins, clear, templates, floors)
        score = _as_said(_from_beside(score, _mirroring(free, clear)), hints)
        selected = _select(score > 0, first)
        if selected is None or selected.sum() < _LEAST_SHARE * middle.sum():
            return None
        strange = strange & ~_mirroring(free, clear)
        around = ~grown(selected, 2) & ~strange
        holes = _holes(score, _floor_limit(score, free, around), selected & ~strange)
        mask, around = selected & ~holes, around | holes
        glares = [
            glare(picture, f, f & mask, f & around)
            for picture, f in zip(pictures, free, strict=True)
        ]
        clear = [f & ~found.whole for f, found in zip(free, glares, strict=True)]
        # Print within it counts, but not what touches it, whose colours would creep in.
        core = eroded(mask, _RIM_CELLS)
        templates = [histogram(b[c & core]) for b, c in zip(bins, clear, strict=True)]
        floors = [
            floor_colours(p.rgb[c & around], shade)
            for p, c, shade in zip(pictures, clear, shades, strict=True)
        ]
    if not any(
        stands_out(picture.rgb[f & mask], picture.rgb[f & around])
        for picture, f in zip(pictures, free, strict=True)
    ):
        return None
    mask = filled(mask)
    limit = _floor_limit(score, free, around)
    unlike = np.logical_or.reduce(free) & ((score > limit) | strange)
    mask = with_parts_beyond_print(mask, score > 0, unlike, cell_mm)
    strips, mask = strips_across(
        mask,
        score > 0,
        lambda strip: may_be_floor(eroded(strip, _RIM_CELLS), around, pictures, clear),
        cell_mm,
    )
    added = strips | print_at_edge(mask, unlike)
    mask = filled(closed(mask | added, 3))
    holes = _holes(np.where(strange | grown(strips, _RIM_CELLS), 0, score), limit, mask)
    holes, perhaps = told_from_print(holes, mask, pictures, clear, cell_mm)
    # Print at the very edge belongs to the colours by which the boundary is followed.
    whole = [histogram(b[c & mask & ~holes]) for b, c in zip(bins, clear, strict=True)]
    models = tuple(ColourModel(*pair, limit) for pair in zip(whole, floors, strict=True))
    places = doubtful_places(
        mask & ~holes,
        score,
        limit,
        strange=strange,
        added=added,
        known=np.logical_or.reduce(clear),
        glare=_mirroring(free, clear),
        dark=np.logical_and.reduce([picture.dark | ~picture.seen for picture in pictures]) & seen,
        cell_mm=cell_mm,
    )
    return Silhouette(mask, holes, seen, models, glares=tuple(glares), doubtful=(*places, *perhaps))


def _floor_limit(score: NDArray[np.float32], free: Sequence[Mask], around: Mask) -> float:
    """The score below which a cell looks like the floor."""
    return _FLOOR_LIKENESS * float(np.median(score[np.logical_or.reduce(free) & around]))


def _from_beside(score: NDArray[np.float32], unknown: Mask) -> NDArray[np.float32]:
    """The score with that of the nearest other cell in cells that tell nothing."""
    if not unknown.any():
        return score
    _, labels = cv2.distanceTransformWithLabels(
        unknown.astype(np.uint8), cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL
    )
    known = ~unknown
    beside = np.zeros(int(labels.max()) + 1, np.float32)
    beside[labels[known]] = score[known]
    return np.asarray(beside[labels])


def _strange(
    pictures: Sequence[LaidPhoto], clear: Sequence[Mask], outer: Mask, shades: Sequence[Shade]
) -> Mask:
    """Cells whose colour the floor has in no picture, beyond the cards where it lies bare."""
    rare = np.ones(outer.shape, bool)
    for picture, c, shade in zip(pictures, clear, shades, strict=True):
        if not (c & outer).any():
            return np.zeros_like(outer)
        density = floor_colours(picture.rgb[c & outer], shade).ravel()[colour_bins(picture.rgb)]
        share = cv2.GaussianBlur((density < _RARE).astype(np.float32), (0, 0), _SMOOTHING_CELLS)
        rare &= ~c | (share > _MOSTLY)
    return np.asarray(rare & np.logical_or.reduce(clear))


def _as_said(score: NDArray[np.float32], hints: HintMasks) -> NDArray[np.float32]:
    """The score with what a person says of it."""
    told = np.where(hints.floor | ~hints.within, -_TOLD, score)
    return np.asarray(np.where(hints.template, _TOLD, told), np.float32)


def _mirroring(free: Sequence[Mask], clear: Sequence[Mask]) -> Mask:
    """Cells that every picture which shows them shows under glare."""
    return np.asarray(np.logical_or.reduce(free) & ~np.logical_or.reduce(clear))


def stands_out(template: NDArray[np.uint8], floor: NDArray[np.uint8]) -> bool:
    """Whether the colours of (N, 3) template cells lie outside those of (M, 3) floor cells.

    By the Mahalanobis distance of the template's median in L*, a*, b* from the bulk of the floor's
    colours; its joints are few but far from the rest.
    """
    if len(template) < 2 or len(floor) < 2:
        return False
    template_lab, floor_lab = (
        cv2.cvtColor(cells[None], cv2.COLOR_RGB2LAB)[0].astype(float) for cells in (template, floor)
    )
    away = np.abs(floor_lab - np.median(floor_lab, axis=0)).max(axis=1)
    bulk = floor_lab[away <= np.quantile(away, _BULK)]
    gap = np.median(template_lab, axis=0) - bulk.mean(axis=0)
    # One code value of rounding on each axis keeps the covariance of a plain floor regular.
    covariance = np.cov(bulk.T) + np.eye(3)
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
    """The component of template-like cells that covers most of the middle, or hint, filled."""
    _, labels = cv2.connectedComponents(opened(positive, 2).astype(np.uint8))
    shares = np.bincount(labels[middle], minlength=2)
    shares[0] = 0
    if shares.max() == 0:
        return None
    return filled(closed(labels == int(np.argmax(shares)), 3))


def _holes(score: NDArray[np.float32], limit: float, mask: Mask) -> Mask:
    """Enclosed patches whose middle looks like the floor outside."""
    holes = np.zeros_like(mask)
    for window, patch in patches(opened((score < 0) & eroded(mask, 2), 1), margin=0):
        if float(np.median(score[window][patch])) < limit:
            holes[window] |= patch
    return holes
