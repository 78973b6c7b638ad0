"""Lines and arcs in a plane, in mm.

Glossary:
    curve: a directed line or circular arc between two points that differ.
    sweep: the signed angle an arc turns through, counter-clockwise positive, |sweep| < 2π.
    sagitta: greatest distance between an arc and its chord.
    fraction: position along a curve by length, 0 at its start and 1 at its end.

An arc stays an arc from the fit to the DXF; `flattened` exists only for predicates and pictures.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.placement import Placement, Point

__all__ = ["Arc", "Curve", "Line"]


@dataclass(frozen=True)
class Line:
    """A straight stretch from `start` to `end`."""

    start: Point
    end: Point

    @property
    def length(self) -> float:
        """Length in mm."""
        return math.dist(self.start, self.end)

    def at(self, fraction: float) -> Point:
        """The point at a fraction of the length."""
        if fraction == 1.0:
            return self.end
        (x0, y0), (x1, y1) = self.start, self.end
        return (x0 + fraction * (x1 - x0), y0 + fraction * (y1 - y0))

    def direction(self, fraction: float = 0.0) -> Point:
        """The unit tangent at a fraction of the length."""
        length = self.length
        return ((self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length)

    def between(self, first: float, last: float) -> "Line":
        """The part between two fractions, first < last."""
        return Line(self.at(first), self.at(last))

    def reversed(self) -> "Line":
        """The same stretch, the other way round."""
        return Line(self.end, self.start)

    def placed(self, placement: Placement) -> "Line":
        """The curve moved from the placement's local frame to the plane."""
        return Line(placement.to_plane(self.start), placement.to_plane(self.end))

    def scaled(self, factor: float) -> "Line":
        """The curve with its distances from the origin multiplied."""
        return Line(_scaled(self.start, factor), _scaled(self.end, factor))

    def area_term(self) -> float:
        """½∮(x dy − y dx) along the curve, mm²; summed over a closed ring it is the signed area."""
        return (self.start[0] * self.end[1] - self.end[0] * self.start[1]) / 2

    def flattened(self, tolerance_mm: float) -> NDArray[np.float64]:
        """Both ends as a (2, 2) array; a line needs no tolerance."""
        return np.array([self.start, self.end])


@dataclass(frozen=True)
class Arc:
    """A circular arc from `start` to `end` round `centre`.

    `start` and `end` lie at the same distance from `centre` (whoever builds the arc sees to it) and
    differ; a full circle is two arcs.
    """

    start: Point
    end: Point
    centre: Point
    ccw: bool

    @property
    def radius(self) -> float:
        """Radius in mm."""
        return (math.dist(self.start, self.centre) + math.dist(self.end, self.centre)) / 2

    @property
    def start_rad(self) -> float:
        """Direction of `start` seen from the centre."""
        return math.atan2(self.start[1] - self.centre[1], self.start[0] - self.centre[0])

    @property
    def sweep_rad(self) -> float:
        """Signed sweep, counter-clockwise positive."""
        end = math.atan2(self.end[1] - self.centre[1], self.end[0] - self.centre[0])
        turn = (end - self.start_rad) % math.tau
        return turn if self.ccw else turn - math.tau

    @property
    def length(self) -> float:
        """Length in mm."""
        return self.radius * abs(self.sweep_rad)

    def at(self, fraction: float) -> Point:
        """The point at a fraction of the length."""
        if fraction == 0.0:
            return self.start
        if fraction == 1.0:
            return self.end
        angle = self.start_rad + fraction * self.sweep_rad
        return (
            self.centre[0] + self.radius * math.cos(angle),
            self.centre[1] + self.radius * math.sin(angle),
        )

    def direction(self, fraction: float = 0.0) -> Point:
        """The unit tangent at a fraction of the length."""
        angle = self.start_rad + fraction * self.sweep_rad
        sign = 1.0 if self.ccw else -1.0
        return (-sign * math.sin(angle), sign * math.cos(angle))

    def between(self, first: float, last: float) -> "Arc":
        """The part between two fractions, first < last."""
        return Arc(self.at(first), self.at(last), self.centre, self.ccw)

    def reversed(self) -> "Arc":
        """The same arc, the other way round."""
        return Arc(self.end, self.start, self.centre, not self.ccw)

    def placed(self, placement: Placement) -> "Arc":
        """The curve moved from the placement's local frame to the plane."""
        to_plane = placement.to_plane
        return Arc(to_plane(self.start), to_plane(self.end), to_plane(self.centre), self.ccw)

    def scaled(self, factor: float) -> "Arc":
        """The curve with its distances from the origin multiplied."""
        start, end, centre = (_scaled(p, factor) for p in (self.start, self.end, self.centre))
        return Arc(start, end, centre, self.ccw)

    def area_term(self) -> float:
        """½∮(x dy − y dx) along the curve, mm²: the chord's term plus the circular segment."""
        sweep = self.sweep_rad
        chord = (self.start[0] * self.end[1] - self.end[0] * self.start[1]) / 2
        return chord + self.radius * self.radius / 2 * (sweep - math.sin(sweep))

    def flattened(self, tolerance_mm: float) -> NDArray[np.float64]:
        """Points on the arc, both ends included, whose chords stay within `tolerance_mm` of it.

        Returns:
            (N, 2) array, N ≥ 2, in mm.
        """
        radius, sweep = self.radius, self.sweep_rad
        cosine = 1 - min(tolerance_mm / radius, 1.0)
        # Never coarser than an eighth of a turn, so that a flattened circle keeps its topology.
        step = min(2 * math.acos(cosine), math.pi / 4)
        count = max(2, math.ceil(abs(sweep) / step) + 1)
        angles = self.start_rad + sweep * np.linspace(0.0, 1.0, count)
        points = np.column_stack([np.cos(angles), np.sin(angles)]) * radius + self.centre
        points[0], points[-1] = self.start, self.end
        return points


Curve = Line | Arc


def _scaled(point: Point, factor: float) -> Point:
    return (point[0] * factor, point[1] * factor)
