"""Stretches that no few lines and arcs explain: a smooth curve, carried as tangent arcs.

Glossary:
    spline: a uniform cubic B-spline fitted to samples by penalised choice of its number of spans.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.biarcs import lines_and_arcs
from shapecut.shape.curves import Curve
from shapecut.trace.primitives import LineFit, huber_weights, scatter_u_mm
from shapecut.trace.raster import Points

__all__ = ["CARRIED_WITHIN_MM", "Spline", "carried_as_arcs", "fit_spline"]

Array = NDArray[np.float64]

CARRIED_WITHIN_MM = 0.1
"""Greatest distance of the arcs from the spline that they carry."""
_LEAST_SPANS = 3
_SPAN_GROWTH = 1.3
"""Numbers of spans tried grow by this factor."""
_BENT = 0.25
"""Part of a span over which a spline is bent to end in a corner."""
_SAMPLES_PER_SPAN = 4
"""Fewer samples do not hold a span."""
_DENSE = 12
"""Places per span at which the arcs' joints are looked for."""
_BASIS = np.array([[1, 4, 1, 0], [-3, 0, 3, 0], [3, -6, 3, 0], [-1, 3, -3, 1]]) / 6
"""Powers of the place within a span to the four control points' shares."""


@dataclass(frozen=True)
class Spline:
    """A curve fitted to samples.

    Attributes:
        control: (spans + 3, 2) control points, or (spans, 2) of a closed one, mm.
        spans: Number of spans; places on it run from 0 to this.
        at: (N,) place of each sample.
        distances_mm: (N,) of each sample, positive to the left.
        u_mm: Standard uncertainty across itself.
    """

    control: Points
    spans: int
    at: Array
    distances_mm: Array
    u_mm: float

    @property
    def closed(self) -> bool:
        """Whether it ends where it begins."""
        return len(self.control) == self.spans

    def points(self, at: Array) -> Points:
        """(M, 2) points at places."""
        return _design(at, self.spans, len(self.control), 0) @ self.control

    def derivatives(self, at: Array) -> Points:
        """(M, 2) derivatives by the place."""
        return np.asarray(_design(at, self.spans, len(self.control), 1) @ self.control)

    def directions(self, at: Array) -> Points:
        """(M, 2) unit tangents at places."""
        along = self.derivatives(at)
        return np.asarray(along / np.maximum(np.hypot(*along.T), 1e-12)[:, None])

    def end(self, *, last: bool) -> LineFit:
        """The tangent at an end, to meet a neighbour."""
        at = np.array([float(self.spans) if last else 0.0])
        (x, y), (dx, dy) = self.points(at)[0], self.directions(at)[0]
        return LineFit((float(x), float(y)), (float(dx), float(dy)), self.u_mm)


def fit_spline(points: Points, sigma_mm: Array, *, knot_price: float, closed: bool) -> Spline:
    """The spline that explains samples with the fewest spans.

    Args:
        points: (N, 2) samples in ring order, N ≥ 12, mm.
        sigma_mm: (N,) standard deviation of each across the boundary.
        knot_price: What one more span costs, in units of chi-square.
        closed: Whether the last sample is followed by the first.
    """
    steps = np.hypot(*np.diff(points, axis=0, append=points[:1] if closed else points[-1:]).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    share = along[:-1] / along[-1]
    best, least = None, np.inf
    spans = float(_LEAST_SPANS + closed)
    while spans <= max(len(points) / _SAMPLES_PER_SPAN, _LEAST_SPANS + 1):
        spline = _fitted(points, sigma_mm, share, int(spans), closed)
        normalised = spline.distances_mm / sigma_mm
        cost = float(np.sum(huber_weights(normalised) * normalised**2))
        cost += knot_price * int(spans)
        if cost < least:
            best, least = spline, cost
        spans = max(spans + 1, spans * _SPAN_GROWTH)
    assert best is not None
    return best


def _fitted(points: Points, sigma_mm: Array, share: Array, spans: int, closed: bool) -> Spline:
    at = share * spans
    count = spans if closed else spans + 3
    design, weights = _design(at, spans, count, 0), 1 / sigma_mm**2
    held = weights
    for _ in range(3):
        weighted = (design * held[:, None]).T
        control = np.linalg.lstsq(weighted @ design, weighted @ points, rcond=None)[0]
        off = points - design @ control
        tangents = _design(at, spans, count, 1) @ control
        tangents /= np.maximum(np.hypot(*tangents.T), 1e-12)[:, None]
        distances = tangents[:, 0] * off[:, 1] - tangents[:, 1] * off[:, 0]
        held = weights * huber_weights(distances / sigma_mm)
    return Spline(np.asarray(control), spans, at, distances, scatter_u_mm(distances, held, count))


def _design(at: Array, spans: int, count: int, derivative: int) -> Array:
    """(M, count) shares of the control points at places, or of their derivative."""
    span = np.clip(at.astype(int), 0, spans - 1)
    t = at - span
    powers = [t**0, t, t**2, t**3] if derivative == 0 else [0 * t, t**0, 2 * t, 3 * t**2]
    design = np.zeros((len(at), count))
    shares = np.stack(powers, axis=1) @ _BASIS
    for k in range(4):
        design[np.arange(len(at)), (span + k) % count] += shares[:, k]
    return design


def carried_as_arcs(
    spline: Spline, start: Points, end: Points
) -> tuple[tuple[Curve, ...], tuple[NDArray[np.intp], ...]]:
    """A chain of tangent arcs within `CARRIED_WITHIN_MM` of a spline.

    Args:
        spline: The curve.
        start: (2,) the corner where the chain begins; on the spline itself if that is closed.
        end: The same of its end.

    Returns:
        The arcs, and the indices of the samples along each.
    """
    chain = lines_and_arcs(
        _Followed(spline, start, end), (0.0, float(spline.spans)), tolerance_mm=CARRIED_WITHIN_MM
    )
    at = np.linspace(0.0, spline.spans, spline.spans * _DENSE + 1)
    places, lasts, low = spline.points(at), [], 0
    for curve in chain[:-1]:
        low += int(np.argmin(np.hypot(*(places[low:] - np.array(curve.end)).T)))
        lasts.append(at[low])
    ends = np.array([-np.inf, *lasts, np.inf])
    index = tuple(
        np.flatnonzero((spline.at > first) & (spline.at <= last)) for first, last in pairwise(ends)
    )
    return chain, index


@dataclass(frozen=True)
class _Followed:
    """A spline bent near its ends, so that it ends in corners."""

    spline: Spline
    start: Points
    end: Points

    def points(self, parameters: Array) -> Points:
        """(N, 2) places in mm."""
        spans = float(self.spline.spans)
        first, last = self.spline.points(np.array([0.0, spans]))
        near_start = np.maximum(1.0 - parameters / _BENT, 0.0)[:, None]
        near_end = np.maximum(1.0 - (spans - parameters) / _BENT, 0.0)[:, None]
        places = self.spline.points(parameters)
        bent = near_start * (self.start - first) + near_end * (self.end - last)
        return np.asarray(places + bent)

    def derivatives(self, parameters: Array) -> Points:
        """(N, 2) derivatives of the places by the parameter."""
        spans = float(self.spline.spans)
        first, last = self.spline.points(np.array([0.0, spans]))
        fading = (parameters < _BENT)[:, None] * (first - self.start) / _BENT
        growing = (parameters > spans - _BENT)[:, None] * (self.end - last) / _BENT
        return np.asarray(self.spline.derivatives(parameters) + fading + growing)
