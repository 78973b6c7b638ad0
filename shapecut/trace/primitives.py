"""Lines and circles fitted to samples, by least squares of distances, with outliers held back."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.raster import Points

__all__ = [
    "CircleFit",
    "LineFit",
    "Primitive",
    "fit_circle",
    "fit_line",
    "huber_weights",
    "scatter_u_mm",
]

Array = NDArray[np.float64]

_ROUNDS = 12
"""Rounds of re-weighting (lines) and of Gauss-Newton with re-weighting (circles)."""
_SETTLED = 1e-4
"""Change of weights, as a fraction, below which re-weighting ends."""
_STILL_MM = 1e-6
"""Step of a circle's centre or radius below which it has settled."""
_HUBER = 1.5
"""Residuals beyond this many standard deviations pull with constant force (P. J. Huber, "Robust
Estimation of a Location Parameter", Ann. Math. Statist. 35, 1964)."""


@dataclass(frozen=True)
class LineFit:
    """An endless line.

    Attributes:
        point: On the line, the samples' mean, mm.
        direction: Unit vector along the ring.
        u_mm: Standard uncertainty of its place across itself.
    """

    point: tuple[float, float]
    direction: tuple[float, float]
    u_mm: float

    def distances(self, points: Points) -> Array:
        """(N,) signed distances, positive to the left."""
        dx, dy = self.direction
        offsets = points - np.array(self.point)
        return np.asarray(dx * offsets[:, 1] - dy * offsets[:, 0])

    def nearest(self, point: Points) -> Points:
        """The point of the line nearest to a (2,) point."""
        along = np.array(self.direction)
        return np.asarray(self.point + along * float((point - self.point) @ along))


@dataclass(frozen=True)
class CircleFit:
    """A circle, gone round in one sense.

    Attributes:
        centre: mm.
        radius: mm.
        ccw: Whether the ring goes round it counter-clockwise.
        u_mm: Standard uncertainty of its place across itself.
    """

    centre: tuple[float, float]
    radius: float
    ccw: bool
    u_mm: float

    def distances(self, points: Points) -> Array:
        """(N,) signed distances, positive to the left of the way round."""
        out = np.hypot(*(points - np.array(self.centre)).T) - self.radius
        return np.asarray(-out if self.ccw else out)

    def nearest(self, point: Points) -> Points:
        """The point of the circle nearest to a (2,) point."""
        spoke = point - np.array(self.centre)
        return np.asarray(self.centre + spoke * (self.radius / max(float(np.hypot(*spoke)), 1e-12)))


Primitive = LineFit | CircleFit


def fit_line(points: Points, sigma_mm: Array) -> LineFit:
    """The line of least weighted squared distances from (N, 2) samples in ring order, N ≥ 2."""
    weights = 1 / sigma_mm**2
    held = weights
    for _ in range(_ROUNDS):
        middle = np.average(points, axis=0, weights=held)
        offsets = points - middle
        scatter = (offsets * held[:, None]).T @ offsets
        direction = np.linalg.eigh(scatter)[1][:, 1]
        residuals = direction[0] * offsets[:, 1] - direction[1] * offsets[:, 0]
        before, held = held, weights * huber_weights(residuals / sigma_mm)
        if np.all(np.abs(held - before) <= _SETTLED * weights):
            break
    if float((points[-1] - points[0]) @ direction) < 0:
        direction = -direction
    return LineFit(_pair(middle), _pair(direction), scatter_u_mm(residuals, held, 2))


def fit_circle(points: Points, sigma_mm: Array) -> CircleFit:
    """The circle of least weighted squared distances from (N, 2) samples in ring order, N ≥ 3.

    Gauss-Newton on geometric distances from Taubin's algebraic start.
    """
    weights = 1 / sigma_mm**2
    centre, radius = _start_circle(points, weights)
    held = weights
    for _ in range(_ROUNDS):
        spokes = points - centre
        lengths = np.maximum(np.hypot(*spokes.T), 1e-12)
        residuals = lengths - radius
        held = weights * huber_weights(residuals / sigma_mm)
        jacobian = np.column_stack([-spokes / lengths[:, None], -np.ones(len(points))])
        root = np.sqrt(held)
        step = np.linalg.lstsq(jacobian * root[:, None], -residuals * root, rcond=None)[0]
        centre, radius = centre + step[:2], radius + step[2]
        if float(np.abs(step).max()) < _STILL_MM:
            break
    residuals = np.hypot(*(points - centre).T) - radius
    a, b = points - centre, np.roll(points, -1, axis=0) - centre
    turn = float(np.sum((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])[:-1]))
    return CircleFit(_pair(centre), float(radius), turn > 0, scatter_u_mm(residuals, held, 3))


def _start_circle(points: Points, weights: Array) -> tuple[Points, float]:
    """Taubin's circle from the generalised eigenproblem of its moments, centred and scaled."""
    middle = np.average(points, axis=0, weights=weights)
    offsets = points - middle
    scale = float(np.sqrt(np.average((offsets**2).sum(axis=1), weights=weights)))
    x, y = (offsets / scale).T
    # With x, y centred and z of mean 1, Taubin's constraint is 4 a² + b² + c² = 1.
    columns = np.column_stack([(x * x + y * y - 1) / 2, x, y]) * np.sqrt(weights)[:, None]
    a, b, c = np.linalg.svd(columns, full_matrices=False)[2][-1]
    a = a / 2 if abs(a) > 1e-9 else 1e-9
    centre = np.array([-b, -c]) / (2 * a)
    return middle + centre * scale, float(np.sqrt(centre @ centre + 1)) * scale


def huber_weights(normalised: Array) -> Array:
    """Huber's weights of normalised residuals."""
    return np.asarray(_HUBER / np.maximum(np.abs(normalised), _HUBER))


def scatter_u_mm(residuals: Array, weights: Array, parameters: int) -> float:
    """Standard uncertainty across a fitted curve of so many parameters, typical along it.

    The residuals of neighbouring samples go together (a hand's wobble), so their effective number
    is taken from the sum of their autocorrelation up to its first zero.
    """
    n = len(residuals)
    mean = float(np.average(residuals, weights=weights))
    centred = residuals - mean
    variance = float(np.average(centred**2, weights=weights))
    if n <= parameters or variance <= 0:
        return 0.0
    lagged = np.correlate(centred, centred, mode="full")[n : n + n // 2]
    correlation = lagged / np.arange(n - 1, n - 1 - len(lagged), -1) / np.mean(centred**2)
    ends = np.flatnonzero(correlation <= 0)
    together = 1 + 2 * float(correlation[: ends[0] if len(ends) else None].sum())
    effective = max(n / together, parameters + 1.0)
    return float(np.sqrt(variance * parameters / effective))


def _pair(vector: Points) -> tuple[float, float]:
    return (float(vector[0]), float(vector[1]))
