"""Where a fitted line runs into an arc, or an arc into an arc, without a corner.

People draw round corners tangent to their sides.  A joint whose primitives are tangent within what
their samples leave open is therefore held tangent, which also puts its place right: free circles
that touch would meet anywhere along the touch.
"""

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.conditions import Condition, gap_and_u, settle
from shapecut.trace.corners import touching_point, turn_at
from shapecut.trace.primitives import CircleFit, LineFit, Primitive
from shapecut.trace.raster import Points

__all__ = ["curved_runs", "held_tangent", "mismatches", "tangency_gap"]

_AGREES = 5.0
"""Combined standard uncertainties up to which a joint is taken for tangent: more than chance alone
would ask for, since a slow wobble bends a short arc unseen."""
_UNSEEN_MM = 0.1
"""Standard uncertainty of a joint in what the samples of its primitives err together, which their
scatter does not show: neighbouring samples share light, print and a hand's wobble."""
_TOUCHING_MM = 1e-3
"""Primitives held tangent touch as closely as this."""
_REFUSES = 3.0
"""Root mean square mismatch from which the joints of a run cannot be meant to be tangent."""
_LEAST_RUN = 4
"""Fewer primitives than this are what was drawn, not a curve."""
_LONG_LINE = 2.0
"""A line longer than this many times the middle length of a run is no part of a curve."""
_SMOOTH_RAD = math.radians(30.0)
"""Joints that turn more than this are corners, however unsure their arcs are."""
_LEAST_APART = 0.05
"""Arcs whose centres are nearer than this share of their radii are one arc in two parts."""


def tangency_gap(first: Primitive, second: Primitive) -> float:
    """How far two primitives are from touching without a corner in the ring's sense, mm."""
    if isinstance(first, LineFit) and isinstance(second, CircleFit):
        return _line_circle_gap(first, second)
    if isinstance(first, CircleFit) and isinstance(second, LineFit):
        return _line_circle_gap(second, first)
    if isinstance(first, CircleFit) and isinstance(second, CircleFit):
        apart = math.dist(first.centre, second.centre)
        if first.ccw == second.ccw:
            return apart - abs(first.radius - second.radius)
        return apart - first.radius - second.radius
    raise TypeError("two lines do not touch without a corner")


def mismatches(
    fits: Sequence[Primitive],
    covariances: Sequence[NDArray[np.float64]],
    joints: Sequence[Points],
) -> tuple[float | None, ...]:
    """How far each joint is from tangent, in its standard uncertainties; None at a corner.

    Args:
        fits: In ring order, at least two.
        covariances: Of each, from its samples.
        joints: (2,) rough place where each begins.
    """
    found: list[float | None] = []
    for k, joint in enumerate(joints):
        before = (k - 1) % len(fits)
        if _may_touch(fits[before], fits[k], joint):
            gap, u = gap_and_u(Condition((before, k), tangency_gap), fits, covariances)
            found.append(abs(gap) / math.hypot(u, _UNSEEN_MM))
        else:
            found.append(None)
    return tuple(found)


def held_tangent(
    fits: Sequence[Primitive],
    covariances: Sequence[NDArray[np.float64]],
    mismatch: Sequence[float | None],
) -> tuple[Primitive, ...]:
    """Primitives moved so that joints which may be tangent are.

    Args:
        fits: In ring order.
        covariances: Of each, from its samples.
        mismatch: As `mismatches` found it.
    """
    doubtful = sorted(
        (off, k) for k, off in enumerate(mismatch) if off is not None and off <= _AGREES
    )
    while doubtful:
        conditions = [Condition(((k - 1) % len(fits), k), tangency_gap) for _, k in doubtful]
        settled = settle(fits, covariances, conditions)
        if settled.chi2 <= _AGREES**2 * settled.freedom and settled.worst_gap < _TOUCHING_MM:
            return settled.primitives
        doubtful.pop()
    return tuple(fits)


def curved_runs(
    lengths_mm: Sequence[float], lines: Sequence[bool], mismatch: Sequence[float | None]
) -> tuple[tuple[int, int], ...]:
    """Runs of primitives that stand for a smooth curve of no few lines and arcs.

    Such primitives follow each other without a corner and yet are not tangent, since none of them
    is what was drawn.

    Args:
        lengths_mm: Of each, in ring order.
        lines: Whether each is a line.
        mismatch: As `mismatches` found it.

    Returns:
        First and number of primitives of each run; a run round the whole ring begins at 0.
    """
    count = len(lengths_mm)
    breaks = [k for k, off in enumerate(mismatch) if off is None]
    nexts = breaks[1:] + breaks[:1]
    runs = [(a, (b - a) % count or count) for a, b in zip(breaks, nexts, strict=True)]
    found = []
    for first, number in runs or [(0, count)]:
        for start, end in _between_long_lines(first, number, lengths_mm, lines):
            inner = [mismatch[k % count] for k in range(start + 1, end)]
            inner += [mismatch[0]] if end - start == count and mismatch[0] is not None else []
            off = [value for value in inner if value is not None]
            if end - start >= _LEAST_RUN and np.mean(np.square(off)) >= _REFUSES**2:
                found.append((start % count, end - start))
    return tuple(found)


def _between_long_lines(
    first: int, number: int, lengths_mm: Sequence[float], lines: Sequence[bool]
) -> list[tuple[int, int]]:
    """Parts of a run, as first and end, without its long lines."""
    count = len(lengths_mm)
    places = range(first, first + number)
    long = _LONG_LINE * float(np.median([lengths_mm[k % count] for k in places]))
    straight = [k for k in places if lines[k % count] and lengths_mm[k % count] > long]
    ends = [first - 1, *straight, first + number]
    return [(a + 1, b) for a, b in pairwise(ends)]


def _may_touch(first: Primitive, second: Primitive, joint: Points) -> bool:
    if isinstance(first, LineFit) and isinstance(second, LineFit):
        return False
    if isinstance(first, CircleFit) and isinstance(second, CircleFit):
        apart = math.dist(first.centre, second.centre)
        if apart < _LEAST_APART * min(first.radius, second.radius):
            return False
    place = touching_point(first, second, joint)
    return place is not None and turn_at(first, second, place) < _SMOOTH_RAD


def _line_circle_gap(line: LineFit, circle: CircleFit) -> float:
    """A circle gone round counter-clockwise has its centre to the left of its tangents."""
    left = float(line.distances(np.array([circle.centre]))[0])
    return left - (circle.radius if circle.ccw else -circle.radius)
