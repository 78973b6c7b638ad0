"""The field that boards are to cover: an outline with each edge moved by its own allowance.

Glossary:
    allowance: how far the boards reach past an edge (positive) or stay back from it (negative), mm.
    corner: where the carriers of two moved neighbours meet.
    step: a short straight side between the ends of two moved neighbours that have no corner.
    carried on: said of a treatment that is given to the nearest part of the next edge as well.
    eaten: said of an edge that runs backwards between its corners, or an arc without radius left.

Method: carry the treatments of edges that boards stay back from on past their ends, so that boards
stay back from these ends too.  Let all allowances grow from nothing together; the first edge to be
eaten is left out, its neighbours become each other's, and so on until no edge is eaten.  What then
still crosses, such as the two sides of a slot, is settled by the outer boundary of all rings (see
`outermost`).  Exact as long as the tips of such crossings do not reach beyond the far side of what
is left: allowances are meant to be small against the outline.  Where the field still comes nearer
to an edge than it is to stay back, as at a sharp point or behind a thin post, it is cut back (see
`clearance`).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from shapecut.errors import ShapeError
from shapecut.shape.clearance import KeptClear, cleared
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.loops import regions
from shapecut.shape.meetings import carrier_meetings
from shapecut.shape.offset import offset
from shapecut.shape.outermost import SAME_PLACE_MM, outermost
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.placement import Point
from shapecut.shape.region import Region, Side

__all__ = ["STEP_TURN_RAD", "with_allowances"]

STEP_TURN_RAD = math.radians(10.0)
"""Neighbours that turn less than this count as going straight on: if their allowances differ, a
step joins them, since their carriers would meet far away if at all."""

SHARPEST_RAD = math.pi / 2
"""Greatest turn to the right round which a treatment is carried on; round sharper points the mitre
would reach far, and cutting the field back from the edge takes less away."""

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
    after the neighbour with the lesser allowance.

    No boards come nearer to an edge, its ends included, than they are to stay back from it: where
    the outline goes straight on or turns round a point of the wall, to an edge that they stay back
    from less, the gap goes on past the end of the wall by its own width and then ends square.

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
        _loop([_moved(edge, allowances) for edge in _uneaten(edges, allowances)])
        for edges in (_carried_on(ring, allowances) for ring in outline.rings)
    )
    # A hole that closes up altogether can come back turned inside out.
    loops = [outer, *(hole for hole in holes if _area(hole) < 0)]
    kept_clear = [
        KeptClear(edge.name, edge.curve, -allowances[edge.treatment])
        for edge in outline.edges
        if allowances[edge.treatment] < 0
    ]
    found = regions(cleared(outermost(loops), kept_clear), thinnest_mm=SAME_PLACE_MM)
    if not found:
        raise ShapeError(_nothing_left(outline, allowances))
    if len(found) > 1:
        raise ShapeError(_falls_apart(found, outline, allowances))
    return found[0]


def _carried_on(ring: Ring, allowances: Mapping[Treatment, float]) -> list[Edge]:
    """The edges of a ring, those cut in two or three whose neighbours' treatments are carried on.

    The parts go by the name and the treatment of the edge that they take after.
    """
    befores, afters = (ring.edges[-1], *ring.edges[:-1]), (*ring.edges[1:], ring.edges[0])
    edges: list[Edge] = []
    for before, edge, after in zip(befores, ring.edges, afters, strict=True):
        length = edge.curve.length
        lead = _carried_mm(before, edge, _turn(before, edge), allowances) / length
        tail = _carried_mm(after, edge, _turn(edge, after), allowances) / length
        together = max(1.0, lead + tail)
        first, last = lead / together, 1 - tail / together
        parts = ((0.0, first, before), (first, last, edge), (last, 1.0, after))
        edges += [
            replace(like, curve=edge.curve.between(start, end))
            for start, end, like in parts
            if (end - start) * length > SAME_PLACE_MM
        ]
    return edges


def _carried_mm(
    kept_clear: Edge, edge: Edge, turn_rad: float, allowances: Mapping[Treatment, float]
) -> float:
    """How far along an edge a neighbour's treatment is carried on from their corner.

    Not at all if boards stay back from the edge as far, or if the mitre keeps them off the corner.
    """
    gap = -allowances[kept_clear.treatment]
    if gap <= max(0.0, -allowances[edge.treatment]):
        return 0.0
    if not -SHARPEST_RAD <= turn_rad < STEP_TURN_RAD:
        return 0.0
    if isinstance(edge.curve, Line):
        return gap
    # The step is cut along the radius, all of which is to be a gap away from the corner.
    return edge.curve.radius * math.asin(min(1.0, gap / edge.curve.radius))


def _turn(before: Edge, after: Edge) -> float:
    """How far the outline turns to the left at the corner of two edges, in (-π, π]."""
    (ux, uy), (vx, vy) = before.curve.direction(1.0), after.curve.direction(0.0)
    return math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)


def _area(loop: Sequence[Side]) -> float:
    return sum(side.curve.area_term() for side in loop)


def _uneaten(edges: Sequence[Edge], allowances: Mapping[Treatment, float]) -> list[Edge]:
    """The edges of a ring that are left; none if it closes up."""
    left, reached = list(edges), 0.0
    # Three edges can enclose something, and so can two if one of them is an arc.
    while len(left) >= (2 if any(isinstance(edge.curve, Arc) for edge in left) else 3):
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
            kept_from = min(here, after, key=lambda one: one.allowance_mm)
            sides.append(Side(Line(here.end, after.start), kept_from.edge.name))
    return sides


def _moved(edge: Edge, allowances: Mapping[Treatment, float], part: float = 1.0) -> _Moved:
    """Move an edge away from the material by a part of its allowance."""
    by = part * allowances[edge.treatment]
    moved = offset(edge.curve, by)
    return _Moved(edge, by, moved.start, moved.end, moved.curve)


def _corner(before: _Moved, after: _Moved) -> Point | None:
    """Where two moved neighbours meet, or None if a step is to join them."""
    if math.dist(before.end, after.start) < SAME_PLACE_MM:
        return before.end
    if before.curve is None or after.curve is None:
        return None
    straight_on = abs(_turn(before.edge, after.edge)) < STEP_TURN_RAD
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
    stated = _stated(outline.edges, allowances)
    if not stated:
        return (
            f"Nothing is left to be boarded: the outline of {outline.edges[0].name} encloses next "
            f"to nothing; check its coordinates and its scale."
        )
    return (
        f"Nothing is left to be boarded: boards {stated}; state smaller allowances, or check the "
        f"scale of the outline."
    )


def _falls_apart(
    parts: Sequence[Region], outline: Outline, allowances: Mapping[Treatment, float]
) -> str:
    """Name the edges that bound more than one part: between them it is too narrow."""
    names = [{side.source for loop in part.loops for side in loop} for part in parts]
    shared = set.union(*(a & b for a, b in combinations(names, 2)))
    edges = [edge for edge in outline.edges if edge.name in shared]
    stated = _stated(edges, allowances) or _stated(outline.edges, allowances)
    return (
        f"The place to be boarded falls into {len(parts)} parts, since boards {stated}; state "
        f"smaller allowances there, or board the parts one by one."
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
