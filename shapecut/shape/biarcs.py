"""Smooth curves of any kind as lines and arcs, within a stated distance.

Where a curve turns gently, a biarc (two arcs that meet in a common tangent) with the curve's own
ends and end tangents follows it to third order; a stretch that it does not follow within the
tolerance is shortened until it does.  Biarcs: K. M. Bolton, "Biarc curves", Computer-Aided Design
7(2), 1975; of the one-parameter family the one with equal tangent lengths is taken.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from shapecut.errors import ShapeError
from shapecut.shape.bulge import arc_through
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point
from shapecut.shape.validity import FARTHEST_MM

__all__ = [
    "FREEFORM_MM",
    "Freeform",
    "distances_from",
    "lines_and_arcs",
    "refuse_out_of_reach",
]

Array = NDArray[np.float64]

FREEFORM_MM = 0.01
"""Greatest distance of a spline, Bézier curve or ellipse from the arcs that stand for it, mm."""

STRAIGHT_MM = 1e-6
"""An arc that rises less than this over its chord is a line, mm."""

SAMPLES = 17
"""Places along a stretch at which its distance from the arcs is taken."""

SEEN_SHARE = 0.9
"""Of the greatest distance along a stretch the samples see at least this share: it rises and falls
over at least four of their steps, and half a step beside a crest that is a sixteenth lower."""

WIDEST_STEP_RAD = math.pi / 3
"""A curve that turns more from one sample to the next may do anything between them."""

SAME_DIRECTION_RAD = 0.01
"""A whole curve becomes one line or arc only if that starts and ends this nearly along it."""

WIDEST_TURN_RAD = math.pi / 2
"""Greatest sweep of either arc of a biarc."""

INSIDE = 1e-7
"""End tangents are taken this fraction inside a stretch, where a curve may have a corner."""

NEAR_ENOUGH = 0.05
"""A biarc is as long as it can be when one longer by this share no longer follows."""

MOST_HALVINGS = 30
"""A stretch this often halved is shorter than anything that can be cut."""


class Freeform(Protocol):
    """A plane curve over a parameter, smooth between its breaks."""

    def points(self, parameters: Array) -> Array:
        """(N, 2) places in mm at (N,) parameters."""

    def derivatives(self, parameters: Array) -> Array:
        """(N, 2) derivatives of the places by the parameter; their length does not matter."""


def lines_and_arcs(
    freeform: Freeform, breaks: Sequence[float], *, tolerance_mm: float = FREEFORM_MM
) -> tuple[Curve, ...]:
    """A chain of lines and arcs along a curve.

    Args:
        freeform: The curve.
        breaks: Rising parameters: its first, its last, and all between where it may have a corner
            or change its character.
        tolerance_mm: Greatest distance of the curve from the chain.

    Returns:
        The chain, each curve starting where the one before ends; empty for a curve of no extent.

    Raises:
        ShapeError: A curve with places that are no numbers, or farther than `FARTHEST_MM`.
    """
    refuse_out_of_reach(freeform.points(np.linspace(breaks[0], breaks[-1], SAMPLES)))
    chain: list[Curve] = []
    for first, last in pairwise(breaks):
        one = _one_curve(freeform, first, last, tolerance_mm)
        chain += [one] if one else _biarcs(freeform, first, last, tolerance_mm)
    # Both sides of a break work its place out for themselves; rounding must not part them.
    return tuple(chain[:1]) + tuple(
        curve if curve.start == before.end else _from(before.end, curve)
        for before, curve in pairwise(chain)
    )


def refuse_out_of_reach(places: Array) -> None:
    """Refuse (N, 2) places that are no numbers or farther than `FARTHEST_MM`.

    Raises:
        ShapeError: Without a name; whoever knows where they come from adds it.
    """
    if not np.all(np.abs(places) <= FARTHEST_MM):
        raise ShapeError(
            f"a curve has points that are no numbers or more than {FARTHEST_MM:,.0f} mm from the "
            "origin: check the units, or move the drawing near the origin."
        )


def _from(start: Point, curve: Curve) -> Curve:
    if isinstance(curve, Arc):
        return Arc(start, curve.end, curve.centre, curve.ccw)
    return Line(start, curve.end)


def _one_curve(freeform: Freeform, first: float, last: float, tolerance_mm: float) -> Curve | None:
    """The one line or arc that follows a whole stretch and its end tangents; None if none does."""
    stretch = _Stretch.of(freeform, first, last)
    (start, end), (leaving, arriving) = stretch.ends, stretch.directions
    if math.dist(start, end) <= STRAIGHT_MM:
        return None
    middle = _point(stretch.places[SAMPLES // 2])
    for curve in (Line(start, end), arc_through(start, middle, end)):
        along = _between(curve.direction(0.0), leaving), _between(curve.direction(1.0), arriving)
        if max(along) <= SAME_DIRECTION_RAD and _follow(stretch, (curve,), tolerance_mm):
            return curve
    return None


def _biarcs(freeform: Freeform, first: float, last: float, tolerance_mm: float) -> Iterator[Curve]:
    """Biarcs one after the other, each about as long as it can be."""
    while first < last:
        pair, first = _longest(freeform, first, last, tolerance_mm)
        yield from pair


def _longest(
    freeform: Freeform, first: float, last: float, tolerance_mm: float
) -> tuple[tuple[Curve, ...], float]:
    """The longest biarc from `first` that follows, and the parameter that it comes to."""
    whole = _follower(freeform, first, last, tolerance_mm)
    if whole is not None:
        return whole, last
    pair: tuple[Curve, ...] = ()
    reached, beyond = first, last
    for _ in range(MOST_HALVINGS):
        trial = (reached + beyond) / 2
        found = _follower(freeform, first, trial, tolerance_mm)
        if found is None:
            beyond = trial
        else:
            pair, reached = found, trial
        if beyond - reached <= NEAR_ENOUGH * (reached - first):
            break
    return pair, reached if reached > first else beyond


def _follower(
    freeform: Freeform, first: float, last: float, tolerance_mm: float
) -> tuple[Curve, ...] | None:
    """The biarc that follows a stretch, a line where that is all it is; None if none does."""
    stretch = _Stretch.of(freeform, first, last)
    (start, end), (leaving, arriving) = stretch.ends, stretch.directions
    reach = float(np.linalg.norm(stretch.places - stretch.places[0], axis=1).max())
    if reach <= SEEN_SHARE * tolerance_mm:
        return (Line(start, end),) if start != end else ()
    pair = _biarc(start, leaving, end, arriving)
    return pair if pair and _gentle(pair) and _follow(stretch, pair, tolerance_mm) else None


@dataclass(frozen=True)
class _Stretch:
    """A stretch of a curve at `SAMPLES` even parameters.

    Attributes:
        places: (`SAMPLES`, 2) in mm.
        tangents: (`SAMPLES`, 2) unit vectors; nought where the curve stops to turn round.
    """

    places: Array
    tangents: Array

    @classmethod
    def of(cls, freeform: Freeform, first: float, last: float) -> "_Stretch":
        """The stretch between two parameters."""
        parameters = np.linspace(first, last, SAMPLES)
        places = freeform.points(parameters)
        parameters[[0, -1]] += np.array([INSIDE, -INSIDE]) * (last - first)
        tangents = freeform.derivatives(parameters)
        lengths = np.maximum(np.linalg.norm(tangents, axis=1), 1e-300)
        return cls(places, tangents / lengths[:, None])

    @property
    def steady(self) -> bool:
        """Whether the curve turns so gently that nothing happens between samples."""
        turns = np.sum(self.tangents[1:] * self.tangents[:-1], axis=1)
        return bool(turns.min() >= math.cos(WIDEST_STEP_RAD))

    @property
    def ends(self) -> tuple[Point, Point]:
        """Its first and last place."""
        return _point(self.places[0]), _point(self.places[-1])

    @property
    def directions(self) -> tuple[Point, Point]:
        """Its first and last unit tangent."""
        return _point(self.tangents[0]), _point(self.tangents[-1])


def _biarc(start: Point, leaving: Point, end: Point, arriving: Point) -> tuple[Curve, ...]:
    """Two arcs from tangent to tangent, their tangents d long; none where the ends coincide.

    With v from start to end and unit tangents s, t: |v − d (s + t)| = 2 d.
    """
    vx, vy = end[0] - start[0], end[1] - start[1]
    squared = vx * vx + vy * vy
    along = vx * (leaving[0] + arriving[0]) + vy * (leaving[1] + arriving[1])
    bend = 1 - (leaving[0] * arriving[0] + leaving[1] * arriving[1])
    below = along + math.sqrt(along * along + 2 * bend * squared)
    if squared == 0 or below <= 0:
        return ()
    d = squared / below
    joint = (
        (start[0] + end[0] + d * (leaving[0] - arriving[0])) / 2,
        (start[1] + end[1] + d * (leaving[1] - arriving[1])) / 2,
    )
    if joint in (start, end):
        return ()
    backwards = (-arriving[0], -arriving[1])
    return (_tangent_arc(start, leaving, joint), _tangent_arc(end, backwards, joint).reversed())


def _tangent_arc(start: Point, direction: Point, end: Point) -> Curve:
    """The arc that leaves a point in a direction and comes to another."""
    cx, cy = end[0] - start[0], end[1] - start[1]
    across = direction[0] * cy - direction[1] * cx
    if abs(across) / 4 <= STRAIGHT_MM:
        return Line(start, end)
    radius = (cx * cx + cy * cy) / (2 * across)
    centre = (start[0] - radius * direction[1], start[1] + radius * direction[0])
    return Arc(start, end, centre, across > 0)


def _gentle(curves: Sequence[Curve]) -> bool:
    return all(not isinstance(c, Arc) or abs(c.sweep_rad) <= WIDEST_TURN_RAD for c in curves)


def _follow(stretch: _Stretch, curves: Sequence[Curve], tolerance_mm: float) -> bool:
    """Whether a stretch runs along curves, within the tolerance."""
    if not stretch.steady:
        return False
    off = np.min([distances_from(stretch.places, curve) for curve in curves], axis=0)
    return bool(off.max() <= SEEN_SHARE * tolerance_mm)


def distances_from(samples: Array, curve: Curve) -> Array:
    """(N,) distances of (N, 2) points from a curve."""
    ends = np.minimum(np.hypot(*(samples - curve.start).T), np.hypot(*(samples - curve.end).T))
    if isinstance(curve, Arc):
        x, y = (samples - curve.centre).T
        half = curve.sweep_rad / 2
        middle = curve.start_rad + half
        turned = np.abs((np.arctan2(y, x) - middle + np.pi) % math.tau - np.pi)
        return np.asarray(
            np.where(turned <= abs(half), np.abs(np.hypot(x, y) - curve.radius), ends)
        )
    ux, uy = curve.direction()
    dx, dy = (samples - curve.start).T
    along = dx * ux + dy * uy
    beside = (along >= 0) & (along <= curve.length)
    return np.asarray(np.where(beside, np.abs(dx * uy - dy * ux), ends))


def _between(first: Point, second: Point) -> float:
    """The angle between two directions."""
    cross = first[0] * second[1] - first[1] * second[0]
    return abs(math.atan2(cross, first[0] * second[0] + first[1] * second[1]))


def _point(values: Array) -> Point:
    return (float(values[0]), float(values[1]))
