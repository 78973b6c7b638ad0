"""Fit a closed chain of lines and arcs to a ring of boundary samples."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve
from shapecut.trace.corners import chain, whole_circle
from shapecut.trace.partition import Prices, partition
from shapecut.trace.primitives import Primitive, fit_circle, fit_line
from shapecut.trace.raster import Points

__all__ = ["FittedRing", "fit_ring"]

Array = NDArray[np.float64]

_ROUNDS = 3
"""Times breaks and primitives are settled against each other."""
_OUTLIER = 9.0
"""Squared normalised residual beyond which a sample no longer moves a break."""


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
    samples: tuple[NDArray[np.intp], ...]
    residuals_mm: Array


def fit_ring(points: Points, sigma_mm: Array, prices: Prices | None = None) -> FittedRing:
    """The fewest lines and arcs that explain a ring of samples.

    Args:
        points: (N, 2) samples in ring order with the material on the left, mm.
        sigma_mm: (N,) standard deviation of each across the boundary, wobble of the cut included.
        prices: What a primitive costs.
    """
    prices = prices or Prices()
    stretches = partition(points, sigma_mm, prices)
    if len(stretches) == 1:
        circle = fit_circle(points, sigma_mm)
        curves = whole_circle(circle)
        first = _on_first(curves, points)
        halves = (np.flatnonzero(first), np.flatnonzero(~first))
        return FittedRing(curves, (circle.u_mm,) * 2, halves, -circle.distances(points))
    firsts = [stretch.first for stretch in stretches]
    arcs = [
        stretch.arc and _sagitta(points[index], sigma_mm[index]) >= prices.least_sagitta_mm
        for stretch, index in zip(stretches, _spans(firsts, len(points)), strict=True)
    ]
    slack = max(1, -(-len(points) // prices.nodes)) + 1
    for _ in range(_ROUNDS):
        fits = _fits(points, sigma_mm, firsts, arcs)
        firsts = _settled(points, sigma_mm, fits, firsts, slack)
    fits = _fits(points, sigma_mm, firsts, arcs)
    joints = [(points[first - 1] + points[first]) / 2 for first in firsts]
    residuals = np.zeros(len(points))
    spans = tuple(_spans(firsts, len(points)))
    for fit, index in zip(fits, spans, strict=True):
        residuals[index] = -fit.distances(points[index])
    return FittedRing(chain(fits, joints), tuple(fit.u_mm for fit in fits), spans, residuals)


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
