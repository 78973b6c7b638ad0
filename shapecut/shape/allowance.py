"""The field that boards are to cover: an outline with each edge moved by its own allowance.

Glossary:
    allowance: how far the boards reach past an edge (positive) or stay back from it (negative), mm.
    corner: where the carriers of two moved neighbours meet.
    step: a short straight side between the ends of two moved neighbours that have no corner.
    eaten: said of an edge that runs backwards between its corners, or an arc without radius left.

Method: let all allowances grow from nothing together; the first edge to be eaten is left out, its
neighbours become each other's, and so on until no edge is eaten.  What then still crosses, such as
the two sides of a slot, is settled by the outer boundary of all rings (see `outermost`).  Exact as
long as the tips of such crossings do not reach beyond the far side of what is left: allowances are
meant to be small against the outline.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from shapecut.errors import ShapeError
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.loops import regions
from shapecut.shape.meetings import carrier_meetings
from shapecut.shape.outermost import SAME_PLACE_MM, outermost
from shapecut.shape.outline import Edge, Outline, Treatment
from shapecut.shape.placement import Point
from shapecut.shape.region import Region, Side

__all__ = ["STEP_TURN_RAD", "with_allowances"]

STEP_TURN_RAD = math.radians(10.0)
"""Neighbours that turn less than this count as going straight on: if their allowances differ, a
step joins them, since their carriers would meet far away if at all."""

HALVINGS = 40
"""Times that the interval in which an edge is eaten is halved; only the order of edges matters."""


@dataclass(frozen=True)
class _Moved:
    """An edge moved across itself by its allowance, its ends not yet brought to the corners.

    `curve` is None for an arc with no radius left.
    """

    edge: Edge
    allowance_mm: float
    start: Point
    end: Point
    curve: Curve | None


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
    outer, *holes = (
        _loop([_moved(edge, allowances) for edge in _uneaten(ring.edges, allowances)])
        for ring in outline.rings
    )
    # A hole that closes up altogether can come back turned inside out.
    loops = [outer, *(hole for hole in holes if _area(hole) < 0)]
    found = regions(outermost(loops), thinnest_mm=SAME_PLACE_MM)
    if not found:
        raise ShapeError(_nothing_left(outline, allowances))
    if len(found) > 1:
        raise ShapeError(_falls_apart(found, outline, allowances))
    return found[0]


def _area(loop: Sequence[Side]) -> float:
    return sum(side.curve.area_term() for side in loop)


def _uneaten(edges: Sequence[Edge], allowances: Mapping[Treatment, float]) -> list[Edge]:
    """The edges of a ring that are left; none if it closes up."""
    left, reached = list(edges), 0.0
    while len(left) > 2 or any(isinstance(edge.curve, Arc) for edge in left[1:]):
        eaten = [
            (_eaten_at(left, place, allowances, reached), place)
            for place in range(len(left))
            if _is_eaten(left, place, allowances)
        ]
        if not eaten:
            return left
        reached, first = min(eaten)
        del left[first]
    return []


def _eaten_at(
    edges: Sequence[Edge], place: int, allowances: Mapping[Treatment, float], reached: float
) -> float:
    """The part of all allowances at which an edge is eaten, by bisection from `reached` up to 1."""
    low, high = reached, 1.0
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        if _is_eaten(edges, place, allowances, middle):
            high = middle
        else:
            low = middle
    return high


def _is_eaten(
    edges: Sequence[Edge], place: int, allowances: Mapping[Treatment, float], part: float = 1.0
) -> bool:
    """Whether an edge is eaten by its neighbours once a part of all allowances is applied."""
    before, here, after = (
        _moved(edges[k % len(edges)], allowances, part) for k in (place - 1, place, place + 1)
    )
    if here.curve is None:
        return True
    start, end = _corner(before, here) or here.start, _corner(here, after) or here.end
    if math.dist(start, end) < SAME_PLACE_MM:
        return True
    if isinstance(here.curve, Line):
        (dx, dy), (x0, y0), (x1, y1) = here.curve.direction(), start, end
        return dx * (x1 - x0) + dy * (y1 - y0) < 0
    return _arc_between(here.curve, start, end).ccw != here.curve.ccw


def _arc_between(arc: Arc, start: Point, end: Point) -> Arc:
    """The arc on the same circle between two other points, its sweep as near as can be."""
    ccw = replace(arc, start=start, end=end, ccw=True)
    full = arc.sweep_rad
    if abs(ccw.sweep_rad - full) <= abs(ccw.sweep_rad - math.tau - full):
        return ccw
    return replace(ccw, ccw=False)


def _loop(moved: Sequence[_Moved]) -> list[Side]:
    """Moved edges brought to their corners, with steps where there is none."""
    followers = [*moved[1:], *moved[:1]]
    corners = [_corner(here, after) for here, after in zip(moved, followers, strict=True)]
    sides: list[Side] = []
    for place, (here, after) in enumerate(zip(moved, followers, strict=True)):
        start, end = corners[place - 1] or here.start, corners[place] or here.end
        if isinstance(here.curve, Arc):
            sides.append(Side(_arc_between(here.curve, start, end), here.edge.name))
        else:
            sides.append(Side(Line(start, end), here.edge.name))
        if corners[place] is None:
            larger = max(here, after, key=lambda one: abs(one.allowance_mm))
            sides.append(Side(Line(here.end, after.start), larger.edge.name))
    return sides


def _moved(edge: Edge, allowances: Mapping[Treatment, float], part: float = 1.0) -> _Moved:
    """Move an edge away from the material by a part of its allowance."""
    curve, by = edge.curve, part * allowances[edge.treatment]
    if isinstance(curve, Line):
        dx, dy = curve.direction()
        line = Line(
            (curve.start[0] + by * dy, curve.start[1] - by * dx),
            (curve.end[0] + by * dy, curve.end[1] - by * dx),
        )
        return _Moved(edge, by, line.start, line.end, line)
    scale = max(0.0, 1 + (by if curve.ccw else -by) / curve.radius)
    start, end = (
        (
            curve.centre[0] + scale * (point[0] - curve.centre[0]),
            curve.centre[1] + scale * (point[1] - curve.centre[1]),
        )
        for point in (curve.start, curve.end)
    )
    arc = replace(curve, start=start, end=end)
    return _Moved(edge, by, start, end, arc if scale * curve.radius > SAME_PLACE_MM else None)


def _corner(before: _Moved, after: _Moved) -> Point | None:
    """Where two moved neighbours meet, or None if a step is to join them."""
    if math.dist(before.end, after.start) < SAME_PLACE_MM:
        return before.end
    if before.curve is None or after.curve is None:
        return None
    (ux, uy), (vx, vy) = before.edge.curve.direction(1.0), after.edge.curve.direction(0.0)
    straight_on = abs(math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)) < STEP_TURN_RAD
    if straight_on and abs(before.allowance_mm - after.allowance_mm) > SAME_PLACE_MM:
        return None
    (x0, y0), (x1, y1) = before.edge.curve.end, after.edge.curve.start
    middle = ((x0 + x1) / 2, (y0 + y1) / 2)
    meetings = carrier_meetings(before.curve, after.curve)
    meeting = min(meetings, key=lambda point: math.dist(point, middle), default=None)
    curved = isinstance(before.curve, Arc) or isinstance(after.curve, Arc)
    if meeting and straight_on and curved:
        # A line and an arc that all but touch may meet by chance, far from their smooth join.
        near = 2 * math.dist(before.end, after.start) + abs(before.allowance_mm)
        return meeting if math.dist(meeting, before.end) <= near else None
    return meeting


def _nothing_left(outline: Outline, allowances: Mapping[Treatment, float]) -> str:
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
