"""Fit a closed chain of lines and arcs to a ring of boundary samples."""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Arc
from shapecut.trace.chain import FittedRing, Piece, chained, joints_of
from shapecut.trace.conditions import covariance
from shapecut.trace.corners import whole_circle
from shapecut.trace.fillets import with_fillets
from shapecut.trace.freeform import fit_spline
from shapecut.trace.partition import Prices, partition
from shapecut.trace.primitives import LineFit, Primitive, fit_circle, fit_line
from shapecut.trace.raster import Points
from shapecut.trace.tangency import curved_runs, held_tangent, mismatches

__all__ = ["fit_held", "fit_ring"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_ROUNDS = 3
"""Times breaks and primitives are settled against each other."""
_OUTLIER = 9.0
"""Squared normalised residual beyond which a sample no longer moves a break."""

_ONE_WAY_RAD = 0.02
"""Lines that turn less than this from one to the next may be one."""
_LEAVES, _LEAVES_MM = 1.5, 0.1
"""A primitive held tangent whose samples scatter more than so many times as before, and so many mm,
has left them."""


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
        fits = _fits(points, sigma_mm, _spans(firsts, len(points)), arcs)
        firsts = _settled(points, sigma_mm, fits, firsts, slack)
    firsts, arcs = _merged(points, sigma_mm, firsts, arcs, prices)
    firsts, arcs = with_fillets(points, sigma_mm, firsts, arcs, prices)
    spans = _spans(firsts, len(points))
    return chained(points, _pieces(points, sigma_mm, spans, arcs, prices))


def fit_held(
    points: Points, sigma_mm: Array, spans: Sequence[Index], arcs: Sequence[bool]
) -> FittedRing:
    """The lines and arcs through given samples, joined as by `fit_ring`.

    Args:
        points: As for `fit_ring`.
        sigma_mm: As for `fit_ring`.
        spans: Indices of each primitive's samples, in ring order; a single one is a circle's.
        arcs: Whether each is an arc.
    """
    if len(spans) == 1:
        return _round(points, sigma_mm)
    return chained(points, _pieces(points, sigma_mm, spans, arcs, Prices()))


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
        if not (arcs[k - 1] or arcs[k]) and _one_line(
            points, sigma_mm, spans[k - 1], spans[k], prices
        ):
            del firsts[k], arcs[k]
            k = max(k - 1, 0)
        else:
            k += 1
    return firsts, arcs


def _one_line(points: Points, sigma_mm: Array, first: Index, second: Index, prices: Prices) -> bool:
    """Whether one line explains the samples of two as well, but for what a line costs."""
    parts = [fit_line(points[index], sigma_mm[index]) for index in (first, second)]
    if math.dist(parts[0].direction, parts[1].direction) >= _ONE_WAY_RAD:
        return False
    both = np.concatenate([first, second])
    apart = sum(
        _misfit(line, points[index], sigma_mm[index])
        for line, index in zip(parts, (first, second), strict=True)
    )
    together = _misfit(fit_line(points[both], sigma_mm[both]), points[both], sigma_mm[both])
    return together < apart + prices.line


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
    spans: Sequence[Index],
    arcs: Sequence[bool],
    prices: Prices,
) -> list[Piece]:
    """Primitives with their smooth joints held tangent, or curves in place of many short ones."""
    fits = _fits(points, sigma_mm, spans, arcs)
    joints = joints_of(points, spans)
    covariances = [
        covariance(fit, points[index], fit.u_mm) for fit, index in zip(fits, spans, strict=True)
    ]
    mismatch = list(mismatches(fits, covariances, joints))
    runs = curved_runs(
        [float(np.hypot(*(points[index[-1]] - points[index[0]]))) for index in spans],
        [isinstance(fit, LineFit) for fit in fits],
        mismatch,
    )
    inside: dict[int, Piece | None] = {}
    for first, number in runs:
        members = [(first + k) % len(fits) for k in range(number)]
        index = np.concatenate([spans[k] for k in members])
        closed = number == len(fits) and mismatch[first] is not None
        curve = fit_spline(points[index], sigma_mm[index], knot_price=prices.knot, closed=closed)
        inside |= dict.fromkeys(members) | {first: Piece(curve, index)}
        for k in (*members, (first + number) % len(fits)):
            mismatch[k] = None
    held = _held(points, spans, fits, covariances, mismatch)
    own = {k: Piece(fit, index) for k, (fit, index) in enumerate(zip(held, spans, strict=True))}
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
    points: Points, sigma_mm: Array, spans: Sequence[Index], arcs: Sequence[bool]
) -> list[Primitive]:
    return [
        (fit_circle if arc else fit_line)(points[index], sigma_mm[index])
        for arc, index in zip(arcs, spans, strict=True)
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
