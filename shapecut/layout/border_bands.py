"""What lies along a side of a field between two distances from it, and the lines that it ends at.

Glossary:
    band: what a board, or several with their gaps, take along a side.
    limit: a line that a band ends at; it keeps what lies on its left.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from shapecut.layout.field_sides import FieldSide, Neighbour
from shapecut.shape.clip import ON_BORDER_MM, clip, strip
from shapecut.shape.curves import Line
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Loop, Region, Side

__all__ = ["band", "butted", "free_end", "mitre"]

GOES_ON_RAD = math.radians(30.0)
"""Beside an edge without border a board ends square where the place turns in less than this: along
the edge its end would be a long taper."""


def band(
    field: Region,
    side: FieldSide,
    limits: Sequence[Placement | None],
    across_mm: tuple[float, float],
    names: Sequence[str] = ("", ""),
) -> Iterator[Region]:
    """What lies along a side between two distances from it and two limits, in the side's frame.

    Args:
        field: In the plane.
        side: One of its sides.
        limits: Lines that keep what lies on their left; None where the field itself ends.
        across_mm: From the side.
        names: Sources of the sides along the limits.
    """
    to_side = side.frame.inverse()
    parts: tuple[Region, ...] = (field.placed(to_side),)
    for limit, name in zip(limits, names, strict=True):
        if limit:
            local = to_side.after(limit)
            parts = tuple(_named(p, local, name) for whole in parts for p in clip(whole, local))
    for part in (part for whole in parts for part in strip(whole, *across_mm)):
        left, _, right, _ = bounds(s.curve for s in part.outer)
        if min(right, side.line.length) - max(left, 0.0) > ON_BORDER_MM:
            yield part


def free_end(
    neighbour: Neighbour, side: FieldSide, inner_mm: float, gap_mm: float, *, at_end: bool
) -> Placement | None:
    """Where a board ends beside a side without border.

    Along a straight neighbour where the place turns inwards enough; with the field at a curved one;
    square and a gap short of the corner where the place goes on.

    Args:
        neighbour: The side without border.
        side: The one with.
        inner_mm: How far the band reaches into the field.
        gap_mm: Left where the field goes on behind the end.
        at_end: Whether the neighbour follows the side.
    """
    curve = neighbour.side.curve
    if neighbour.turn_rad < GOES_ON_RAD:
        ux, uy = side.line.direction()
        back = gap_mm if at_end else -gap_mm
        corner = (neighbour.corner[0] - back * ux, neighbour.corner[1] - back * uy)
        return _upright(corner, side.frame.turn_rad, at_end=at_end)
    if isinstance(curve, Line):
        dx, dy = curve.direction()
        line = Placement(curve.start, math.atan2(dy, dx))
        is_short = curve.length * math.sin(neighbour.turn_rad) < inner_mm + gap_mm
        return Placement(line.to_plane((0.0, gap_mm if is_short else 0.0)), line.turn_rad)
    return None


def mitre(neighbour: Neighbour, side: FieldSide, gap_mm: float, *, at_end: bool) -> Placement:
    """The bisector of a corner, moved back by half of a gap."""
    half_turn = neighbour.turn_rad / 2 if at_end else -neighbour.turn_rad / 2
    bisector = _upright(neighbour.corner, side.frame.turn_rad + half_turn, at_end=at_end)
    return Placement(bisector.to_plane((0.0, gap_mm / 2)), bisector.turn_rad)


def _upright(at: Point, turn_rad: float, *, at_end: bool) -> Placement:
    """The line through a point square to a direction, that keeps what lies before or behind it."""
    return Placement(at, turn_rad + (math.pi / 2 if at_end else -math.pi / 2))


def butted(
    neighbour: Neighbour, outer: float, inner: float, gap: float, runs_through: bool
) -> Placement:
    """Where a board ends at the board of another side: at its far face, or a gap before its near.

    At an inside corner the near face of the board that runs through is its outer one.
    """
    inside = neighbour.turn_rad < 0
    if runs_through:
        level, into = (inner, False) if inside else (outer, True)
    else:
        level, into = (outer - gap, False) if inside else (inner + gap, True)
    dx, dy = neighbour.side.curve.direction()
    frame = Placement(neighbour.side.curve.start, math.atan2(dy, dx))
    return Placement(frame.to_plane((0.0, level)), frame.turn_rad + (0.0 if into else math.pi))


def _named(region: Region, line: Placement, name: str) -> Region:
    """The region with its nameless sides along a line named."""

    def lies_along(side: Side) -> bool:
        ends = (side.curve.start, side.curve.end)
        straight = isinstance(side.curve, Line)
        return straight and all(abs(line.to_local(end)[1]) <= 2 * ON_BORDER_MM for end in ends)

    def named(loop: Loop) -> Loop:
        return tuple(
            replace(side, source=name) if side.source is None and lies_along(side) else side
            for side in loop
        )

    outer, *holes = map(named, region.loops)
    return Region(outer, tuple(holes))
