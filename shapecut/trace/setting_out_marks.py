"""Find what a person marked on the template with a dark marker: crosses, lines and arrows.

Patches of dark strokes are looked for on a raster over the template; those that draw a figure are
then measured in the photographs as taken, each stroke by the middle of its profiles, as a drawn
outline is.  All else (print, logos, letters, stains) is counted and left out.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.sighting import Sighting
from shapecut.findings import Finding, Level
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Point
from shapecut.shape.setting_out import SetArrow, SetLine, SetPoint, SettingOut, setting_out
from shapecut.survey.survey import Survey
from shapecut.trace.card_cover import covered_by_cards
from shapecut.trace.cell_masks import eroded, patches
from shapecut.trace.drawn import LineSide
from shapecut.trace.line_profile import of_line
from shapecut.trace.primitives import LineFit, fit_line
from shapecut.trace.raster import Mask, Points, Raster, lay_photo
from shapecut.trace.samples import Pictures, sample_ring
from shapecut.trace.slab import Slab
from shapecut.trace.stations import stations_along
from shapecut.trace.stroke_figures import Figure, Kind, figure_of
from shapecut.trace.strokes import stroke_darkness, thickened

__all__ = ["find_setting_out"]

_CELLS = 2_500_000
"""About how many cells to look in."""
_MARGIN_MM = 4.0
"""Strokes nearer to the template's edge than this are not looked at: there it casts shadows."""
_DARK = 45.0
"""How much darker than the template a marker's stroke is at least, in code values."""
_LEAST_MM = 10.0
"""Patches smaller than this both ways are specks."""
_STATIONS = 32
"""Places along a stroke where it is measured."""
_ENDS = 0.1
"""Share of a stroke's length at each end that is not measured, since its ends are round."""
_LEAST_SEEN = 0.4
"""Share of those places that must show the stroke."""
_LETTERS, _APART = 0.3, 1.6
"""Crosses beside another patch are letters if that is as large within this share, and its middle
no farther than this many times their size."""


def find_setting_out(
    pictures: Pictures,
    survey: Survey,
    sightings: Sequence[Sighting],
    outline: Outline,
    slab: Slab,
) -> tuple[SettingOut, tuple[Finding, ...]]:
    """The marks within an outline, and how many dark patches are none.

    Args:
        pictures: All pictures of the job.
        survey: How they see the plane.
        sightings: The marks of the cards, which may lie on the template.
        outline: Of the template, traced.
        slab: As measured.
    """
    corners = np.concatenate([edge.curve.flattened(1.0) for edge in outline.outer.edges])
    raster = Raster.over(corners, margin=0.0, cells=_CELLS)
    strokes = _dark_strokes(pictures, slab, raster, covered_by_cards(survey, sightings, raster))
    strokes &= _within(outline, raster)
    found: list[tuple[tuple[slice, slice], Figure]] = []
    others: list[tuple[slice, slice]] = []
    for window, patch in patches(strokes, margin=0):
        if max(patch.shape) * raster.cell_mm < _LEAST_MM:
            continue
        figure = figure_of(patch, raster.cell_mm)
        if figure is None:
            others.append(window)
        else:
            found.append((window, figure))
    points, lines, arrows = [], [], []
    for window, figure in found:
        at = np.array([window[1].start, window[0].start], float)
        placed = replace(figure, strokes=raster.mm_from_cells(figure.strokes + at))
        fits = [
            _measured(pictures, slab, stroke, figure.width * raster.cell_mm)
            for stroke in placed.strokes
        ]
        letter = figure.kind is Kind.CROSS and _among_letters(window, others)
        if letter or any(fit is None for fit in fits):
            others.append(window)
            continue
        lines_fitted = [fit for fit in fits if fit is not None]
        u_mm = math.hypot(max(fit.u_mm for fit in lines_fitted), survey.point_u_mm)
        if figure.kind is Kind.CROSS:
            points.append(SetPoint("", _crossing(*lines_fitted), u_mm))
            continue
        start, end = (_on(lines_fitted[0], place) for place in placed.strokes[0])
        if figure.kind is Kind.LINE:
            lines.append(SetLine("", start, end, u_mm))
        else:
            arrows.append(SetArrow("", start, end, u_mm))
    return setting_out(points, lines, arrows), _left_out(len(others))


def _dark_strokes(pictures: Pictures, slab: Slab, raster: Raster, cards: Mask) -> Mask:
    laid = [
        lay_photo(thickened(pictures.photos[view.photo]), view, raster, height_mm=slab.top_mm)
        for view in pictures.views
    ]
    return np.asarray(stroke_darkness(laid, cards, raster.cell_mm) > _DARK)


def _within(outline: Outline, raster: Raster) -> Mask:
    """Cells well inside the outline."""
    outer, *holes = (
        raster.polygon_mask(np.concatenate([edge.curve.flattened(0.5) for edge in ring.edges]))
        for ring in outline.rings
    )
    for hole in holes:
        outer &= ~hole
    return eroded(outer, _MARGIN_MM / raster.cell_mm)


def _measured(pictures: Pictures, slab: Slab, stroke: Points, width_mm: float) -> LineFit | None:
    """The line along the middle of a stroke (2, 2) mm, or None where it is hardly seen."""
    way = stroke[1] - stroke[0]
    length = float(np.hypot(*way))
    shares = np.linspace(_ENDS, 1 - _ENDS, _STATIONS)[:, None]
    spacing = length * (1 - 2 * _ENDS) / (_STATIONS - 1)
    along = np.tile(way / length, (_STATIONS, 1))
    stations = stations_along(stroke[0] + shares * way, along, min(spacing, width_mm))
    finders = of_line(LineSide.CENTRE, hole=False)
    found = sample_ring(pictures, slab, stations, finders.sharp, reach_mm=2 * width_mm)
    if len(found.places) < _LEAST_SEEN * _STATIONS:
        return None
    fit = fit_line(found.places, found.u_mm)
    shared = float(np.sqrt(np.mean(found.shared_u_mm**2)))
    tilted = float(np.mean(np.abs(found.per_thickness))) * slab.top_u_mm
    return replace(fit, u_mm=math.hypot(fit.u_mm, shared, tilted))


def _crossing(first: LineFit, second: LineFit) -> Point:
    a, b = np.array(first.direction), np.array(second.direction)
    between = np.array(second.point) - np.array(first.point)
    share = np.linalg.solve(np.column_stack([a, -b]), between)[0]
    x, y = np.array(first.point) + share * a
    return (float(x), float(y))


def _on(line: LineFit, place: Points) -> Point:
    x, y = line.nearest(place)
    return (float(x), float(y))


def _among_letters(window: tuple[slice, slice], others: Sequence[tuple[slice, slice]]) -> bool:
    """Whether a patch of about the same size stands beside a patch."""
    size, middle = _size_and_middle(window)
    for other in others:
        other_size, other_middle = _size_and_middle(other)
        alike = abs(other_size / size - 1) < _LETTERS
        if alike and float(np.hypot(*(other_middle - middle))) < _APART * size:
            return True
    return False


def _size_and_middle(window: tuple[slice, slice]) -> tuple[float, NDArray[np.float64]]:
    low = np.array([part.start for part in window], float)
    high = np.array([part.stop for part in window], float)
    return float((high - low).max()), (low + high) / 2


def _left_out(count: int) -> tuple[Finding, ...]:
    if not count:
        return ()
    patches_say = "dark patch" if count == 1 else "dark patches"
    return (
        Finding(
            Level.NOTE,
            "marks on the template",
            f"{count} {patches_say} on the template are neither cross, line nor arrow and were"
            " left out (print or letters).",
        ),
    )
