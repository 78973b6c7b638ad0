"""Stretches that no few lines and arcs explain: a smooth curve, carried as tangent arcs.

Glossary:
    spline: a uniform cubic B-spline fitted to samples by penalised choice of its number of spans.
    biarc: two arcs tangent to each other that join two points with given tangents there; after
        K. M. Bolton, "Biarc curves", Computer-Aided Design 7(2), 1975, with both tangent lengths
        equal.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve, Line
from shapecut.trace.primitives import LineFit, huber_weights, scatter_u_mm
from shapecut.trace.raster import Points

__all__ = ["CARRIED_WITHIN_MM", "Spline", "carried_as_arcs", "fit_spline"]

Array = NDArray[np.float64]

CARRIED_WITHIN_MM = 0.1
"""Greatest distance of the arcs from the spline that they carry."""
_LEAST_SPANS = 3
_SPAN_GROWTH = 1.3
"""Numbers of spans tried grow by this factor."""
_SAMPLES_PER_SPAN = 4
"""Fewer samples do not hold a span."""
_DENSE = 12
"""Places per span at which the arcs are held against the spline."""
_STEEPEST = math.cos(math.radians(60.0))
"""Cosine of the greatest angle between a biarc's chord and its tangents."""
_STRAIGHT_MM = 1e-3
"""An arc that rises less than this over its chord is a line."""
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

    def directions(self, at: Array) -> Points:
        """(M, 2) unit tangents at places."""
        along = _design(at, self.spans, len(self.control), 1) @ self.control
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
    at = np.linspace(0.0, spline.spans, spline.spans * _DENSE + 1)
    places, tangents = spline.points(at), spline.directions(at)
    places[0], places[-1] = start, end
    arcs: list[tuple[Curve, float]] = []
    low = 0
    while low < len(at) - 1:
        high, curves = _longest(places, tangents, low)
        lasts = [at[high]] * len(curves)
        if len(curves) == 2:
            off = np.hypot(*(places[low : high + 1] - np.array(curves[0].end)).T)
            lasts[0] = at[low + int(np.argmin(off))]
        arcs += zip(curves, lasts, strict=True)
        low = high
    ends = np.array([-np.inf, *(last for _, last in arcs[:-1]), np.inf])
    index = tuple(
        np.flatnonzero((spline.at > first) & (spline.at <= last)) for first, last in pairwise(ends)
    )
    return tuple(curve for curve, _ in arcs), index


def _longest(places: Points, tangents: Points, low: int) -> tuple[int, tuple[Curve, ...]]:
    """The farthest place that a biarc from a place reaches within tolerance, and the biarc.

    Found by bisection, as if a biarc that reaches a place reached all before it.
    """
    chord = Line(_pair(places[low]), _pair(places[low + 1]))
    best: tuple[int, tuple[Curve, ...]] = (low + 1, (chord,))
    good, bad = low, len(places)
    while bad - good > 1:
        high = min((good + bad + 1) // 2, len(places) - 1)
        pair = _biarc(places[low], tangents[low], places[high], tangents[high])
        if pair and _farthest(pair, places[low + 1 : high]) <= CARRIED_WITHIN_MM:
            good, best = high, (high, pair)
        else:
            bad = high
    return best


def _biarc(
    start: Points, start_tangent: Points, end: Points, end_tangent: Points
) -> tuple[Curve, ...] | None:
    """Two tangent curves from point to point; None where the tangents turn too far."""
    chord = end - start
    length = float(np.hypot(*chord))
    if min(float(chord @ start_tangent), float(chord @ end_tangent)) <= _STEEPEST * length:
        return None
    both = start_tangent + end_tangent
    bend = 2 * (1 - float(start_tangent @ end_tangent))
    ahead = float(chord @ both)
    # The equal tangent lengths d solve bend d² + 2 ahead d - |chord|² = 0.
    root = math.sqrt(ahead**2 + bend * length**2)
    d = length**2 / (ahead + root)
    middle = (start + end + d * (start_tangent - end_tangent)) / 2
    return (
        _tangent_curve(start, start_tangent, middle),
        _tangent_curve(middle, (end + d * -end_tangent - middle), end),
    )


def _tangent_curve(start: Points, tangent: Points, end: Points) -> Curve:
    """The arc, or line, that leaves a point along a tangent and ends in another point."""
    chord = end - start
    left = np.array([-tangent[1], tangent[0]]) / max(float(np.hypot(*tangent)), 1e-12)
    squared, across = float(chord @ chord), float(chord @ left)
    if abs(across) < 4 * _STRAIGHT_MM:
        return Line(_pair(start), _pair(end))
    radius = squared / (2 * across)
    return Arc(_pair(start), _pair(end), _pair(start + left * radius), across > 0)


def _farthest(curves: tuple[Curve, ...], points: Points) -> float:
    """Greatest distance of (N, 2) points from the nearest of a few curves."""
    if not len(points):
        return 0.0
    each = [_distances(curve, points) for curve in curves]
    return float(np.min(each, axis=0).max())


def _distances(curve: Curve, points: Points) -> Array:
    """(N,) distances from the endless line or the circle of a curve."""
    if isinstance(curve, Arc):
        return np.asarray(np.abs(np.hypot(*(points - np.array(curve.centre)).T) - curve.radius))
    dx, dy = curve.direction()
    off = points - np.array(curve.start)
    return np.asarray(np.abs(dx * off[:, 1] - dy * off[:, 0]))


def _pair(point: Points) -> tuple[float, float]:
    return (float(point[0]), float(point[1]))
