"""Fit a closed chain of lines and arcs to a ring of boundary samples."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve
from shapecut.trace.conditions import covariance
from shapecut.trace.corners import between, corner, whole_circle
from shapecut.trace.freeform import Spline, carried_as_arcs, fit_spline
from shapecut.trace.partition import Prices, partition
from shapecut.trace.primitives import LineFit, Primitive, fit_circle, fit_line
from shapecut.trace.raster import Points
from shapecut.trace.tangency import curved_runs, held_tangent, mismatches

__all__ = ["FittedRing", "fit_ring"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_ROUNDS = 3
"""Times breaks and primitives are settled against each other."""
_OUTLIER = 9.0
"""Squared normalised residual beyond which a sample no longer moves a break."""

_ONE_WAY_RAD = 0.02
"""Lines that turn less than this from one to the next may be one."""
_REACH_GAPS, _REACH_SHARE, _REACH_MM = 3.0, 0.5, 25.0
"""A corner is within so many times the gap between its samples, or this share of its shorter edge
but no more than so many mm, of the middle of that gap."""

_LEAVES, _LEAVES_MM = 1.5, 0.1
"""A primitive held tangent whose samples scatter more than so many times as before, and so many mm,
has left them."""


@dataclass(frozen=True)
class FittedRing:
    """Curves and how they fit.

    Attributes:
        curves: A closed chain in ring order.
        u_mm: (edges,) standard uncertainty of each across itself, from its own residuals.
        samples: (edges,) indices of the samples that each edge explains.
        residuals_mm: (N,) signed distance of each sample from its primitive, positive outward.
    """

    curves: tuple[Curve, ...]
    u_mm: tuple[float, ...]
    samples: tuple[Index, ...]
    residuals_mm: Array


@dataclass(frozen=True)
class _Piece:
    """A primitive or a freeform curve, with the samples that it explains."""

    fit: Primitive | Spline
    index: Index

    @property
    def head(self) -> Primitive:
        """What meets the piece before."""
        return self.fit.end(last=False) if isinstance(self.fit, Spline) else self.fit

    @property
    def tail(self) -> Primitive:
        """What meets the piece after."""
        return self.fit.end(last=True) if isinstance(self.fit, Spline) else self.fit


def fit_ring(points: Points, sigma_mm: Array, prices: Prices | None = None) -> FittedRing:
    """The fewest lines and arcs that explain a ring of samples.

    Joints that may be tangent are; stretches that would take many short primitives are smooth
    curves, carried as chains of tangent arcs.

    Args:
        points: (N, 2) samples in ring order with the material on the left, mm.
        sigma_mm: (N,) standard deviation of each across the boundary, wobble of the cut included.
        prices: What a primitive costs.
    """
    prices = prices or Prices()
    stretches = partition(points, sigma_mm, prices)
    if len(stretches) == 1:
        return _round(points, sigma_mm)
    firsts = [stretch.first for stretch in stretches]
    arcs = [
        stretch.arc and _sagitta(points[index], sigma_mm[index]) >= prices.least_sagitta_mm
        for stretch, index in zip(stretches, _spans(firsts, len(points)), strict=True)
    ]
    slack = max(1, -(-len(points) // prices.nodes)) + 1
    for _ in range(_ROUNDS):
        fits = _fits(points, sigma_mm, firsts, arcs)
        firsts = _settled(points, sigma_mm, fits, firsts, slack)
    firsts, arcs = _merged(points, sigma_mm, firsts, arcs, prices)
    fits = _fits(points, sigma_mm, firsts, arcs)
    return _chained(points, _pieces(points, sigma_mm, fits, firsts, prices))


def _merged(
    points: Points,
    sigma_mm: Array,
    firsts: Sequence[int],
    arcs: Sequence[bool],
    prices: Prices,
) -> tuple[list[int], list[bool]]:
    """Primitives without the breaks in a line that only hide a few samples gone astray.

    The samples nearest to a break do not count where breaks are chosen, so that one in the middle
    of strays, of print at the edge, may pay for a primitive that nothing else asks for.
    """
    firsts, arcs, k = list(firsts), list(arcs), 0
    while k < len(firsts) and len(firsts) > 2:
        spans = _spans(firsts, len(points))
        one = np.concatenate([spans[k - 1], spans[k]])
        parts = (spans[k - 1], spans[k], one)
        lines = [fit_line(points[index], sigma_mm[index]) for index in parts]
        first, second, together = (
            _misfit(line, points[index], sigma_mm[index])
            for line, index in zip(lines, parts, strict=True)
        )
        turn = math.dist(lines[0].direction, lines[1].direction)
        if (
            not (arcs[k - 1] or arcs[k])
            and turn < _ONE_WAY_RAD
            and together < first + second + prices.line
        ):
            del firsts[k], arcs[k]
            k = max(k - 1, 0)
        else:
            k += 1
    return firsts, arcs


def _misfit(line: Primitive, points: Points, sigma_mm: Array) -> float:
    """Chi-square of samples about a primitive, strays counted no more than as strays."""
    off = line.distances(points) / sigma_mm
    return float(np.sum(np.minimum(off**2, _OUTLIER)))


def _round(points: Points, sigma_mm: Array) -> FittedRing:
    """A single circle."""
    circle = fit_circle(points, sigma_mm)
    curves = whole_circle(circle)
    first = _on_first(curves, points)
    halves = (np.flatnonzero(first), np.flatnonzero(~first))
    return FittedRing(curves, (circle.u_mm,) * 2, halves, -circle.distances(points))


def _pieces(
    points: Points,
    sigma_mm: Array,
    fits: Sequence[Primitive],
    firsts: Sequence[int],
    prices: Prices,
) -> list[_Piece]:
    """Primitives with their smooth joints held tangent, or curves in place of many short ones."""
    spans = _spans(firsts, len(points))
    joints = _joints(points, spans)
    covariances = [
        covariance(fit, points[index], fit.u_mm) for fit, index in zip(fits, spans, strict=True)
    ]
    mismatch = list(mismatches(fits, covariances, joints))
    runs = curved_runs(
        [float(np.hypot(*(points[index[-1]] - points[index[0]]))) for index in spans],
        [isinstance(fit, LineFit) for fit in fits],
        mismatch,
    )
    inside: dict[int, _Piece | None] = {}
    for first, number in runs:
        members = [(first + k) % len(fits) for k in range(number)]
        index = np.concatenate([spans[k] for k in members])
        closed = number == len(fits) and mismatch[first] is not None
        curve = fit_spline(points[index], sigma_mm[index], knot_price=prices.knot, closed=closed)
        inside |= dict.fromkeys(members) | {first: _Piece(curve, index)}
        for k in (*members, (first + number) % len(fits)):
            mismatch[k] = None
    held = _held(points, spans, fits, covariances, mismatch)
    own = {k: _Piece(fit, index) for k, (fit, index) in enumerate(zip(held, spans, strict=True))}
    return [piece for piece in (own | inside).values() if piece is not None]


def _held(
    points: Points,
    spans: Sequence[Index],
    fits: Sequence[Primitive],
    covariances: Sequence[Array],
    mismatch: list[float | None],
) -> tuple[Primitive, ...]:
    """Primitives held tangent at their smooth joints, where that leaves them on their samples."""
    while True:
        held = held_tangent(fits, covariances, mismatch)
        astray = [
            k
            for k, (old, new, index) in enumerate(zip(fits, held, spans, strict=True))
            if new is not old
            and _rms(new.distances(points[index]))
            > _LEAVES * _rms(old.distances(points[index])) + _LEAVES_MM
        ]
        if not astray:
            return held
        for k in astray:
            mismatch[k] = mismatch[(k + 1) % len(fits)] = None


def _rms(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))


def _chained(points: Points, pieces: Sequence[_Piece]) -> FittedRing:
    """Pieces in ring order, joined corner to corner."""
    corners = _corners(points, pieces)
    curves: list[Curve] = []
    samples: list[Index] = []
    u_mm: list[float] = []
    residuals = np.zeros(len(points))
    for number, piece in enumerate(pieces):
        start, end = corners[number], corners[(number + 1) % len(pieces)]
        fit, index = piece.fit, piece.index
        if isinstance(fit, Spline):
            arcs, parts = carried_as_arcs(fit, start, end)
            residuals[index] = -fit.distances_mm
        else:
            arcs, parts = (between(fit, start, end),), (np.arange(len(index)),)
            residuals[index] = -fit.distances(points[index])
        curves += arcs
        samples += [index[part] for part in parts]
        u_mm += [fit.u_mm] * len(arcs)
    return FittedRing(tuple(curves), tuple(u_mm), tuple(samples), residuals)


def _corners(points: Points, pieces: Sequence[_Piece]) -> list[Points]:
    """(2,) place where each piece begins."""
    if len(pieces) == 1 and isinstance(pieces[0].fit, Spline) and pieces[0].fit.closed:
        return [pieces[0].fit.points(np.zeros(1))[0]]
    spans = [piece.index for piece in pieces]
    joints, reaches = _joints(points, spans), _reaches(points, spans)
    corners = [
        corner(pieces[k - 1].tail, piece.head, joints[k], reaches[k])
        for k, piece in enumerate(pieces)
    ]
    nexts = [*corners[1:], corners[0]]
    together = any(np.allclose(a, b) for a, b in zip(corners, nexts, strict=True))
    # Slits no wider than their own doubt: corners that fall together fall back.
    return joints if together and len(pieces) > 1 else corners


def _joints(points: Points, spans: Sequence[Index]) -> list[Points]:
    """(2,) rough place where each span begins."""
    return [(points[spans[k - 1][-1]] + points[index[0]]) / 2 for k, index in enumerate(spans)]


def _reaches(points: Points, spans: Sequence[Index]) -> list[float]:
    """How far from each rough joint its corner may be: samples near corners are missing or worn."""
    extents = [float(np.hypot(*(points[index[-1]] - points[index[0]]))) for index in spans]
    gaps = [
        float(np.hypot(*(points[index[0]] - points[spans[k - 1][-1]])))
        for k, index in enumerate(spans)
    ]
    return [
        max(_REACH_GAPS * gap, min(_REACH_MM, _REACH_SHARE * min(extents[k - 1], extents[k])))
        for k, gap in enumerate(gaps)
    ]


def _on_first(circle: tuple[Arc, Arc], points: Points) -> NDArray[np.bool_]:
    """(N,) whether points round a circle of two half arcs belong to the first."""
    above = points[:, 1] > circle[0].centre[1]
    return np.asarray(above != circle[0].ccw)


def _spans(firsts: Sequence[int], count: int) -> list[NDArray[np.intp]]:
    """Indices of each primitive's samples, round the ring."""
    nexts = [*firsts[1:], firsts[0]]
    return [
        (first + np.arange((after - first) % count or count)) % count
        for first, after in zip(firsts, nexts, strict=True)
    ]


def _sagitta(points: Points, sigma_mm: Array) -> float:
    """How far the circle through samples rises over their chord, mm; the diameter past a half."""
    circle = fit_circle(points, sigma_mm)
    chord = float(np.hypot(*(points[-1] - points[0])))
    if np.sum(np.hypot(*np.diff(points, axis=0).T)) > np.pi * circle.radius:
        return 2 * circle.radius
    return circle.radius - float(np.sqrt(max(circle.radius**2 - chord**2 / 4, 0.0)))


def _fits(
    points: Points, sigma_mm: Array, firsts: Sequence[int], arcs: Sequence[bool]
) -> list[Primitive]:
    return [
        (fit_circle if arc else fit_line)(points[index], sigma_mm[index])
        for arc, index in zip(arcs, _spans(firsts, len(points)), strict=True)
    ]


def _settled(
    points: Points,
    sigma_mm: Array,
    fits: Sequence[Primitive],
    firsts: Sequence[int],
    slack: int,
) -> list[int]:
    """Each break moved, by up to `slack` samples, to where it explains its samples best."""
    count = len(points)
    settled = []
    for k, first in enumerate(firsts):
        before = (first - firsts[k - 1]) % count
        after = (firsts[(k + 1) % len(firsts)] - first) % count
        low, high = -min(slack, max((before - 3) // 2, 0)), min(slack, max((after - 3) // 2, 0))
        index = (first + np.arange(low, high)) % count
        costs = [
            np.minimum((fit.distances(points[index]) / sigma_mm[index]) ** 2, _OUTLIER)
            for fit in (fits[k - 1], fits[k])
        ]
        split = np.concatenate([[0.0], np.cumsum(costs[0])])
        split += float(costs[1].sum()) - np.concatenate([[0.0], np.cumsum(costs[1])])
        settled.append(int((first + low + int(np.argmin(split))) % count))
    return settled
