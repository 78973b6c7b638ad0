"""The field that boards are to cover: an outline with each edge moved by its own allowance.

Glossary:
    allowance: how far the boards reach past an edge (positive) or stay back from it (negative), mm.
    raw loop: the moved edges of one ring, each from its corner with the one before to its corner
        with the next; it may run backwards and cross itself where edges are eaten up.
    step: a short straight side between two neighbours whose moved curves do not meet near their
        corner.

Method: a corner of the field is where the carriers of the two moved edges meet.  Of all raw loops
together, those parts bound the field that have it on their left only, by winding number; parts that
edges have in excess of that lie in loops that are wound wrongly and drop out.  What is eaten up
altogether can come back turned inside out, wound rightly; it then lies in the gap of some edge, and
goes too.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

from shapecut.errors import ShapeError
from shapecut.shape.curves import Curve, Line
from shapecut.shape.loops import mended, regions
from shapecut.shape.meetings import carrier_meetings, contacts, fraction_at
from shapecut.shape.monotone import Bounds, bounds, winding
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop, Region, Side

__all__ = ["STEP_TURN_RAD", "with_allowances"]

STEP_TURN_RAD = math.radians(10.0)
"""Neighbours that turn less than this at their corner count as going straight on: if their
allowances differ, a step joins them, since their carriers would meet far away if at all."""

SAME_PLACE_MM = 1e-6
"""Points nearer than this are one point, and allowances that differ by less are equal."""

PROBE_MM = 1e-4
"""How far beside a side its two banks are probed for the winding number; parts of the field
narrower than this may be lost."""


@dataclass(frozen=True)
class _Moved:
    """An edge moved across itself by its allowance.

    `curve` has the whole length of the edge, ends not yet brought to the corners; it is None for an
    arc that the allowance shrinks to its centre.
    """

    edge: Edge
    allowance_mm: float
    start: Point
    end: Point
    curve: Curve | None
    turned_over: bool
    """Whether an arc was moved beyond its centre, so that it runs against its edge."""


@dataclass(frozen=True)
class _RawSide:
    """A side of a raw loop; `forward` tells whether it runs the way its edge does."""

    side: Side
    forward: bool


@dataclass(frozen=True)
class _Gap:
    """The strip that boards must leave free along an edge: square to it, on its material side."""

    curve: Curve
    width_mm: float

    def holds(self, point: Point) -> bool:
        """Whether a point lies in the strip, not on its rim."""
        curve, margin = self.curve, 2 * PROBE_MM
        if self.width_mm <= margin:
            return False
        if isinstance(curve, Line):
            (dx, dy), (x0, y0) = curve.direction(), curve.start
            height = dx * (point[1] - y0) - dy * (point[0] - x0)
        else:
            inwards = curve.radius - math.dist(point, curve.centre)
            height = inwards if curve.ccw else -inwards
        reach = fraction_at(curve, point) * curve.length
        return margin < height < self.width_mm - margin and margin < reach < curve.length - margin


def with_allowances(outline: Outline, allowances: Mapping[Treatment, float]) -> Region:
    """Move every edge by the allowance of its treatment.

    Lines stay lines and arcs become arcs round the same centre.  Corners are the meetings of the
    moved edges, however their allowances differ; where neighbours go straight on but their
    allowances differ, or whose moved curves do not meet, a step joins their moved ends; it is named
    after the neighbour with the larger allowance, signs aside.

    Args:
        outline: A checked one.
        allowances: mm, for each treatment that occurs: positive where the boards reach past the
            edge (a margin to sand off, a nosing), negative where they stay back (an expansion gap).

    Returns:
        The field, in the plane; the sources of its sides are the names of the edges.

    Raises:
        ShapeError: If nothing is left of the outline, or it falls into several parts.
    """
    loops = [_raw_loop(ring, allowances) for ring in outline.rings]
    kept = [loop for loop in loops if any(raw.forward for raw in loop)]
    if not kept or kept[0] is not loops[0]:
        raise ShapeError(_eaten_up(outline, allowances))
    found = tuple(
        region
        for region in regions(_outermost(kept), thinnest_mm=SAME_PLACE_MM)
        if not _inside_out(region, outline, allowances)
    )
    if not found:
        raise ShapeError(_eaten_up(outline, allowances))
    if len(found) > 1:
        raise ShapeError(_falls_apart(found, outline, allowances))
    return found[0]


def _inside_out(region: Region, outline: Outline, allowances: Mapping[Treatment, float]) -> bool:
    """Whether a region is the inside-out remainder of what the allowances eat up."""
    points = {_beside(side.curve, PROBE_MM): side.source for side in region.outer}
    gaps = {edge.name: _Gap(edge.curve, -allowances[edge.treatment]) for edge in outline.edges}
    if any(
        gap.holds(point)
        for point, source in points.items()
        for name, gap in gaps.items()
        if name != source
    ):
        return True
    if any(gap.width_mm < 0 for gap in gaps.values()):
        return False
    # Boards that nowhere reach past the outline lie inside it.
    curves = [edge.curve for edge in outline.edges]
    return not any(winding(curves, point) > 0 for point in points)


def _raw_loop(ring: Ring, allowances: Mapping[Treatment, float]) -> list[_RawSide]:
    moved = [_moved(edge, allowances[edge.treatment]) for edge in ring.edges]
    corners = [
        _corner(before, after) for before, after in zip(moved, [*moved[1:], moved[0]], strict=True)
    ]
    raw: list[_RawSide] = []
    for place, here in enumerate(moved):
        start, end = corners[place - 1], corners[place]
        side = _brought_to(here, start or here.start, end or here.end)
        if side is not None:
            raw.append(side)
        if end is None:
            raw += _step(here, moved[(place + 1) % len(moved)])
    return raw


def _moved(edge: Edge, allowance_mm: float) -> _Moved:
    """Move an edge to its right, away from the material, by a positive allowance."""
    curve = edge.curve
    if isinstance(curve, Line):
        (dx, dy), by = curve.direction(), allowance_mm
        line = Line(
            (curve.start[0] + by * dy, curve.start[1] - by * dx),
            (curve.end[0] + by * dy, curve.end[1] - by * dx),
        )
        return _Moved(edge, allowance_mm, line.start, line.end, line, False)
    scale = 1 + (allowance_mm if curve.ccw else -allowance_mm) / curve.radius
    start, end = (
        (
            curve.centre[0] + scale * (point[0] - curve.centre[0]),
            curve.centre[1] + scale * (point[1] - curve.centre[1]),
        )
        for point in (curve.start, curve.end)
    )
    arc = replace(curve, start=start, end=end)
    gone = abs(scale) * curve.radius < SAME_PLACE_MM
    return _Moved(edge, allowance_mm, start, end, None if gone else arc, scale < 0)


def _corner(before: _Moved, after: _Moved) -> Point | None:
    """Where two moved neighbours meet, or None if a step is to join them."""
    if math.dist(before.end, after.start) < SAME_PLACE_MM:
        return before.end
    if before.curve is None or after.curve is None:
        return None
    (ux, uy), (vx, vy) = before.edge.curve.direction(1.0), after.edge.curve.direction(0.0)
    turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
    differ = abs(before.allowance_mm - after.allowance_mm) > SAME_PLACE_MM
    straight_on = abs(turn) < STEP_TURN_RAD
    if straight_on and differ:
        return None
    corner = before.edge.curve.end
    meetings = carrier_meetings(before.curve, after.curve)
    meeting = min(meetings, key=lambda point: math.dist(point, corner), default=None)
    if meeting and straight_on:
        # Equal allowances at a nearly smooth join: the meeting is the moved corner itself, or it is
        # a chance meeting of a line and a circle that all but touch.
        allowed = 2 * math.dist(before.end, after.start) + abs(before.allowance_mm)
        return meeting if math.dist(meeting, before.end) <= allowed else None
    return meeting


def _brought_to(moved: _Moved, start: Point, end: Point) -> _RawSide | None:
    """A moved edge between its corners; None if they coincide."""
    if moved.curve is None or math.dist(start, end) < SAME_PLACE_MM:
        return None
    name = moved.edge.name
    if isinstance(moved.curve, Line):
        (dx, dy), line = moved.curve.direction(), Line(start, end)
        forward = dx * (end[0] - start[0]) + dy * (end[1] - start[1]) > 0
        return _RawSide(Side(line, name), forward)
    full = moved.curve.sweep_rad
    arc = replace(moved.curve, start=start, end=end, ccw=True)
    # Of the two ways round, the one that differs least from the edge's own sweep.
    sweep = min((arc.sweep_rad, arc.sweep_rad - math.tau), key=lambda s: abs(s - full))
    forward = (sweep * full > 0) != moved.turned_over
    return _RawSide(Side(replace(arc, ccw=sweep > 0), name), forward)


def _step(before: _Moved, after: _Moved) -> list[_RawSide]:
    if math.dist(before.end, after.start) < SAME_PLACE_MM:
        return []
    larger = max(before, after, key=lambda moved: abs(moved.allowance_mm))
    return [_RawSide(Side(Line(before.end, after.start), larger.edge.name), False)]


def _outermost(raw_loops: Sequence[Sequence[_RawSide]]) -> list[Loop]:
    """The loops that bound what the raw loops wind round, without those that run all backwards."""
    sides = [raw for loop in raw_loops for raw in loop]
    curves = [raw.side.curve for raw in sides]
    kept = [
        part
        for raw, places in zip(sides, _cuts(sides), strict=True)
        for part in _parts(raw, places)
        if _bounds_field(part.side.curve, curves)
    ]
    return [
        mended([raw.side for raw in loop])
        for loop in _linked(kept)
        if any(raw.forward for raw in loop)
    ]


def _cuts(sides: Sequence[_RawSide]) -> list[list[Point]]:
    """For each side the points where others meet it, its own ends left out."""
    cuts: list[list[Point]] = [[] for _ in sides]
    boxes = [bounds([raw.side.curve]) for raw in sides]
    for i, k in combinations(range(len(sides)), 2):
        if _apart(boxes[i], boxes[k]):
            continue
        first, second = sides[i].side.curve, sides[k].side.curve
        for point in contacts(first, second, tolerance_mm=SAME_PLACE_MM):
            for place, curve in ((i, first), (k, second)):
                known = [curve.start, curve.end, *cuts[place]]
                if all(math.dist(point, other) > 2 * SAME_PLACE_MM for other in known):
                    cuts[place].append(point)
    return cuts


def _apart(first: Bounds, second: Bounds) -> bool:
    return (
        first[0] > second[2] + SAME_PLACE_MM
        or second[0] > first[2] + SAME_PLACE_MM
        or first[1] > second[3] + SAME_PLACE_MM
        or second[1] > first[3] + SAME_PLACE_MM
    )


def _parts(raw: _RawSide, cuts: Sequence[Point]) -> list[_RawSide]:
    """A side cut at points on it."""
    curve = raw.side.curve
    points = [curve.start, *sorted(cuts, key=lambda p: fraction_at(curve, p)), curve.end]
    return [
        replace(raw, side=replace(raw.side, curve=replace(curve, start=first, end=last)))
        for first, last in pairwise(points)
    ]


def _bounds_field(curve: Curve, curves: Sequence[Curve]) -> bool:
    """Whether the field is on the left of a curve and not on its right."""
    left = winding(curves, _beside(curve, PROBE_MM))
    right = winding(curves, _beside(curve, -PROBE_MM))
    return left > 0 >= right


def _beside(curve: Curve, left_mm: float) -> Point:
    """The point so far to the left of a curve's middle."""
    (x, y), (dx, dy) = curve.at(0.5), curve.direction(0.5)
    return (x - left_mm * dy, y + left_mm * dx)


def _linked(parts: Iterable[_RawSide]) -> list[list[_RawSide]]:
    """Loops of parts, each starting where the one before ends; dead ends are left out."""
    left = list(parts)
    loops: list[list[_RawSide]] = []
    while left:
        loop = [left.pop(0)]
        while math.dist(loop[-1].side.curve.end, loop[0].side.curve.start) > 4 * SAME_PLACE_MM:
            end = loop[-1].side.curve.end
            near = [p for p in left if math.dist(p.side.curve.start, end) <= 4 * SAME_PLACE_MM]
            if not near:
                loop = []
                break
            left.remove(near[0])
            loop.append(near[0])
        if loop:
            loops.append(loop)
    return loops


def _eaten_up(outline: Outline, allowances: Mapping[Treatment, float]) -> str:
    return (
        f"Nothing is left to be boarded: boards {_stated(outline.edges, allowances)}; state "
        f"smaller allowances, or check the scale of the outline."
    )


def _falls_apart(
    parts: Sequence[Region], outline: Outline, allowances: Mapping[Treatment, float]
) -> str:
    """Name the edges that bound more than one part: between them it is too narrow."""
    names = [{side.source for loop in part.loops for side in loop} for part in parts]
    shared = set.union(*(a & b for a, b in combinations(names, 2)))
    edges = [edge for edge in outline.edges if edge.name in shared] or list(outline.edges)
    return (
        f"The place to be boarded falls into {len(parts)} parts, since boards "
        f"{_stated(edges, allowances)}; state smaller allowances there, or board the parts one by "
        f"one."
    )


def _stated(edges: Sequence[Edge], allowances: Mapping[Treatment, float]) -> str:
    """Say what the allowances do, e.g. `stay 6.0 mm back from E1, E2 (wall)`."""
    said = []
    for treatment in dict.fromkeys(edge.treatment for edge in edges):
        names = ", ".join(edge.name for edge in edges if edge.treatment is treatment)
        by = allowances[treatment]
        verb = "reach past" if by > 0 else "stay back from"
        said.append(f"{verb} {names} by {abs(by):.1f} mm ({treatment})")
    return " and ".join(said)
