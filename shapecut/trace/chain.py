"""A closed chain of fitted primitives and curves, joined corner to corner."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve
from shapecut.trace.corners import between, corner
from shapecut.trace.freeform import Spline, carried_as_arcs
from shapecut.trace.primitives import Primitive
from shapecut.trace.raster import Points

__all__ = ["FittedRing", "Piece", "chained", "is_simple", "joints_of", "runs_on"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_REACH_GAPS, _REACH_SHARE, _REACH_MM = 3.0, 0.5, 25.0
"""A corner is within so many times the gap between its samples, or this share of its shorter edge
but no more than so many mm, of the middle of that gap."""

_FLAT_MM = 0.05
"""Chords this close to their arcs tell whether a ring crosses itself."""
_SMOOTH = 0.1
"""Greatest angle at a joint without a corner, rad."""


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
class Piece:
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


def chained(points: Points, pieces: Sequence[Piece]) -> FittedRing:
    """Pieces in ring order, joined corner to corner.

    Args:
        points: (N, 2) samples in ring order, mm.
        pieces: What explains them.
    """
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


def _corners(points: Points, pieces: Sequence[Piece]) -> list[Points]:
    """(2,) place where each piece begins."""
    if len(pieces) == 1 and isinstance(pieces[0].fit, Spline) and pieces[0].fit.closed:
        return [pieces[0].fit.points(np.zeros(1))[0]]
    spans = [piece.index for piece in pieces]
    joints, reaches = joints_of(points, spans), _reaches(points, spans)
    corners = [
        corner(pieces[k - 1].tail, piece.head, joints[k], reaches[k])
        for k, piece in enumerate(pieces)
    ]
    nexts = [*corners[1:], corners[0]]
    together = any(np.allclose(a, b) for a, b in zip(corners, nexts, strict=True))
    # Slits no wider than their own doubt: corners that fall together fall back.
    return joints if together and len(pieces) > 1 else corners


def joints_of(points: Points, spans: Sequence[Index]) -> list[Points]:
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


def runs_on(before: Curve, after: Curve) -> bool:
    """Whether an arc runs into the next without a corner, to carry a curve together."""
    if not (isinstance(before, Arc) and isinstance(after, Arc)):
        return False
    return math.dist(before.direction(1.0), after.direction(0.0)) < _SMOOTH


def is_simple(curves: Sequence[Curve]) -> bool:
    """Whether a ring of curves encloses something and does not cross itself."""
    points = np.concatenate([curve.flattened(_FLAT_MM)[:-1] for curve in curves])
    return len(points) > 2 and bool(shapely.LinearRing(points).is_simple)
