"""An outline as lines and circles that conditions can move together."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.errors import TraceError
from shapecut.shape.curves import Curve, Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.trace.conditions import Condition, covariance
from shapecut.trace.corners import between, corner
from shapecut.trace.primitives import CircleFit, LineFit, Primitive
from shapecut.trace.raster import Points
from shapecut.trace.tangency import tangency_gap

__all__ = ["Figure", "centre_gap", "corner_names", "figure_of", "primitive_of"]

Array = NDArray[np.float64]

_PLACES = np.linspace(0.05, 0.95, 10)
"""Where along an edge its samples are taken to lie, as fractions of its length."""
_TOUCHING_MM = 0.01
"""Neighbours nearer to tangent than this stay tangent."""
_ONE_CIRCLE_MM = 1e-6
"""Neighbours whose centres are nearer than this are arcs of one circle."""


@dataclass(frozen=True)
class Figure:
    """An outline's edges in ring order, ring after ring.

    Attributes:
        outline: As drawn.
        edges: All edges.
        before: (edges,) index of the edge that each follows.
        primitives: (edges,) the lines and circles they lie on.
        covariances: (edges,) of the movements of each, from the edges' uncertainties.
    """

    outline: Outline
    edges: tuple[Edge, ...]
    before: tuple[int, ...]
    primitives: tuple[Primitive, ...]
    covariances: tuple[Array, ...]

    def index(self, name: str, asked_by: str) -> int:
        """The edge of a name; `asked_by` is who names it, for the error's sentence.

        Raises:
            TraceError: If there is none.
        """
        for k, edge in enumerate(self.edges):
            if edge.name == name:
                return k
        names = ", ".join(dict.fromkeys(edge.whole for edge in self.outline.edges))
        parts = sorted((e.name for e in self.edges if e.whole == name), key=lambda n: (len(n), n))
        if parts:
            raise TraceError(
                f"{asked_by}: {name} is no one line or arc, but {parts[0]} to {parts[-1]}; name "
                f"one of these."
            )
        raise TraceError(f"{asked_by}: the outline has no edge {name}; it has {names}.")

    def corner_after(self, name: str, asked_by: str) -> int:
        """Index of the edge that begins in a corner such as E3/E4.

        Raises:
            TraceError: If no two edges meet so.
        """
        wanted = corner_names(name)
        for k, edge in enumerate(self.edges):
            pair = (self.edges[self.before[k]], edge)
            if wanted in ({one.name for one in pair}, {one.whole for one in pair}):
                return k
        raise TraceError(
            f"{asked_by}: {name} is no corner of the outline: write the two edges that meet there, "
            "such as E1/E2."
        )

    def after(self, k: int) -> int:
        """Index of the edge that follows one."""
        return self.before.index(k)

    def corner(self, k: int, first: Primitive, second: Primitive) -> Points:
        """(2,) where moved primitives of an edge's predecessor and of the edge meet."""
        shorter = min(self.edges[j].curve.length for j in (k, self.before[k]))
        return corner(first, second, np.array(self.edges[k].curve.start), shorter / 2)

    def standing(self, fixed: Sequence[int] = ()) -> list[Condition]:
        """What stays as it is: smooth joints, full circles, and the corners before some edges."""
        found = []
        for k, edge in enumerate(self.edges):
            pair = (self.before[k], k)
            first, second = (self.primitives[j] for j in pair)
            if edge.name != edge.whole or pair[0] == pair[1]:
                continue
            if _one_circle(first, second):
                found += [Condition(pair, centre_gap(axis)) for axis in (0, 1)]
                found.append(Condition(pair, lambda a, b: a.radius - b.radius))
            elif _touch(first, second):
                found.append(Condition(pair, tangency_gap))
        for k in fixed:
            found += [self._stays(k, axis) for axis in (0, 1)]
        return found

    def _stays(self, k: int, axis: int) -> Condition:
        """A corner keeps a coordinate."""
        target = self.edges[k].curve.start[axis]
        return Condition(
            (self.before[k], k), lambda a, b: float(self.corner(k, a, b)[axis]) - target
        )

    def length(self, k: int, *members: Primitive) -> float:
        """Length of an edge from the primitives before it, of itself, and after it."""
        before, own, after = members
        start = self.corner(k, before, own)
        return between(own, start, self.corner(self.after(k), own, after)).length

    def redrawn(self, primitives: Sequence[Primitive]) -> Outline:
        """The outline along moved primitives; corners whose edges did not move stay."""
        moved = [new is not old for new, old in zip(primitives, self.primitives, strict=True)]
        curves: list[Curve] = []
        for k, edge in enumerate(self.edges):
            start, end = (
                self.corner(j, primitives[self.before[j]], primitives[j])
                if moved[self.before[j]] or moved[j]
                else np.array(self.edges[j].curve.start)
                for j in (k, self.after(k))
            )
            same = np.allclose(start, edge.curve.start, atol=0, rtol=0) and np.allclose(
                end, edge.curve.end, atol=0, rtol=0
            )
            curves.append(edge.curve if same else between(primitives[k], start, end))
        return self.with_curves(curves)

    def with_curves(self, curves: Sequence[Curve]) -> Outline:
        """The outline with its edges along other curves."""
        rest = iter(curves)
        outer, *holes = (
            Ring(tuple(replace(edge, curve=next(rest)) for edge in ring.edges))
            for ring in self.outline.rings
        )
        return Outline(outer, tuple(holes))


def figure_of(outline: Outline) -> Figure:
    """Take an outline apart."""
    edges = [edge for ring in outline.rings for edge in ring.edges]
    before, first = [], 0
    for ring in outline.rings:
        count = len(ring.edges)
        before += [first + (k - 1) % count for k in range(count)]
        first += count
    primitives = [primitive_of(edge) for edge in edges]
    covariances = [
        covariance(
            primitive, np.array([edge.curve.at(float(f)) for f in _PLACES]), edge.u_mm or 0.0
        )
        for primitive, edge in zip(primitives, edges, strict=True)
    ]
    return Figure(outline, tuple(edges), tuple(before), tuple(primitives), tuple(covariances))


def _places(curve: Curve) -> Points:
    return np.array([curve.at(float(fraction)) for fraction in _PLACES])


def corner_names(name: str) -> set[str]:
    """The two edges of a corner written as E3/E4."""
    return {part.strip() for part in name.split("/")}


def primitive_of(edge: Edge) -> Primitive:
    """The endless line or circle that an edge lies on."""
    curve = edge.curve
    if isinstance(curve, Line):
        return LineFit(curve.at(0.5), curve.direction(), edge.u_mm or 0.0)
    return CircleFit(curve.centre, curve.radius, curve.ccw, edge.u_mm or 0.0)


def _one_circle(first: Primitive, second: Primitive) -> bool:
    if not (isinstance(first, CircleFit) and isinstance(second, CircleFit)):
        return False
    return math.dist(first.centre, second.centre) < _ONE_CIRCLE_MM


def _touch(first: Primitive, second: Primitive) -> bool:
    if isinstance(first, LineFit) and isinstance(second, LineFit):
        return False
    return abs(tangency_gap(first, second)) < _TOUCHING_MM


def centre_gap(axis: int) -> Callable[[CircleFit, CircleFit], float]:
    """How far two circles' centres are apart along an axis, mm."""
    return lambda first, second: first.centre[axis] - second.centre[axis]
