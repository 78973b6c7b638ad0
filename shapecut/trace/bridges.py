"""Ways in which edges of a ring may go on past others that lie between them.

Glossary:
    part: an edge of the ring, with the samples that it goes by.
    bridge: what may take the place of a run of parts: two lines that go on to a corner, two parts
        of one line or circle, or the whole circle that an arc is a good part of.
    leg: a stretch of a bridge along which nothing was sampled that it goes by.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point
from shapecut.trace.primitives import fit_circle
from shapecut.trace.raster import Points

__all__ = ["Bridge", "Part", "bridges"]

Index = NDArray[np.intp]

_MOST_EDGES = 30
"""Edges that a bridge takes the place of, at most."""
_LONGEST_SHARE = 0.3
"""Share of the ring that they may take up."""
_ONE_MM = 4.0
"""Ends of two edges may lie this far off the one edge that takes their place."""
_ONE_TURN = math.cos(math.radians(4.0))
"""Lines that are one turn no more than this."""
_LONGER = 1.5
"""A bridge is no more than so many times as long as the edges it takes the place of."""
_HALF_ROUND = 2.5
"""Arcs of a greater sweep may be a whole circle, rad."""
_LEAST_LEG_MM = 6.0
"""Shorter parts of a bridge tell nothing."""
_LEAST_TURN = math.sin(math.radians(10.0))
"""Lines that meet at a corner turn more than this."""
_FLAT_MM = 0.05
"""Chords that stand for arcs lie this close to them."""
_BACK_MM = 10.0
"""Edges may meet so far before their ends."""


@dataclass(frozen=True)
class Part:
    """A curve of the ring and the samples that it goes by."""

    curve: Curve
    index: Index


@dataclass(frozen=True)
class Bridge:
    """What may take the place of a run of parts.

    Attributes:
        first: The run's first part; it goes round the ring from there.
        count: How many parts.
        parts: What takes their place.
        legs: Where nothing was sampled that they go by.
        removed: The edges that go.
    """

    first: int
    count: int
    parts: tuple[Part, ...]
    legs: tuple[Curve, ...]
    removed: tuple[Curve, ...]

    @property
    def removed_mm(self) -> float:
        """Length of the edges that go."""
        return sum(curve.length for curve in self.removed)

    @property
    def legs_mm(self) -> float:
        """Length of its legs."""
        return sum(leg.length for leg in self.legs)

    def runs_over(self, places: Points) -> bool:
        """Whether any of (N, 2) places lies between the edges that go and the bridge."""
        if not len(places) or not self.removed:
            return False
        rim = [curve.flattened(_FLAT_MM) for curve in (*self.removed, *self.legs)]
        area = shapely.MultiPoint(np.concatenate(rim)).convex_hull
        return bool(shapely.contains(area, shapely.points(places)).any())


def bridges(parts: Sequence[Part]) -> Iterator[Bridge]:
    """All that geometry allows.

    Args:
        parts: Of a ring, in its order.
    """
    count = len(parts)
    for k in range(count if count > 1 else 0):
        if circle := _whole_circle(parts, k):
            yield circle
    whole_mm = sum(part.curve.length for part in parts)
    for k in range(count):
        for between in range(min(_MOST_EDGES, count - 2) + 1):
            run = [parts[(k + step) % count] for step in range(between + 2)]
            removed = tuple(part.curve for part in run[1:-1])
            removed_mm = sum(curve.length for curve in removed)
            if removed_mm > _LONGEST_SHARE * whole_mm:
                break
            others = [parts[(k + step) % count] for step in range(between + 2, count)]
            if (one := _one_edge(run[0], run[-1])) and _encloses([one, *others]):
                ends = (run[0].curve.end, run[-1].curve.start)
                leg = one.curve if between == 0 else _stretch(one.curve, *ends)
                yield Bridge(k, between + 2, (one,), (leg,), removed)
            elif (
                between
                and (met := _corner(run[0], run[-1], removed_mm))
                and _encloses([*met[0], *others])
            ):
                yield Bridge(k, between + 2, met[0], met[1], removed)


def _encloses(parts: Sequence[Part]) -> bool:
    """Whether lines and arcs may be a ring: two lines enclose nothing."""
    return len(parts) > 2 or (len(parts) == 2 and any(isinstance(p.curve, Arc) for p in parts))


def _whole_circle(parts: Sequence[Part], k: int) -> Bridge | None:
    """A circle of which an arc is a good part, in place of all the rest."""
    curve = parts[k].curve
    if not isinstance(curve, Arc) or abs(curve.sweep_rad) < _HALF_ROUND:
        return None
    leg = Arc(curve.end, curve.start, curve.centre, curve.ccw)
    removed = tuple(part.curve for part in parts if part is not parts[k])
    return Bridge(k, len(parts), (parts[k],), (leg,), removed)


def _one_edge(first: Part, last: Part) -> Part | None:
    """The one edge that two may be parts of."""
    a, b = first.curve, last.curve
    index = np.concatenate([first.index, last.index])
    if isinstance(a, Line) and isinstance(b, Line):
        if float(np.dot(a.direction(), b.direction())) < _ONE_TURN:
            return None
        line = Line(a.start, b.end)
        ahead = [
            float(np.dot(np.subtract(p, line.start), line.direction())) for p in (a.end, b.start)
        ]
        off = max(_off_line(line, a.end), _off_line(line, b.start))
        return Part(line, index) if off <= _ONE_MM and ahead[0] <= ahead[1] + _BACK_MM else None
    if isinstance(a, Arc) and isinstance(b, Arc) and a.ccw == b.ccw:
        points = np.concatenate([a.flattened(_FLAT_MM), b.flattened(_FLAT_MM)])
        circle = fit_circle(points, np.ones(len(points)))
        if np.abs(circle.distances(points)).max() > _ONE_MM / 2 or circle.ccw != a.ccw:
            return None
        return Part(Arc(a.start, b.end, circle.centre, a.ccw), index)
    return None


def _off_line(line: Line, point: Point) -> float:
    (x, y), (dx, dy) = np.subtract(point, line.start), line.direction()
    return abs(float(dx * y - dy * x))


def _stretch(curve: Curve, start: Point, end: Point) -> Curve:
    """The part of a curve between two places near it."""
    if isinstance(curve, Line):
        return Line(start, end)
    return Arc(start, end, curve.centre, curve.ccw)


def _corner(
    first: Part, last: Part, removed_mm: float
) -> tuple[tuple[Part, ...], tuple[Curve, ...]] | None:
    """Two lines going on to the corner where they meet, and how far they go on."""
    a, b = first.curve, last.curve
    if not (isinstance(a, Line) and isinstance(b, Line)):
        return None
    (ax, ay), (bx, by) = a.direction(), b.direction()
    cross = ax * by - ay * bx
    if abs(cross) < _LEAST_TURN:
        return None
    gap = np.subtract(b.start, a.end)
    on = float(gap[0] * by - gap[1] * bx) / cross
    place = (a.end[0] + on * ax, a.end[1] + on * ay)
    before = float(np.dot(np.subtract(b.start, place), (bx, by)))
    if on < -_BACK_MM or before < -_BACK_MM or on + before > _LONGER * removed_mm:
        return None
    legs = [
        leg
        for leg, ahead in ((Line(a.end, place), on), (Line(place, b.start), before))
        if ahead > _LEAST_LEG_MM
    ]
    if not legs:
        return None
    return (
        replace(first, curve=Line(a.start, place)),
        replace(last, curve=Line(place, b.end)),
    ), tuple(legs)
