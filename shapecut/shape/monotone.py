"""Curves as runs that only rise or only fall, so that each run meets a level line at most once.

Glossary:
    level: a line y = constant.
    knot: a place on a curve, as (fraction, point): its two ends and where its height turns.
    run: what lies between two knots that follow each other.
"""

import math
from collections.abc import Iterable
from itertools import pairwise

import numpy as np

from shapecut.shape.curves import Arc, Curve
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop

__all__ = [
    "Bounds",
    "Knot",
    "Windings",
    "bounds",
    "crossing",
    "encloses",
    "knots",
    "quarters",
    "winding",
]

Knot = tuple[float, Point]
"""(fraction along the curve, point in mm)."""

Bounds = tuple[float, float, float, float]
"""(least x, least y, greatest x, greatest y) in mm."""


def knots(curve: Curve) -> tuple[Knot, ...]:
    """The ends of a curve and, on an arc, its lowest and highest points between them, in order."""
    ends: tuple[Knot, Knot] = ((0.0, curve.start), (1.0, curve.end))
    if not isinstance(curve, Arc):
        return ends
    return (ends[0], *_turning_knots(curve, math.pi / 2), ends[1])


def _turning_knots(arc: Arc, direction_rad: float) -> list[Knot]:
    """Knots strictly inside an arc that lie in a direction from the centre, or opposite to it."""
    radius, start, sweep = arc.radius, arc.start_rad, arc.sweep_rad
    along = (math.cos(direction_rad) * radius, math.sin(direction_rad) * radius)
    found: list[Knot] = []
    low, high = sorted((start, start + sweep))
    for turn in range(
        math.floor((low - direction_rad) / math.pi), math.ceil((high - direction_rad) / math.pi) + 1
    ):
        fraction = (direction_rad + turn * math.pi - start) / sweep
        if 0.0 < fraction < 1.0:
            sign = -1 if turn % 2 else 1
            found.append(
                (fraction, (arc.centre[0] + sign * along[0], arc.centre[1] + sign * along[1]))
            )
    return sorted(found)


def quarters(arc: Arc) -> tuple[Arc, ...]:
    """An arc cut where it turns, along x or along y: parts that only rise or fall, in both."""
    turns = [fraction for way in (0.0, math.pi / 2) for fraction, _ in _turning_knots(arc, way)]
    return tuple(arc.between(*ends) for ends in pairwise((0.0, *sorted(turns), 1.0)))


def crossing(curve: Curve, first: Knot, last: Knot, level: float) -> Knot:
    """Where the run between two neighbouring knots of a curve meets a level between their heights.

    The point's height is the level exactly.
    """
    (f0, (x0, y0)), (f1, (x1, y1)) = first, last
    if not isinstance(curve, Arc):
        part = (level - y0) / (y1 - y0)
        return (f0 + part * (f1 - f0), (x0 + part * (x1 - x0), level))
    centre_x, centre_y = curve.centre
    height = level - centre_y
    half_chord = math.sqrt(max(curve.radius**2 - height * height, 0.0))
    start, sweep = curve.start_rad, curve.sweep_rad
    if math.cos(start + (f0 + f1) / 2 * sweep) < 0:
        half_chord = -half_chord
    turn = (math.atan2(height, half_chord) - start) % math.tau
    fraction = turn / sweep if curve.ccw else (turn - math.tau) / sweep
    return (min(max(fraction, f0), f1), (centre_x + half_chord, level))


class Windings:
    """How often closed chains of curves go round points, for many points of the same curves."""

    def __init__(self, curves: Iterable[Curve]) -> None:
        """Take the curves up as runs that only rise or fall."""
        self._runs = [(curve, *ends) for curve in curves for ends in pairwise(knots(curve))]
        ends = np.array([(*first[1], *last[1]) for _, first, last in self._runs]).reshape(-1, 4)
        self._from, self._to = ends[:, :2], ends[:, 2:]
        self._bent = np.array([isinstance(curve, Arc) for curve, _, _ in self._runs], bool)

    def round(self, point: Point) -> int:
        """How often they go round a point, counter-clockwise positive.

        Counts the runs that cross the level of the point to the right of it; of a point on a curve
        either bank's answer may come.
        """
        x, level = point
        crossed = np.flatnonzero((self._from[:, 1] > level) != (self._to[:, 1] > level))
        (x0, y0), (x1, y1) = self._from[crossed].T, self._to[crossed].T
        at = x0 + (level - y0) / (y1 - y0) * (x1 - x0)
        for k in np.flatnonzero(self._bent[crossed]):
            curve, first, last = self._runs[crossed[k]]
            at[k] = crossing(curve, first, last, level)[1][0]
        return int(np.where(y1 > y0, 1, -1)[at > x].sum())


def winding(curves: Iterable[Curve], point: Point) -> int:
    """How often closed chains of curves go round one point; see `Windings.round`."""
    return Windings(curves).round(point)


def encloses(loop: Loop, point: Point) -> bool:
    """Whether a loop goes round a point; of a point on the loop itself either answer may come."""
    return winding((side.curve for side in loop), point) != 0


def bounds(curves: Iterable[Curve]) -> Bounds:
    """The smallest upright rectangle round some curves."""
    points: list[Point] = []
    for curve in curves:
        points += [curve.start, curve.end]
        if isinstance(curve, Arc):
            points += [point for _, point in _turning_knots(curve, 0.0)]
            points += [point for _, point in _turning_knots(curve, math.pi / 2)]
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return (min(xs), min(ys), max(xs), max(ys))
