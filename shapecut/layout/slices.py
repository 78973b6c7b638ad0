"""Slices of a piece along its board, and the corners at its ends.

Glossary:
    slice: what a line along the board, at some distance across it, has in common with the piece.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapecut.layout.cross_section import Stretch, chords_of
from shapecut.shape.placement import Point
from shapecut.shape.region import Region

__all__ = ["Slice", "end_corners", "slices_of"]

PROBE_MM = 0.5
"""How far inside a corner's height a piece is looked at."""

SAME_END_MM = 5.0
"""A corner stands at the end of its piece if it is this near to the end of a slice beside it."""


@dataclass(frozen=True)
class Slice:
    """The stretches of a piece along the board, from left to right, at a distance across it."""

    across_mm: float
    stretches: tuple[Stretch, ...]


def slices_of(region: Region) -> Iterator[Slice]:
    """A piece just inside the heights of all its corners."""
    chords = chords_of(region)
    corners = {side.curve.start[1] for loop in region.loops for side in loop}
    for height in sorted(corners):
        for across in (height - PROBE_MM, height + PROBE_MM):
            stretches = chords.stretches_at(across)
            if stretches:
                yield Slice(across, stretches)


def end_corners(region: Region, slices: Sequence[Slice]) -> Iterator[tuple[Point, list[Slice]]]:
    """Corners that stand out at a piece's ends, not in notches, with the slices beside them."""
    for loop in region.loops:
        for before, after in zip([loop[-1], *loop[:-1]], loop, strict=True):
            (ux, uy), (vx, vy) = before.curve.direction(1.0), after.curve.direction(0.0)
            x, y = corner = after.curve.start
            beside = [here for here in slices if abs(here.across_mm - y) <= 2 * PROBE_MM]
            ends = [end for here in beside for end in (here.stretches[0][0], here.stretches[-1][1])]
            if ux * vy - uy * vx > 0 and any(abs(end - x) < SAME_END_MM for end in ends):
                yield corner, beside
