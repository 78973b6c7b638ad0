"""The straight sides of a field that follow chosen edges, with what lies beside each.

Glossary:
    main side: one that runs the way of its edge; allowances add others that go by its name.
    step: a short side that allowances add between two main sides; here it counts as nothing.
    corner: where a side's carrier meets that of its neighbour.
    turn: how far the boundary turns there, to the left; negative at inside corners.
"""

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass

from shapecut.shape.curves import Arc, Line
from shapecut.shape.meetings import carrier_meetings
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Loop, Region, Side
from shapecut.shape.turning import turn_between

__all__ = ["SAME_WAY_RAD", "FieldSide", "Neighbour", "arc_along", "main_sides"]

SAME_WAY_RAD = math.radians(1.0)
"""Sides of one edge that differ by more than this in direction are steps beside it."""

SHORTEST_MM = 1.0
"""Main sides shorter than this are none."""

LONGEST_STEP_MM = 60.0
"""Sides that go by a chosen edge's name without running its way are steps up to this length."""

SAME_POINT_MM = 1e-3
"""Ends nearer than this are one point."""


@dataclass(frozen=True)
class Neighbour:
    """What lies beside a side at one of its ends.

    Attributes:
        side: The neighbouring side, steps left out.
        is_chosen: Whether it is a main side of a chosen edge itself.
        corner: Where the two meet.
        turn_rad: There, in the boundary's sense.
    """

    side: Side
    is_chosen: bool
    corner: Point
    turn_rad: float


@dataclass(frozen=True)
class FieldSide:
    """A main side.

    Attributes:
        edge: That it follows.
        line: Its course, the field on its left.
        before: At its start.
        after: At its end.
    """

    edge: str
    line: Line
    before: Neighbour
    after: Neighbour

    @property
    def frame(self) -> Placement:
        """From its start, x along it and y into the field."""
        dx, dy = self.line.direction()
        return Placement(self.line.start, math.atan2(dy, dx))


def arc_along(field: Region, edge: str) -> Arc | None:
    """The arc that an edge is; None for a straight one."""
    sides = [side for loop in field.loops for side in loop if side.source == edge]
    longest = max(sides, key=lambda side: side.curve.length, default=None)
    return longest.curve if longest and isinstance(longest.curve, Arc) else None


def main_sides(field: Region, edges: Collection[str]) -> Iterator[FieldSide]:
    """The main sides of some edges, loop by loop.

    Args:
        field: In the plane.
        edges: Names of straight ones.
    """
    ways = {edge: _way(field, edge) for edge in edges}

    def is_main(side: Side) -> bool:
        way = ways.get(side.source or "")
        return way is not None and side.curve.length > SHORTEST_MM and _runs(side, way)

    def is_step(side: Side) -> bool:
        return side.source in ways and side.curve.length < LONGEST_STEP_MM and not is_main(side)

    for loop in field.loops:
        sides = _without_steps(loop, is_step, is_main)
        for place, side in enumerate(sides):
            curve = side.curve
            if isinstance(curve, Line) and side.source and is_main(side):
                before, after = sides[place - 1], sides[(place + 1) % len(sides)]
                yield FieldSide(
                    side.source,
                    curve,
                    _neighbour(before, side, before, is_chosen=is_main(before)),
                    _neighbour(side, after, after, is_chosen=is_main(after)),
                )


def _without_steps(
    loop: Loop, is_step: Callable[[Side], bool], is_main: Callable[[Side], bool]
) -> list[Side]:
    """The sides of a loop without the steps that join two main sides."""
    stays = [not is_step(side) for side in loop]
    if not any(stays):
        return list(loop)

    def beside(place: int, sense: int) -> Side:
        while not stays[place % len(loop)]:
            place += sense
        return loop[place % len(loop)]

    return [
        side
        for place, side in enumerate(loop)
        if stays[place] or not (is_main(beside(place, -1)) and is_main(beside(place, 1)))
    ]


def _way(field: Region, edge: str) -> Point | None:
    """The direction of an edge: that of the longest straight side which goes by its name."""
    lines = [line for loop in field.loops for line in _lines(loop, edge)]
    longest = max(lines, key=lambda line: line.length, default=None)
    return longest.direction() if longest else None


def _lines(loop: Loop, edge: str) -> list[Line]:
    return [s.curve for s in loop if s.source == edge and isinstance(s.curve, Line)]


def _runs(side: Side, way: Point) -> bool:
    """Whether a straight side runs a way."""
    if not isinstance(side.curve, Line):
        return False
    dx, dy = side.curve.direction()
    return dx * way[0] + dy * way[1] > math.cos(SAME_WAY_RAD)


def _neighbour(first: Side, second: Side, other: Side, *, is_chosen: bool) -> Neighbour:
    turn = turn_between(first.curve, second.curve)
    return Neighbour(other, is_chosen, _corner(first, second), turn)


def _corner(first: Side, second: Side) -> Point:
    """Where two sides meet; the meeting of their carriers if steps between were left out."""
    end, start = first.curve.end, second.curve.start
    if math.dist(end, start) < SAME_POINT_MM:
        return end
    meetings: Sequence[Point] = carrier_meetings(first.curve, second.curve)
    return min(meetings, key=lambda point: math.dist(point, end), default=end)
