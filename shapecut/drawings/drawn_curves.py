"""Arcs of ellipses and circles under any affine map, and Bézier curves: what drawings hold."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.drawings.affine import Affine
from shapecut.shape.biarcs import lines_and_arcs, refuse_out_of_reach
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point

__all__ = ["Bezier", "DrawnCurve", "EllipticArc"]

Array = NDArray[np.float64]

ROUND_MM = 1e-3
"""An ellipse whose half axes differ by less is a circle, mm."""

FULL_TURN_RAD = math.tau - 1e-6
"""From this sweep on an arc is a whole ellipse."""


@dataclass(frozen=True)
class EllipticArc:
    """centre + cos(t) u + sin(t) v for t from `start_rad` through `sweep_rad`.

    Attributes:
        centre: Of the ellipse.
        u: One of two conjugate half diameters; (r, 0) for a circle.
        v: The other; (0, r) for a circle.
        start_rad: Parameter of the first point.
        sweep_rad: How far the parameter runs, either way, at most a full turn.
    """

    centre: Point
    u: Point
    v: Point
    start_rad: float = 0.0
    sweep_rad: float = math.tau

    def mapped(self, affine: Affine) -> "EllipticArc":
        """The arc under an affine map."""
        return EllipticArc(
            affine.point(self.centre),
            affine.vector(self.u),
            affine.vector(self.v),
            self.start_rad,
            self.sweep_rad,
        )

    def points(self, parameters: Array) -> Array:
        """(N, 2) places at (N,) parameters."""
        return np.asarray(
            self.centre
            + np.outer(np.cos(parameters), self.u)
            + np.outer(np.sin(parameters), self.v)
        )

    def derivatives(self, parameters: Array) -> Array:
        """(N, 2) derivatives in the sense in which the arc runs."""
        sign = math.copysign(1.0, self.sweep_rad)
        along = np.outer(np.cos(parameters), self.v) - np.outer(np.sin(parameters), self.u)
        return np.asarray(sign * along)

    def curves(self) -> tuple[Curve, ...]:
        """Lines and arcs within `FREEFORM_MM` of the shape; a circle stays arcs exactly.

        Raises:
            ShapeError: An ellipse that is no numbers, or out of all reach.
        """
        run = self.start_rad + self.sweep_rad * np.linspace(0.0, 1.0, 5)
        refuse_out_of_reach(self.points(run))
        axes = np.linalg.svd(np.array([self.u, self.v]), compute_uv=False)
        if axes[0] - axes[1] <= ROUND_MM:
            return self._circular()
        return lines_and_arcs(_Forward(self), self._breaks())

    def _circular(self) -> tuple[Curve, ...]:
        count = 2 if abs(self.sweep_rad) >= FULL_TURN_RAD else 1
        angles = self.start_rad + self.sweep_rad * np.linspace(0.0, 1.0, count + 1)
        places = [(float(x), float(y)) for x, y in self.points(angles)]
        if count == 2:
            places[2] = places[0]
        turn = self.u[0] * self.v[1] - self.u[1] * self.v[0]
        ccw = turn * self.sweep_rad > 0
        return tuple(
            Arc(places[k], places[k + 1], self.centre, ccw)
            for k in range(count)
            if places[k] != places[k + 1]
        )

    def _breaks(self) -> list[float]:
        """Parameters run through, from 0: both ends, and the ends of the axes between them."""
        (ux, uy), (vx, vy) = self.u, self.v
        axis = math.atan2(2 * (ux * vx + uy * vy), ux * ux + uy * uy - vx * vx - vy * vy) / 2
        quarter = math.pi / 2
        total = abs(self.sweep_rad)
        sign = math.copysign(1.0, self.sweep_rad)
        first = (sign * (axis - self.start_rad)) % quarter
        inner = [first + k * quarter for k in range(5) if 0 < first + k * quarter < total]
        return [0.0, *inner, total]


@dataclass(frozen=True)
class _Forward:
    """An elliptic arc over the parameter run through, which rises whichever way the arc goes."""

    arc: EllipticArc

    def points(self, parameters: Array) -> Array:
        return self.arc.points(self._own(parameters))

    def derivatives(self, parameters: Array) -> Array:
        return self.arc.derivatives(self._own(parameters))

    def _own(self, parameters: Array) -> Array:
        sign = math.copysign(1.0, self.arc.sweep_rad)
        return np.asarray(self.arc.start_rad + sign * parameters)


@dataclass(frozen=True)
class Bezier:
    """A Bézier curve by its control points: two for a line, three or four for a curve."""

    control: tuple[Point, ...]

    def mapped(self, affine: Affine) -> "Bezier":
        """The curve under an affine map."""
        return Bezier(tuple(affine.point(point) for point in self.control))

    def points(self, parameters: Array) -> Array:
        """(N, 2) places at (N,) parameters in [0, 1], by de Casteljau's construction."""
        return _casteljau(np.array(self.control, float), parameters)

    def derivatives(self, parameters: Array) -> Array:
        """(N, 2) derivatives, one degree lower, a constant factor aside."""
        return _casteljau(np.diff(np.array(self.control, float), axis=0), parameters)

    def curves(self) -> tuple[Curve, ...]:
        """Lines and arcs within `FREEFORM_MM` of the shape.

        Raises:
            ShapeError: A curve that is no numbers, or out of all reach.
        """
        if len(self.control) == 2:
            return (Line(*self.control),)
        return lines_and_arcs(self, (0.0, 1.0))


DrawnCurve = Bezier | EllipticArc


def _casteljau(control: Array, parameters: Array) -> Array:
    """(N, 2) values at (N,) parameters of the polynomial with (K, 2) control points."""
    t = parameters[:, None, None]
    values = np.broadcast_to(control, (len(parameters), *control.shape))
    while values.shape[1] > 1:
        values = (1 - t) * values[:, :-1] + t * values[:, 1:]
    return np.asarray(values[:, 0])
