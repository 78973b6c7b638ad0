"""The field that boards are to cover: an outline with each edge moved by its own allowance.

Glossary:
    allowance: how far the boards reach past an edge (positive) or stay back from it (negative), mm.
    raw loop: the moved edges of one ring, each from its corner with the one before to its corner
        with the next; it may run backwards and cross itself where edges are eaten up.
    step: a short straight side between two neighbours whose moved curves do not meet near their
        corner.

Method: a corner of the field is where the carriers of the two moved edges meet.  The outer boundary
of all raw loops together bounds the field (see `outermost`).  What is eaten up altogether can come
back turned inside out; it then lies in the gap of some edge, and goes too.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from shapecut.errors import ShapeError
from shapecut.shape.curves import Curve, Line
from shapecut.shape.loops import regions
from shapecut.shape.meetings import carrier_meetings, fraction_at
from shapecut.shape.monotone import winding
from shapecut.shape.outermost import PROBE_MM, SAME_PLACE_MM, RawSide, beside, outermost
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.placement import Point
from shapecut.shape.region import Region, Side

__all__ = ["STEP_TURN_RAD", "with_allowances"]

STEP_TURN_RAD = math.radians(10.0)
"""Neighbours that turn less than this at their corner count as going straight on: if their
allowances differ, a step joins them, since their carriers would meet far away if at all."""


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
        for region in regions(outermost(kept), thinnest_mm=SAME_PLACE_MM)
        if not _inside_out(region, outline, allowances)
    )
    if not found:
        raise ShapeError(_eaten_up(outline, allowances))
    if len(found) > 1:
        raise ShapeError(_falls_apart(found, outline, allowances))
    return found[0]


def _inside_out(region: Region, outline: Outline, allowances: Mapping[Treatment, float]) -> bool:
    """Whether a region is the inside-out remainder of what the allowances eat up."""
    gaps = {edge.name: _Gap(edge.curve, -allowances[edge.treatment]) for edge in outline.edges}
    curves = [edge.curve for edge in outline.edges]
    inside_only = all(gap.width_mm >= 0 for gap in gaps.values())
    wrong = 0.0
    for side in region.outer:
        point = beside(side.curve, PROBE_MM)
        in_gap = any(gap.holds(point) for name, gap in gaps.items() if name != side.source)
        # Boards that nowhere reach past the outline lie inside it.
        if in_gap or (inside_only and winding(curves, point) <= 0):
            wrong += side.curve.length
    # Where a nosing meets a wall a side may run through the wall's gap, but not most of them.
    return wrong > sum(side.curve.length for side in region.outer) / 2


def _raw_loop(ring: Ring, allowances: Mapping[Treatment, float]) -> list[RawSide]:
    moved = [_moved(edge, allowances[edge.treatment]) for edge in ring.edges]
    corners = [
        _corner(before, after) for before, after in zip(moved, [*moved[1:], moved[0]], strict=True)
    ]
    raw: list[RawSide] = []
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


def _brought_to(moved: _Moved, start: Point, end: Point) -> RawSide | None:
    """A moved edge between its corners; None if they coincide."""
    if moved.curve is None or math.dist(start, end) < SAME_PLACE_MM:
        return None
    name = moved.edge.name
    if isinstance(moved.curve, Line):
        (dx, dy), line = moved.curve.direction(), Line(start, end)
        forward = dx * (end[0] - start[0]) + dy * (end[1] - start[1]) > 0
        return RawSide(Side(line, name), forward)
    full = moved.curve.sweep_rad
    arc = replace(moved.curve, start=start, end=end, ccw=True)
    # Of the two ways round, the one that differs least from the edge's own sweep.
    sweep = min((arc.sweep_rad, arc.sweep_rad - math.tau), key=lambda s: abs(s - full))
    forward = (sweep * full > 0) != moved.turned_over
    return RawSide(Side(replace(arc, ccw=sweep > 0), name), forward)


def _step(before: _Moved, after: _Moved) -> list[RawSide]:
    if math.dist(before.end, after.start) < SAME_PLACE_MM:
        return []
    larger = max(before, after, key=lambda moved: abs(moved.allowance_mm))
    return [RawSide(Side(Line(before.end, after.start), larger.edge.name), False)]


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
    for treatment in dict.fromkeys(edge.treatment for edge in edges if allowances[edge.treatment]):
        names = ", ".join(edge.name for edge in edges if edge.treatment is treatment)
        by = allowances[treatment]
        verb = "reach past" if by > 0 else "stay back from"
        said.append(f"{verb} {names} by {abs(by):.1f} mm ({treatment})")
    return " and ".join(said)
