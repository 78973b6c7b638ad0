"""One ring of the outline: from rough stations to fitted lines and arcs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve
from shapecut.survey.view import PhotoView
from shapecut.trace.boundary import rough_crossings, sharp_crossings
from shapecut.trace.bridged import Passed, bridged
from shapecut.trace.chain import FittedRing, is_simple, runs_on
from shapecut.trace.fit import fit_ring
from shapecut.trace.partition import Prices
from shapecut.trace.raster import Points
from shapecut.trace.samples import FindCrossings, Pictures, RingSamples, sample_ring
from shapecut.trace.slab import Slab
from shapecut.trace.stations import Stations, stations_along

__all__ = ["OF_TEMPLATE", "Closeness", "EdgeFinders", "TracedRing", "retrace_ring", "trace_ring"]

_LEAST_SAMPLES = 12
"""Fewer samples than this do not make a ring."""
_MOST_STATIONS = 4000
"""Stations round a ring, at most: edges that are not followed well may be of any length."""
_TWICE = 2.0
"""Safety upon the scatter that samples show: neighbours wander together."""
_LOST_SHARE = 0.01
"""Share of a ring's samples that may lie farther from its fit than the boundary is looked for."""
_TURN = 0.6
"""Angle, in rad, over which the cut face in sight hardly changes."""
_LEAST_PART_MM = 25.0
"""Shorter parts of an arc have too few samples to tell by."""
_MANY_NODES = 600
"""Places where edges may begin then."""
_CHEAPER = 30.0
"""Edges cost so many times less then."""


@dataclass(frozen=True)
class Closeness:
    """How closely to look along a ring; none of it depends on the scene.

    Attributes:
        wobble_mm: Standard deviation of a hand's cut about the line it followed; deviations of this
            size are not edges.
        least_wobble_mm: The same of the steadiest hand in scans, and in photographs, in which
            light and print lead whole stretches astray.
        spacing_px: Distance of boundary samples along the outline, in pixels of the picture that
            shows it largest; so far from a corner none is taken either, since the blur of one edge
            reaches into the other there.
        spacing_mm: (least, greatest) that distance may be in the plane.
    """

    wobble_mm: float = 0.3
    least_wobble_mm: tuple[float, float] = (0.05, 0.1)
    spacing_px: float = 6.0
    spacing_mm: tuple[float, float] = (1.0, 3.0)


@dataclass(frozen=True)
class EdgeFinders:
    """How the outline is found across itself.

    Attributes:
        rough: From stations that follow it within a few cells.
        sharp: To a fraction of a pixel, from stations that follow it within a few pixels.
        rounded: Rough samples on each side of a corner that are not to be believed.
        is_step: Whether the outline shows as a step of light, rather than as a line.
    """

    rough: FindCrossings
    sharp: FindCrossings
    rounded: int
    is_step: bool


OF_TEMPLATE = EdgeFinders(rough_crossings, sharp_crossings, rounded=2, is_step=True)
"""For a template that was cut out."""


@dataclass(frozen=True)
class TracedRing:
    """A ring as fitted.

    Attributes:
        fitted: Its curves.
        samples: That they were fitted to.
        passed: Where they run on past something, or might.
    """

    fitted: FittedRing
    samples: RingSamples
    passed: tuple[Passed, ...] = ()


def trace_ring(
    pictures: Pictures,
    slab: Slab,
    rough: Stations,
    cell_mm: float,
    closeness: Closeness,
    finders: EdgeFinders = OF_TEMPLATE,
) -> TracedRing | None:
    """Trace a ring from rough stations; None where hardly any boundary is seen.

    Args:
        pictures: All pictures of the job.
        slab: The template's top face and foot.
        rough: Stations within a few cells of the boundary.
        cell_mm: Side of a cell of the raster they come from.
        closeness: How closely to look.
        finders: What the outline looks like.
    """
    found = sample_ring(pictures, slab, rough, finders.rough, reach_mm=4 * cell_mm, by_colour=True)
    if len(found.places) < _LEAST_SAMPLES:
        return None
    # Rough stations cut corners by a fraction of their spacing, which must not become edges.
    u_mm = np.hypot(found.u_mm, found.shared_u_mm)
    sigma_mm = np.hypot(u_mm, rough.spacing_mm / 4)
    fitted = _followed(found.places, sigma_mm, cell_mm, Prices(rounded=finders.rounded))
    return retrace_ring(pictures, slab, fitted.curves, cell_mm, closeness, finders)


def retrace_ring(
    pictures: Pictures,
    slab: Slab,
    curves: Sequence[Curve],
    cell_mm: float,
    closeness: Closeness,
    finders: EdgeFinders = OF_TEMPLATE,
) -> TracedRing | None:
    """Trace a ring again from its curves.

    Once as from afar, which puts corners and small arcs right, and once sharply, whose samples lean
    on their neighbours along the curves.
    """
    spacing_mm = _spacing(pictures, slab, curves, closeness)
    ring: TracedRing | None = None
    for crossings in (finders.rough, finders.sharp):
        stations = _along(curves, spacing_mm)
        found = sample_ring(
            pictures,
            slab,
            stations,
            crossings,
            reach_mm=1.5 * cell_mm,
            by_colour=crossings is finders.rough,
        )
        if len(found.places) < _LEAST_SAMPLES:
            return None
        wobble_mm = _wobble(pictures, found, closeness)
        sigma_mm = np.hypot(found.u_mm, wobble_mm)
        fitted = _followed(found.places, sigma_mm, cell_mm, Prices())
        passed: tuple[Passed, ...] = ()
        if finders.is_step:
            fitted, found, passed = bridged(fitted, found, sigma_mm, pictures, slab)
        before = [each for each in ring.passed if each.taken] if ring else []
        ring = TracedRing(fitted, found, (*before, *passed))
        curves = fitted.curves
    return ring


def _wobble(pictures: Pictures, found: RingSamples, closeness: Closeness) -> float:
    """Standard deviation to allow for the hand that cut or drew, mm.

    Samples show how steady it was: they scatter about the last fit by little more.
    """
    of_photographs = any(isinstance(view, PhotoView) for view in pictures.views)
    least_mm = closeness.least_wobble_mm[of_photographs]
    # 1.4826: from the median absolute deviation to the standard deviation of a normal law.
    scatter = _TWICE * 1.4826 * float(np.median(np.abs(found.offset_mm)))
    return float(np.clip(scatter, least_mm, closeness.wobble_mm))


def _spacing(
    pictures: Pictures, slab: Slab, curves: Sequence[Curve], closeness: Closeness
) -> float:
    """Distance of stations along a ring, mm."""
    middle: Points = np.mean([curve.at(0.5) for curve in curves], axis=0)
    step = np.column_stack([[middle, middle + np.eye(2)[0]], np.full(2, slab.top_mm)])
    px_per_mm = max(
        float(np.hypot(*np.diff(view.px_from_mm(step), axis=0)[0])) for view in pictures.views
    )
    return float(np.clip(closeness.spacing_px / px_per_mm, *closeness.spacing_mm))


def _along(curves: Sequence[Curve], spacing_mm: float) -> Stations:
    """Stations along curves, clear of their corners.

    Arcs that run into each other smoothly carry one edge.
    """
    spacing_mm = max(spacing_mm, sum(curve.length for curve in curves) / _MOST_STATIONS)
    smooth = [runs_on(curves[k - 1], curve) for k, curve in enumerate(curves)]
    places, tangents, edges, edge = [], [], [], 0
    for k, curve in enumerate(curves):
        first, last = (
            min(spacing_mm * (0.5 if joint else 1.0) / curve.length, 0.3)
            for joint in (smooth[k], smooth[(k + 1) % len(curves)])
        )
        edge += not smooth[k]
        count = max(2, round(curve.length * (1 - first - last) / spacing_mm))
        parts = _parts(curve)
        for fraction in np.linspace(first, 1 - last, count):
            places.append(curve.at(float(fraction)))
            tangents.append(curve.direction(float(fraction)))
            edges.append(edge + min(int(fraction * parts), parts - 1))
        edge += parts - 1
    return stations_along(np.array(places), np.array(tangents), spacing_mm, np.array(edges))


def _parts(curve: Curve) -> int:
    """In how many parts to look at a curve: the cut face in sight changes as an arc turns."""
    turn = abs(curve.sweep_rad) if isinstance(curve, Arc) else 0.0
    return max(1, round(min(turn / _TURN, curve.length / _LEAST_PART_MM)))


def _followed(
    points: Points, sigma_mm: NDArray[np.float64], within_mm: float, prices: Prices
) -> FittedRing:
    """A fit near enough to its samples for the boundary to be found along it.

    The fewest edges may pass by small ones of a shape that has many, or cross each other there;
    edges cost less then.
    """
    fitted = fit_ring(points, sigma_mm, prices)
    sure = sigma_mm < within_mm / 2
    lost = float(np.mean(sure & (np.abs(fitted.residuals_mm) > within_mm)))
    if lost <= _LOST_SHARE and is_simple(fitted.curves):
        return fitted
    cheaper = replace(
        prices, line=prices.line / _CHEAPER, arc=prices.arc / _CHEAPER, nodes=_MANY_NODES
    )
    return fit_ring(points, sigma_mm, cheaper)
