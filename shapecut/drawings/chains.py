"""Chain drawn paths into closed rings.

Ends within `JOINED_MM` of each other are one joint.  Where exactly two ends meet, the chain goes
on; a lone end is a gap, three or more are a fork.  Joined ends are moved to the middle between
them, and arcs keep their sweep.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product

from shapecut.drawings.drawn import JOINED_MM, DrawnPath, distance_text, place_text
from shapecut.errors import ShapeError
from shapecut.shape.bulge import rejoined
from shapecut.shape.curves import Arc, Curve
from shapecut.shape.placement import Point
from shapecut.shape.validity import CLOSED_MM

__all__ = ["DrawnRing", "closed_rings"]

ONE_CIRCLE_MM = 1e-3
"""Neighbouring arcs whose centres and radii differ by less are one arc, mm."""

MOST_COMPARED = 400
"""Lone ends among which the narrowest gap is looked for."""


@dataclass(frozen=True)
class DrawnRing:
    """A closed chain of curves and where it was drawn."""

    curves: tuple[Curve, ...]
    where: str

    @property
    def signed_area(self) -> float:
        """Area in mm², positive when the ring runs counter-clockwise."""
        return sum(curve.area_term() for curve in self.curves)


@dataclass(frozen=True)
class _End:
    """One end of an open path; `last` tells which."""

    path: int
    last: bool
    point: Point


def closed_rings(paths: Sequence[DrawnPath]) -> tuple[DrawnRing, ...]:
    """Chain paths into rings.

    Args:
        paths: In any order and sense.

    Returns:
        The rings in the order of their first paths, hairline gaps closed and arcs of one circle
        made one.

    Raises:
        ShapeError: A gap, with its place and width, or a fork.
    """
    closed = [path for path in paths if math.dist(path.start, path.end) <= JOINED_MM]
    loose = [path for path in paths if math.dist(path.start, path.end) > JOINED_MM]
    chains = [*([path] for path in closed), *_chained(loose)]
    rings = (_ring(chain) for chain in chains)
    return tuple(ring for ring in rings if ring is not None)


def _ring(chain: Sequence[DrawnPath]) -> DrawnRing | None:
    """A chain as a ring; None for a speck."""
    curves = _joined([curve for path in chain for curve in path.curves])
    if len(curves) < 2:
        return None
    return DrawnRing(_whole_arcs(curves), chain[0].where)


def _chained(paths: Sequence[DrawnPath]) -> Iterator[list[DrawnPath]]:
    """Yield closed chains of open paths, each path turned the chain's way."""
    ends = [_End(k, last, path.end if last else path.start)
            for k, path in enumerate(paths) for last in (False, True)]  # fmt: skip
    partner = _partners(ends, paths)
    unused = dict.fromkeys(range(len(paths)))
    while unused:
        first = next(iter(unused))
        chain, leaving = [], _End(first, True, paths[first].end)
        while leaving.path in unused:
            del unused[leaving.path]
            path = paths[leaving.path]
            chain.append(path if leaving.last else _turned(path))
            arriving = partner[leaving.path, leaving.last]
            leaving = replace(arriving, last=not arriving.last)
        yield chain


def _turned(path: DrawnPath) -> DrawnPath:
    return replace(path, curves=tuple(curve.reversed() for curve in reversed(path.curves)))


def _partners(ends: Sequence[_End], paths: Sequence[DrawnPath]) -> dict[tuple[int, bool], _End]:
    """For each end the one that it meets."""
    partner = {}
    lone = []
    for meeting in _meetings(ends):
        if len(meeting) > 2:
            raise ShapeError(
                f"{len(meeting)} ends meet at {place_text(meeting[0].point)}, "
                f"{_names(meeting, paths)}: an outline does not fork; leave only the outline in "
                "the drawing, or on a layer of its own."
            )
        if len(meeting) == 1:
            lone += meeting
            continue
        one, other = meeting
        partner[one.path, one.last], partner[other.path, other.last] = other, one
    if lone:
        raise ShapeError(_gap(lone, paths))
    return partner


def _names(ends: Sequence[_End], paths: Sequence[DrawnPath]) -> str:
    return " and ".join(dict.fromkeys(paths[end.path].where for end in ends[:3]))


def _gap(lone: Sequence[_End], paths: Sequence[DrawnPath]) -> str:
    """The sentence on the narrowest gap between lone ends, the likeliest to be a slip."""
    some = lone[:MOST_COMPARED]
    pairs = [(math.dist(a.point, b.point), a, b) for k, a in enumerate(some) for b in some[k + 1 :]]
    width, end, nearest = min(pairs, key=lambda pair: pair[0])
    others = len(lone) // 2 - 1
    more = f" ({others} more {'gap' if others == 1 else 'gaps'} beside it)" if others else ""
    return (
        f"the outline is open: {_names([end], paths)} ends at {place_text(end.point)}, and the "
        f"nearest other end, at {place_text(nearest.point)}, is {distance_text(width)} away{more}; "
        f"make them meet (within {JOINED_MM:g} mm counts)."
    )


def _meetings(ends: Sequence[_End]) -> Iterator[list[_End]]:
    """Yield groups of ends that lie within `JOINED_MM` of another of the group."""
    cells: dict[tuple[int, int], list[int]] = {}
    for k, end in enumerate(ends):
        cells.setdefault(_cell(end.point), []).append(k)
    unused = dict.fromkeys(range(len(ends)))
    while unused:
        group, front = [], [unused.popitem()[0]]
        while front:
            here = front.pop()
            group.append(here)
            near = [k for cell in _round(_cell(ends[here].point)) for k in cells.get(cell, ())]
            for k in near:
                if k in unused and math.dist(ends[k].point, ends[here].point) <= JOINED_MM:
                    del unused[k]
                    front.append(k)
        yield [ends[k] for k in sorted(group)]


def _cell(point: Point) -> tuple[int, int]:
    return (math.floor(point[0] / JOINED_MM), math.floor(point[1] / JOINED_MM))


def _round(cell: tuple[int, int]) -> list[tuple[int, int]]:
    return [(cell[0] + dx, cell[1] + dy) for dx, dy in product((-1, 0, 1), repeat=2)]


def _joined(curves: Sequence[Curve]) -> tuple[Curve, ...]:
    """A closed chain without gaps and without curves too short to be an edge."""
    if len(curves) == 1:
        curves = [curves[0].between(0.0, 0.5), curves[0].between(0.5, 1.0)]
    kept = [curve for curve in curves if math.dist(curve.start, curve.end) > CLOSED_MM]
    ends = [
        before.end if before.end == after.start else _middle(before.end, after.start)
        for before, after in pairwise([*kept, *kept[:1]])
    ]
    starts = [*ends[-1:], *ends[:-1]]
    return tuple(
        rejoined(curve, start, end) for curve, start, end in zip(kept, starts, ends, strict=True)
    )


def _middle(first: Point, second: Point) -> Point:
    return ((first[0] + second[0]) / 2, (first[1] + second[1]) / 2)


def _whole_arcs(curves: tuple[Curve, ...]) -> tuple[Curve, ...]:
    """The ring with neighbouring arcs of one circle made one; a whole circle is two halves."""
    breaks = [k for k, curve in enumerate(curves) if not _same_circle(curves[k - 1], curve)]
    if not breaks:
        circle = curves[0]
        start, opposite = circle.start, _opposite(circle)
        return (replace(circle, end=opposite), replace(circle, start=opposite, end=start))
    runs = zip(breaks, [*breaks[1:], breaks[0] + len(curves)], strict=True)
    return tuple(
        replace(curves[first], end=curves[(after - 1) % len(curves)].end) for first, after in runs
    )


def _opposite(curve: Curve) -> Point:
    if not isinstance(curve, Arc):
        return curve.end
    (x, y), (cx, cy) = curve.start, curve.centre
    return (2 * cx - x, 2 * cy - y)


def _same_circle(before: Curve, after: Curve) -> bool:
    return (
        isinstance(before, Arc)
        and isinstance(after, Arc)
        and before.ccw == after.ccw
        and math.dist(before.centre, after.centre) <= ONE_CIRCLE_MM
        and abs(before.radius - after.radius) <= ONE_CIRCLE_MM
    )
