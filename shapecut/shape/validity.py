"""Whether an outline is a shape: closed rings that do not cross, holes inside the outer ring."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from shapecut.errors import ShapeError
from shapecut.shape.curves import Arc
from shapecut.shape.meetings import contacts
from shapecut.shape.monotone import bounds, encloses
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop, Side

__all__ = ["CLOSED_MM", "FARTHEST_MM", "RADII_MM", "check_outline", "oriented", "ring_loop"]

CLOSED_MM = 1e-3
"""Gap between an edge's end and the next edge's start that counts as closed, mm; also the distance
at which two edges touch and the length below which an edge is nothing."""

RADII_MM = 0.01
"""Greatest difference between the distances of an arc's two ends from its centre, mm."""

FARTHEST_MM = 1e6
"""Greatest coordinate of an edge's end, either way, mm (a kilometre); farther out the tolerances of
cutting and drawing sink into rounding.  Centres may lie farther: those of flat arcs do."""


def ring_loop(ring: Ring) -> Loop:
    """A ring as a loop of sides named after its edges."""
    return tuple(Side(edge.curve, edge.name) for edge in ring.edges)


def oriented(outline: Outline) -> Outline:
    """The outline with its rings in the agreed sense and without hairline gaps.

    The outer ring comes out counter-clockwise and holes clockwise; edges keep their names.  Where
    an edge starts within `CLOSED_MM` of the end of the one before it, it is made to start there.
    Never raises: what is wrong with the outline beyond that is for `check_outline` to say.
    """
    return Outline(_turned(outline.outer, 1), tuple(_turned(hole, -1) for hole in outline.holes))


def _turned(ring: Ring, sense: int) -> Ring:
    edges = ring.edges
    if ring.signed_area * sense < 0:
        edges = tuple(replace(edge, curve=edge.curve.reversed()) for edge in reversed(edges))
    return Ring(
        tuple(
            replace(edge, curve=replace(edge.curve, start=before.curve.end))
            if 0 < math.dist(before.curve.end, edge.curve.start) <= CLOSED_MM
            else edge
            for before, edge in zip((*edges[-1:], *edges[:-1]), edges, strict=True)
        )
    )


def check_outline(outline: Outline) -> None:
    """Check that an outline is a shape.

    Args:
        outline: In the agreed sense; see `oriented`.

    Raises:
        ShapeError: Naming the edges and the place of the first fault: a name used twice, a
            coordinate that is no number or beyond `FARTHEST_MM`, an edge of no length, an arc
            whose ends do not lie on one circle, a ring that is open or runs the wrong way, edges
            that cross or touch, a hole that is not inside.
    """
    _check_names(outline)
    for edge in outline.edges:
        _check_edge(edge)
    for ring in outline.rings:
        _check_closed(ring)
    _check_contacts(outline)
    _check_senses(outline)
    _check_holes(outline)


def _check_names(outline: Outline) -> None:
    seen: set[str] = set()
    for edge in outline.edges:
        if edge.name in seen:
            raise ShapeError(f"Two edges are named {edge.name}: give each edge a name of its own.")
        seen.add(edge.name)


def _check_edge(edge: Edge) -> None:
    curve = edge.curve
    if not all(math.isfinite(value) for point in (curve.start, curve.end) for value in point):
        raise ShapeError(f"Edge {edge.name} has an end that is not a number: mend its coordinates.")
    for end in (curve.start, curve.end):
        if max(abs(value) for value in end) > FARTHEST_MM:
            raise ShapeError(
                f"Edge {edge.name} has an end at ({end[0]:g}, {end[1]:g}), more than "
                f"{FARTHEST_MM:,.0f} mm from the origin: check the units, or move the outline "
                f"near the origin."
            )
    if math.dist(curve.start, curve.end) <= CLOSED_MM:
        raise ShapeError(
            f"Edge {edge.name} starts and ends at {_place(curve.start)}: leave it out, or give a "
            f"full circle as two arcs."
        )
    if isinstance(curve, Arc):
        radii = math.dist(curve.start, curve.centre), math.dist(curve.end, curve.centre)
        if not all(math.isfinite(radius) for radius in radii):
            raise ShapeError(
                f"The centre of arc {edge.name} is no number or too far away to have a radius: "
                f"mend its coordinates, or make the edge a line."
            )
        if not abs(radii[0] - radii[1]) <= RADII_MM or min(radii) <= CLOSED_MM:
            raise ShapeError(
                f"Edge {edge.name} is no arc: its start is {radii[0]:.3f} mm from its centre and "
                f"its end {radii[1]:.3f} mm; mend the centre or one of the ends."
            )


def _check_closed(ring: Ring) -> None:
    if len(ring.edges) < 2:
        names = ", ".join(edge.name for edge in ring.edges) or "no edge"
        raise ShapeError(f"A ring of {names} alone encloses nothing: it needs at least two edges.")
    for before, edge in zip((*ring.edges[-1:], *ring.edges[:-1]), ring.edges, strict=True):
        gap = math.dist(before.curve.end, edge.curve.start)
        if gap > CLOSED_MM:
            raise ShapeError(
                f"The outline is open between {before.name} and {edge.name}: {before.name} ends at "
                f"{_place(before.curve.end)}, {edge.name} starts at {_place(edge.curve.start)}, "
                f"{gap:.3f} mm away; make the two meet."
            )


def _check_contacts(outline: Outline) -> None:
    for first, second, place in _faulty_contacts(outline):
        raise ShapeError(
            f"The outline meets itself: edges {first.name} and {second.name} cross or touch near "
            f"{_place(place)}; move one of them, or measure again."
        )


def _faulty_contacts(outline: Outline) -> Iterator[tuple[Edge, Edge, Point]]:
    """Contacts of two edges that are not the corner between them."""
    followers = {
        (edge.name, after.name)
        for ring in outline.rings
        for edge, after in zip(ring.edges, (*ring.edges[1:], *ring.edges[:1]), strict=True)
    }
    for first, second in _neighbours(outline.edges):
        corners = [
            before.curve.end
            for before, after in ((first, second), (second, first))
            if (before.name, after.name) in followers
        ]
        for point in contacts(first.curve, second.curve, tolerance_mm=CLOSED_MM):
            if all(math.dist(point, corner) > _corner_reach(first, second) for corner in corners):
                yield first, second, point


def _neighbours(edges: Sequence[Edge]) -> list[tuple[Edge, Edge]]:
    """Pairs of edges near enough to meet, in order: their upright rectangles are not apart."""
    boxes = sorted((bounds([edge.curve]), place) for place, edge in enumerate(edges))
    left, low, right, high = np.array([box for box, _ in boxes]).T
    left, low = left - CLOSED_MM, low - CLOSED_MM
    # From left to right: those after an edge that begin before it ends reach it sideways.
    beyond = np.searchsorted(left, right, side="right")
    pairs: list[list[int]] = []
    for k, (_, place) in enumerate(boxes):
        after = slice(k + 1, beyond[k])
        near = (low[after] <= high[k]) & (low[k] <= high[after])
        pairs += [sorted((place, boxes[k + 1 + int(j)][1])) for j in np.flatnonzero(near)]
    return [(edges[first], edges[second]) for first, second in sorted(pairs)]


def _corner_reach(first: Edge, second: Edge) -> float:
    """How far from their corner two neighbours may still meet, mm.

    At a smooth join that is tangent only within measurement, the two cross again near the corner;
    what lies between is then thinner than `CLOSED_MM`: the sagitta over this reach.
    """
    bend = abs(_curvature(first) - _curvature(second))
    shorter = min(first.curve.length, second.curve.length)
    reach = min(math.sqrt(8 * CLOSED_MM / bend), shorter / 2) if bend > 0 else 0.0
    return max(reach, 2 * CLOSED_MM)


def _curvature(edge: Edge) -> float:
    """Signed curvature in 1/mm, positive to the left."""
    curve = edge.curve
    if isinstance(curve, Arc):
        return (1 if curve.ccw else -1) / curve.radius
    return 0.0


def _check_senses(outline: Outline) -> None:
    for ring, sense, kind in [(outline.outer, 1, "outer ring")] + [
        (hole, -1, "hole") for hole in outline.holes
    ]:
        if ring.signed_area * sense <= 0:
            raise ShapeError(
                f"The {kind} of {ring.edges[0].name} runs the wrong way round or encloses nothing: "
                f"list its edges with the material on their left."
            )


def _check_holes(outline: Outline) -> None:
    for hole in outline.holes:
        name, point = hole.edges[0].name, hole.edges[0].curve.start
        if not encloses(ring_loop(outline.outer), point):
            raise ShapeError(
                f"The hole of {name} near {_place(point)} lies outside the outer ring: leave it "
                f"out or mend its coordinates."
            )
        for other in outline.holes:
            if other is not hole and encloses(ring_loop(other), point):
                raise ShapeError(
                    f"The hole of {name} near {_place(point)} lies inside the hole of "
                    f"{other.edges[0].name}: leave it out."
                )


def _place(point: Point) -> str:
    return f"({point[0]:.1f}, {point[1]:.1f})"
