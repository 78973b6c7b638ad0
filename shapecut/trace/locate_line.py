"""Where among the cards a closed line is drawn, coarsely, and where it has breaks."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import TraceError
from shapecut.findings import Finding, Level, near_pixel
from shapecut.survey.survey import Survey
from shapecut.trace.card_cover import covered_by_cards
from shapecut.trace.closed_line import LARGEST_BREAK_MM, ClosedLine, find_closed_line
from shapecut.trace.colours import ColourModel, colour_bins, histogram
from shapecut.trace.locate import LaidOut, lay_out
from shapecut.trace.raster import Mask, Points, Raster
from shapecut.trace.segment import Silhouette
from shapecut.trace.stations import stations_round
from shapecut.trace.strokes import WIDEST_STROKE_MM, stroke_darkness, thickened

__all__ = ["LocatedLine", "locate_line"]

_CELLS = 2_500_000
"""About how many cells to look in: a pencil line is a fraction of a millimetre wide."""
_LEAST_BREAK_MM, _LEAST_BREAK_CELLS = 2.0, 3.0
"""Breaks shorter than this are the grain of a pencil stroke."""
_OFF_CELLS = 1.5
"""Places of the outline farther than this from every stroke lie in a break, cells."""

_NO_LINE = (
    "No closed line stands out on the sheet; draw round the shape once more with a dark marker,"
    " all the way round, and photograph all of it again."
)


@dataclass(frozen=True)
class LocatedLine:
    """A closed line, coarsely.

    Attributes:
        raster: Where it was looked for.
        silhouette: All within the middle of the line; its colours tell ink from sheet.
        width_mm: Of the stroke, roughly.
        findings: The breaks that were bridged.
    """

    raster: Raster
    silhouette: Silhouette
    width_mm: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Break:
    place: Points
    width_mm: float


def locate_line(
    photos: Sequence[Photo], survey: Survey, sightings: Sequence[Sighting], *, margin: float
) -> LocatedLine:
    """Find the closed line drawn among the cards.

    Args:
        photos: All pictures of the job.
        survey: How they see the plane.
        sightings: The marks seen; their cards are kept out.
        margin: How far beyond the cards to look, as a fraction of their longer extent.

    Raises:
        TraceError: No closed line, or one with a wide break, which is named with its place.
    """
    laid = lay_out(
        [thickened(photo) for photo in photos], survey, sightings, cells=_CELLS, margin=margin
    )
    cards = covered_by_cards(survey, sightings, laid.raster)
    darkness = stroke_darkness(laid.pictures, cards, laid.raster.cell_mm)
    line = find_closed_line(darkness, _seen(laid), laid.middle, cards, laid.raster.cell_mm)
    if line is None:
        raise TraceError(_NO_LINE)
    breaks = _breaks(line, laid.raster)
    wide = [gap for gap in breaks if gap.width_mm > LARGEST_BREAK_MM]
    if wide:
        raise TraceError(_wide_break(max(wide, key=lambda gap: gap.width_mm), photos, survey))
    return LocatedLine(
        laid.raster,
        Silhouette(line.mask, line.holes, _seen(laid), _ink_and_sheet(laid, cards, line)),
        line.width_mm,
        tuple(_bridged(gap, photos, survey) for gap in breaks),
    )


def _seen(laid: LaidOut) -> Mask:
    return np.asarray(np.logical_or.reduce([picture.seen for picture in laid.pictures]))


def _breaks(line: ClosedLine, raster: Raster) -> list[_Break]:
    """Stretches of the outer ring that lie off every stroke."""
    ring = stations_round(line.mask, raster, hole=False)[0]
    distance = cv2.distanceTransform((~line.strokes).astype(np.uint8), cv2.DIST_L2, 5)
    column, row = np.round(raster.cells_from_mm(ring.places)).astype(int).T
    off = distance[row, column] > _OFF_CELLS
    least = max(_LEAST_BREAK_MM, _LEAST_BREAK_CELLS * raster.cell_mm)
    breaks = []
    for run in _runs(off):
        first, last = ring.places[run[[0, -1]]]
        width = float(np.hypot(*(last - first))) + 2 * _OFF_CELLS * raster.cell_mm
        if width >= least:
            breaks.append(_Break((first + last) / 2, width))
    return breaks


def _runs(flags: NDArray[np.bool_]) -> list[NDArray[np.intp]]:
    """Indices of each stretch of a ring where the flags are up."""
    if flags.all() or not flags.any():
        return [np.flatnonzero(flags)] if flags.any() else []
    first = int(np.argmin(flags))
    order = (first + np.arange(len(flags))) % len(flags)
    up = np.flatnonzero(flags[order])
    return [order[run] for run in np.split(up, np.flatnonzero(np.diff(up) > 1) + 1)]


def _ink_and_sheet(laid: LaidOut, cards: Mask, line: ClosedLine) -> tuple[ColourModel, ...]:
    """What each picture's colours say about ink and the sheet beside it."""
    size = 2 * round(WIDEST_STROKE_MM / laid.raster.cell_mm / 2) + 1
    rim = cv2.morphologyEx(
        line.mask.astype(np.uint8), cv2.MORPH_GRADIENT, np.ones((size, size), np.uint8)
    ).astype(bool)
    models = []
    for picture in laid.pictures:
        bins, free = colour_bins(picture.rgb), picture.seen & ~cards & rim
        ink, sheet = histogram(bins[free & line.strokes]), histogram(bins[free & ~line.strokes])
        models.append(ColourModel(ink, sheet, 0.0))
    return tuple(models)


def _place(gap: _Break, photos: Sequence[Photo], survey: Survey) -> str:
    """Where a person finds a break: the picture that shows it nearest to its middle."""
    raised = np.append(gap.place, survey.height_mm)[None]
    off_middle = []
    for view in survey.views:
        px = view.px_from_mm(raised)[0]
        half = np.array(photos[view.photo].size) / 2
        off_middle.append((float(np.abs(px / half - 1).max()), photos[view.photo].name, px))
    _, name, (x, y) = min(off_middle, key=lambda seen: seen[0])
    return near_pixel(name, x, y)


def _wide_break(gap: _Break, photos: Sequence[Photo], survey: Survey) -> str:
    return (
        f"{_place(gap, photos, survey)}: the drawn line has a break of about {gap.width_mm:.0f} mm,"
        f" more than the {LARGEST_BREAK_MM:.0f} mm that are bridged; draw the line through, or take"
        " away what covers it."
    )


def _bridged(gap: _Break, photos: Sequence[Photo], survey: Survey) -> Finding:
    return Finding(
        Level.CHECK,
        _place(gap, photos, survey),
        f"The drawn line has a break of about {gap.width_mm:.0f} mm; it was bridged.",
        "Look at the place; if the outline does something else there, draw it and photograph it"
        " again.",
    )
