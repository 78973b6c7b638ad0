"""One ring of the outline: from rough stations to fitted lines and arcs."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.shape.curves import Curve
from shapecut.trace.boundary import rough_crossings, sharp_crossings
from shapecut.trace.fit import FittedRing, fit_ring
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


@dataclass(frozen=True)
class Closeness:
    """How closely to look along a ring; none of it depends on the scene.

    Attributes:
        wobble_mm: Standard deviation of a hand's cut about the line it followed; deviations of this
            size are not edges.
        spacing_px: Distance of boundary samples along the outline, in pixels of the picture that
            shows it largest; so far from a corner none is taken either, since the blur of one edge
            reaches into the other there.
        spacing_mm: (least, greatest) that distance may be in the plane.
    """

    wobble_mm: float = 0.3
    spacing_px: float = 6.0
    spacing_mm: tuple[float, float] = (1.0, 3.0)


@dataclass(frozen=True)
class EdgeFinders:
    """How the outline is found across itself.

    Attributes:
        rough: From stations that follow it within a few cells.
        sharp: To a fraction of a pixel, from stations that follow it within a few pixels.
        rounded: Rough samples on each side of a corner that are not to be believed.
    """

    rough: FindCrossings
    sharp: FindCrossings
    rounded: int


OF_TEMPLATE = EdgeFinders(rough_crossings, sharp_crossings, rounded=2)
"""For a template that was cut out."""


@dataclass(frozen=True)
class TracedRing:
    """A ring as fitted, and the samples it was fitted to."""

    fitted: FittedRing
    samples: RingSamples


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
    found = sample_ring(pictures, slab, rough, finders.rough, reach_mm=4 * cell_mm)
    if len(found.places) < _LEAST_SAMPLES:
        return None
    # Rough stations cut corners by a fraction of their spacing, which must not become edges.
    u_mm = np.hypot(found.u_mm, found.shared_u_mm)
    fitted = fit_ring(
        found.places, np.hypot(u_mm, rough.spacing_mm / 4), Prices(rounded=finders.rounded)
    )
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
    ring = None
    for crossings in (finders.rough, finders.sharp):
        stations = _along(curves, spacing_mm)
        found = sample_ring(pictures, slab, stations, crossings, reach_mm=1.5 * cell_mm)
        if len(found.places) < _LEAST_SAMPLES:
            return None
        u_mm = np.hypot(found.u_mm, found.shared_u_mm)
        ring = TracedRing(fit_ring(found.places, np.hypot(u_mm, closeness.wobble_mm)), found)
        curves = ring.fitted.curves
    return ring


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
    """Stations along curves, clear of their corners."""
    spacing_mm = max(spacing_mm, sum(curve.length for curve in curves) / _MOST_STATIONS)
    places, tangents, edges = [], [], []
    for edge, curve in enumerate(curves):
        clear = min(spacing_mm / curve.length, 0.3)
        count = max(2, round(curve.length * (1 - 2 * clear) / spacing_mm))
        for fraction in np.linspace(clear, 1 - clear, count):
            places.append(curve.at(float(fraction)))
            tangents.append(curve.direction(float(fraction)))
            edges.append(edge)
    return stations_along(np.array(places), np.array(tangents), spacing_mm, np.array(edges))
