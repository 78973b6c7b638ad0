"""Cutting regions along straight lines; lines stay lines and arcs stay arcs.

Glossary:
    border: the straight line cut along; only what lies on one side of it is kept.
    entry, exit: where a loop comes over the border to the kept side, and where it leaves it.
    chain: the sides of a loop from an entry to the next exit.
    flush: lying along the border.

Method: with material on the left of every side, the border has material along it from each exit to
an entry further on.  Exits and entries, each sorted along the border, therefore pair by rank, and a
side along the border closes each pair.  A point within `ON_BORDER_MM` of the border lies on it and
counts as not kept, so that a mere touch is an exit and an entry at one place.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from shapecut.shape.curves import Arc, Line
from shapecut.shape.loops import mended, regions
from shapecut.shape.monotone import Knot, crossing, knots
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Loop, Region, Side

__all__ = ["ON_BORDER_MM", "clip", "strip"]

ON_BORDER_MM = 1e-6
"""Distance from the border within which a point lies on it, length below which a side is nothing,
and mean width below which a part is nothing; mm.  Far above rounding (1e-11 mm at ten metres), far
below any saw."""


@dataclass(frozen=True)
class _Border:
    """The line y = level; keeps what is above it (sense 1) or below it (sense -1)."""

    level: float
    sense: int

    def height(self, point: Point) -> float:
        """Distance of a point from the border, positive on the kept side."""
        return self.sense * (point[1] - self.level)

    def along(self, point: Point) -> float:
        """Distance along the border; the kept side is on its left."""
        return self.sense * point[0]

    def point(self, along: float) -> Point:
        """The point of the border at a distance along it."""
        return (self.sense * along, self.level)


@dataclass(frozen=True)
class _Chain:
    """Kept sides, with the places along the border where they enter and exit."""

    entry: float
    sides: Loop
    exit: float


@dataclass(frozen=True)
class _Flush:
    """Stretch of the border along which the region itself has an edge, with material kept."""

    start: float
    end: float
    source: str | None


def clip(region: Region, border: Placement) -> tuple[Region, ...]:
    """Keep what lies to the left of a directed line.

    Args:
        region: In the plane.
        border: Its local x axis is the line; the kept side is its local y > 0.

    Returns:
        The connected parts, in the plane; empty if nothing is left.  Sides along the border have
        no source, except where an edge of the region lies flush with it: that keeps its name.
    """
    parts = _clip(region.placed(border.inverse()), _Border(0.0, 1))
    return tuple(part.placed(border) for part in parts)


def strip(region: Region, low: float, high: float) -> tuple[Region, ...]:
    """Keep what lies between two levels, low < y < high.

    Returns:
        The connected parts, in the region's frame; see `clip` for the sources of their sides.
    """
    above = _clip(region, _Border(low, 1))
    return tuple(part for rest in above for part in _clip(rest, _Border(high, -1)))


def _clip(region: Region, border: _Border) -> tuple[Region, ...]:
    whole: list[Loop] = []
    chains: list[_Chain] = []
    flush: list[_Flush] = []
    for loop in region.loops:
        kept, cut = _chains(loop, border)
        whole += kept
        chains += cut
        flush += _flush_edges(loop, border)
    if not chains and not any(loop is region.outer for loop in whole):
        return ()
    if not chains and len(whole) == len(region.loops):
        return (region,)
    loops = whole + _closed_chains(chains, flush, border)
    return regions(loops, thinnest_mm=ON_BORDER_MM)


def _chains(loop: Loop, border: _Border) -> tuple[list[Loop], list[_Chain]]:
    """The loop itself if it is kept whole, or else its chains."""
    steps = [step for side in loop for step in _steps(side, border)]
    entries = [i for i, (_, entry, _) in enumerate(steps) if entry is not None]
    if not entries:
        return ([loop] if steps else []), []
    steps = steps[entries[0] :] + steps[: entries[0]]
    chains: list[_Chain] = []
    entry, sides = 0.0, list[Side]()
    for side, came_in, went_out in steps:
        if came_in is not None:
            entry, sides = came_in, []
        if side is not None:
            sides.append(side)
        if went_out is not None:
            chains.append(_Chain(entry, tuple(sides), went_out))
    return [], chains


_Step = tuple[Side | None, float | None, float | None]
"""A kept part of a side (None if too short), where it enters and where it exits, if it does."""


def _steps(side: Side, border: _Border) -> Iterator[_Step]:
    """The kept parts of a side in order, with their entries and exits."""
    curve = side.curve
    if isinstance(curve, Arc):
        height = border.height(curve.centre)
        # The whole circle is clear of the border, by enough for its ends to be found so as well.
        if abs(height) > curve.radius + 2 * ON_BORDER_MM:
            if height > 0:
                yield side, None, None
            return
    places = knots(curve)
    kept = [border.height(point) > ON_BORDER_MM for _, point in places]
    if all(kept):
        yield side, None, None
        return
    if not any(kept):
        return
    begin, entry = places[0], None
    for first, last, first_kept, last_kept in zip(places, places[1:], kept, kept[1:], strict=False):
        if last_kept and not first_kept:
            begin = _meeting(side, first, last, border)
            entry = border.along(begin[1])
        elif first_kept and not last_kept:
            end = _meeting(side, last, first, border)
            yield _part(side, begin, end), entry, border.along(end[1])
            entry = None
    if kept[-1]:
        yield _part(side, begin, places[-1]), entry, None


def _meeting(side: Side, outside: Knot, inside: Knot, border: _Border) -> Knot:
    """Where a run meets the border; at its outer knot if that lies on the border."""
    fraction, point = outside
    if border.height(point) >= -ON_BORDER_MM:
        return (fraction, border.point(border.along(point)))
    first, last = sorted((outside, inside))
    return crossing(side.curve, first, last, border.level)


def _part(side: Side, first: Knot, last: Knot) -> Side | None:
    """The side between two knots, or None if that is too short to be anything."""
    curve = side.curve
    if (last[0] - first[0]) * curve.length < ON_BORDER_MM:
        return None
    return Side(replace(curve, start=first[1], end=last[1]), side.source)


def _flush_edges(loop: Loop, border: _Border) -> list[_Flush]:
    """Straight sides that lie on the border and run along it, so that their material is kept."""
    found = []
    for side in loop:
        curve = side.curve
        if isinstance(curve, Arc) or abs(border.height(curve.start)) > ON_BORDER_MM:
            continue
        start, end = border.along(curve.start), border.along(curve.end)
        if abs(border.height(curve.end)) <= ON_BORDER_MM and start < end:
            found.append(_Flush(start, end, side.source))
    return found


def _closed_chains(
    chains: Sequence[_Chain], flush: Sequence[_Flush], border: _Border
) -> list[Loop]:
    """Join chains to loops with sides along the border."""
    loops: list[Loop] = []
    for cycle in _cycles(_followers(chains)):
        sides: list[Side] = []
        for here, there in zip(cycle, [*cycle[1:], cycle[0]], strict=True):
            sides += chains[here].sides
            sides += _border_sides(chains[here].exit, chains[there].entry, flush, border)
        if len(sides) > 1:
            loops.append(mended(sides))
    return loops


def _followers(chains: Sequence[_Chain]) -> dict[int, int]:
    """Which chain follows which: the k-th exit along the border leads to the k-th entry."""
    exits = sorted(range(len(chains)), key=lambda i: chains[i].exit)
    entries = sorted(range(len(chains)), key=lambda i: chains[i].entry)
    follower = dict(zip(exits, entries, strict=True))
    for left, right in pairwise(exits):
        # A loop that would touch itself on the border is a loop and a hole in it (or in the bay
        # beside it) that touch: exchanging the two followers takes them apart.
        touching = chains[right].exit - chains[follower[left]].entry <= ON_BORDER_MM
        if touching and any({left, right} <= set(cycle) for cycle in _cycles(follower)):
            follower[left], follower[right] = follower[right], follower[left]
    return follower


def _cycles(follower: dict[int, int]) -> list[list[int]]:
    """The cycles of a permutation."""
    left = dict(follower)
    cycles = []
    while left:
        cycle = [next(iter(left))]
        while (following := left.pop(cycle[-1])) != cycle[0]:
            cycle.append(following)
        cycles.append(cycle)
    return cycles


def _border_sides(
    start: float, end: float, flush: Sequence[_Flush], border: _Border
) -> Iterator[Side]:
    """Sides along the border, named where an edge of the region lies flush with it."""
    overlaps = sorted(
        (max(edge.start, start), min(edge.end, end), edge.source)
        for edge in flush
        if min(edge.end, end) - max(edge.start, start) > ON_BORDER_MM
    )
    at = start
    for first, last, source in [*overlaps, (end, end, None)]:
        if first - at > ON_BORDER_MM:
            yield Side(Line(border.point(at), border.point(first)))
            at = first
        if last - at > ON_BORDER_MM:
            yield Side(Line(border.point(at), border.point(last)), source)
            at = last
