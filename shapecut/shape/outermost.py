"""The outer boundary of loops that run across themselves and each other.

Of all loops together, those parts bound the field that have it on their left and not on their
right, by winding number; what the loops have in excess of that is wound wrongly and drops out.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from shapecut.shape.curves import Arc, Curve
from shapecut.shape.loops import mended
from shapecut.shape.meetings import contacts, fraction_at
from shapecut.shape.monotone import Windings, bounds
from shapecut.shape.near_points import NearPoints
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop, Side

__all__ = ["PROBE_MM", "SAME_PLACE_MM", "outermost"]

SAME_PLACE_MM = 1e-6
"""Points nearer than this are one point."""

LINKED_MM = 4 * SAME_PLACE_MM
"""Ends nearer than this follow each other; parts that are shorter are left out."""

PROBE_MM = 1e-4
"""How far beside a side its two banks are probed; parts narrower than this may be lost."""


def outermost(loops: Sequence[Sequence[Side]]) -> list[Loop]:
    """The loops that bound what some loops wind round.

    Args:
        loops: Closed chains of sides with the material on their left; they may cross.

    Returns:
        Closed chains that do not cross, of the same sides or parts of them.
    """
    sides = [side for loop in loops for side in loop]
    windings = Windings(side.curve for side in sides)
    kept = [
        part
        for side, places in zip(sides, _cuts(sides), strict=True)
        for part in _parts(side, places)
        if _bounds_field(part.curve, windings)
    ]
    return [mended(_rejoined(loop)) for loop in _linked(_distinct(kept))]


def _cuts(sides: Sequence[Side]) -> list[list[Point]]:
    """For each side the points where others meet it, its own ends left out."""
    cuts: list[list[Point]] = [[] for _ in sides]
    for i, k in _neighbours(sides):
        first, second = sides[i].curve, sides[k].curve
        for point in contacts(first, second, tolerance_mm=SAME_PLACE_MM):
            for place, curve in ((i, first), (k, second)):
                known = [curve.start, curve.end, *cuts[place]]
                if all(math.dist(point, other) > 2 * SAME_PLACE_MM for other in known):
                    cuts[place].append(point)
    return cuts


def _neighbours(sides: Sequence[Side]) -> Iterator[tuple[int, int]]:
    """Yield the places of every two sides whose upright rectangles touch, the lesser first."""
    boxes = np.array([bounds([side.curve]) for side in sides]).reshape(-1, 4)
    for i, (x0, y0, x1, y1) in enumerate(boxes + SAME_PLACE_MM * np.array([-1, -1, 1, 1])):
        left, low, right, high = boxes[i + 1 :].T
        for k in np.flatnonzero((left <= x1) & (right >= x0) & (low <= y1) & (high >= y0)):
            yield i, i + 1 + int(k)


def _parts(side: Side, cuts: Sequence[Point]) -> list[Side]:
    """A side cut at points on it."""
    curve = side.curve
    points = [curve.start, *sorted(cuts, key=lambda p: fraction_at(curve, p)), curve.end]
    parts = [replace(curve, start=first, end=last) for first, last in pairwise(points)]
    return [replace(side, curve=part) for part in parts if part.length > LINKED_MM]


def _bounds_field(curve: Curve, windings: Windings) -> bool:
    """Whether the field is on the left of a curve and not on its right."""
    left, right = (windings.round(_beside(curve, probe)) for probe in (PROBE_MM, -PROBE_MM))
    return left > 0 >= right


def _distinct(parts: Iterable[Side]) -> list[Side]:
    """Parts without those that repeat an earlier one, as where two loops run side by side."""
    distinct: list[Side] = []
    middles = NearPoints(LINKED_MM)
    for part in parts:
        near = middles.near(part.curve.at(0.5))
        if not any(_repeats(part.curve, distinct[k].curve) for k in near):
            middles.add(len(distinct), part.curve.at(0.5))
            distinct.append(part)
    return distinct


def _repeats(curve: Curve, other: Curve) -> bool:
    return all(
        math.dist(curve.at(fraction), other.at(fraction)) <= LINKED_MM
        for fraction in (0.0, 1.0, 0.5)
    )


def _without_dead_ends(parts: list[Side]) -> list[Side]:
    """Parts that others lead to and go on from.

    Where a loop runs back by less than a probe, both ways may count as bounds, and the way in is
    none out again.
    """
    while True:
        starts = NearPoints(LINKED_MM, (part.curve.start for part in parts))
        ends = NearPoints(LINKED_MM, (part.curve.end for part in parts))
        linked = [
            part for part in parts if starts.near(part.curve.end) and ends.near(part.curve.start)
        ]
        if len(linked) == len(parts):
            return parts
        parts = linked


def _linked(parts: Iterable[Side]) -> list[list[Side]]:
    """Loops of parts, each starting where the one before ends; dead ends are left out."""
    sides = _without_dead_ends(list(parts))
    starts = NearPoints(LINKED_MM, (side.curve.start for side in sides))
    left = dict.fromkeys(range(len(sides)))
    loops: list[list[Side]] = []
    while left:
        number = next(iter(left))
        del left[number]
        loop = [sides[number]]
        while math.dist(loop[-1].curve.end, loop[0].curve.start) > LINKED_MM:
            near = [k for k in starts.near(loop[-1].curve.end) if k in left]
            if not near:
                loop = []
                break
            del left[near[0]]
            loop.append(sides[near[0]])
        if loop:
            loops.append(loop)
    return loops


def _rejoined(sides: Sequence[Side]) -> list[Side]:
    """The sides of a loop, those made one again that a cut without consequence had parted."""
    joined: list[Side] = []
    for side in sides:
        if joined and _go_on(joined[-1], side):
            joined[-1] = _joined(joined[-1], side)
        else:
            joined.append(side)
    if len(joined) > 2 and _go_on(joined[-1], joined[0]):
        joined[0] = _joined(joined.pop(), joined[0])
    return joined


def _go_on(first: Side, second: Side) -> bool:
    """Whether the second side goes on along the carrier of the first, for the same edge."""
    if first.source != second.source or isinstance(first.curve, Arc) != isinstance(
        second.curve, Arc
    ):
        return False
    one, other = first.curve, second.curve
    if isinstance(one, Arc) and isinstance(other, Arc):
        turn = abs(one.sweep_rad + other.sweep_rad)
        return one.centre == other.centre and one.ccw == other.ccw and turn < math.tau - 1e-6
    return math.dist(one.direction(1.0), other.direction(0.0)) < 1e-9


def _joined(first: Side, second: Side) -> Side:
    return replace(first, curve=replace(first.curve, end=second.curve.end))


def _beside(curve: Curve, left_mm: float) -> Point:
    """The point so far to the left of a curve's middle."""
    (x, y), (dx, dy) = curve.at(0.5), curve.direction(0.5)
    return (x - left_mm * dy, y + left_mm * dx)
