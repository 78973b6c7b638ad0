"""Parts of a piece too narrow to last: arms beside a notch, thin points, necks between two bites.

Glossary:
    arm: a stretch along the board over which a part of the piece is narrower, across the board,
        than the smallest rip.
    neck: an arm that widens again at both its ends.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shapecut.layout.cross_section import chords_of
from shapecut.shape.region import Region

__all__ = ["LEAST_SHARE", "Arm", "narrow_arms"]

FLATTENING_MM = 0.1
"""Greatest distance of the chords from their arc while probing."""

LEAST_SHARE = 2.0
"""What is narrow over less than this many smallest rips is a corner, not an arm, unless it is a
neck."""

SAME_PLACE_MM = 1e-6
"""Corners nearer to each other along the board are at one place."""


@dataclass(frozen=True)
class Arm:
    """A narrow arm of a piece.

    Attributes:
        start_mm: Where along the piece it begins.
        end_mm: Where it ends.
        narrowest_mm: Its least extent across the board.
        area_mm2: Its area.
        across_mm: Across-coordinates (low, high) of its end.
        widens: Whether it grows into a wider part at its start, and at its end.
    """

    start_mm: float
    end_mm: float
    narrowest_mm: float
    area_mm2: float
    across_mm: tuple[float, float]
    widens: tuple[bool, bool]

    @property
    def mean_mm(self) -> float:
        """Its mean extent across the board."""
        return self.area_mm2 / (self.end_mm - self.start_mm)

    @property
    def is_neck(self) -> bool:
        """Whether wider parts hang together by it."""
        return all(self.widens)

    def continues(self, before: "Arm") -> bool:
        """Whether this stretch carries on where another one ends."""
        together = _overlap(self.across_mm, before.across_mm)
        return self.start_mm - before.end_mm < SAME_PLACE_MM and together

    def joined(self, before: "Arm") -> "Arm":
        """The two as one."""
        return replace(
            self,
            start_mm=before.start_mm,
            narrowest_mm=min(self.narrowest_mm, before.narrowest_mm),
            area_mm2=self.area_mm2 + before.area_mm2,
            widens=(before.widens[0], self.widens[1]),
        )


def narrow_arms(region: Region, narrow_mm: float) -> tuple[Arm, ...]:
    """The arms of a piece that are narrower than a given width.

    The piece is taken apart into trapezoids by lines across the board through its corners; within
    each the width changes evenly, so that the narrow part of it is known exactly.

    Args:
        region: In the piece's frame, x along the board.
        narrow_mm: Compared with the extent of each part across the board.

    Returns:
        From the reference end on.
    """
    done: list[Arm] = []
    growing: list[Arm] = []
    slabs = list(_slabs(region))
    for before_it, slab, after_it in zip([[], *slabs], slabs, [*slabs[1:], []], strict=False):
        grown = []
        for arm in (_narrow_part(part, before_it, after_it, narrow_mm) for part in slab):
            if arm is None:
                continue
            before = next((old for old in growing if arm.continues(old)), None)
            if before:
                growing.remove(before)
            grown.append(arm.joined(before) if before else arm)
        done += growing
        growing = grown
    done += growing
    least_mm = LEAST_SHARE * narrow_mm
    return tuple(arm for arm in done if arm.is_neck or arm.end_mm - arm.start_mm >= least_mm)


_Across = tuple[float, float]


def _overlap(first: _Across, second: _Across) -> bool:
    return first[0] < second[1] + SAME_PLACE_MM and second[0] < first[1] + SAME_PLACE_MM


@dataclass(frozen=True)
class _Trapezoid:
    """A part between two lines across the board: (low, high) on its left and on its right."""

    left: float
    right: float
    at_left: _Across
    at_right: _Across

    @property
    def widths(self) -> _Across:
        return self.at_left[1] - self.at_left[0], self.at_right[1] - self.at_right[0]


def _slabs(region: Region) -> Iterator[Sequence[_Trapezoid]]:
    """The trapezoids between one corner and the next along the board, upwards."""
    chords = chords_of(region, tolerance_mm=FLATTENING_MM)
    starts, ends = chords.starts, chords.ends
    corners = np.unique(starts[:, 0])
    for left, right in zip(corners[:-1].tolist(), corners[1:].tolist(), strict=True):
        if right - left < SAME_PLACE_MM:
            continue
        middle = (left + right) / 2
        crossing = (starts[:, 0] <= middle) != (ends[:, 0] <= middle)
        (xa, ya), (xb, yb) = starts[crossing].T, ends[crossing].T
        at = ya + (np.array([[left], [middle], [right]]) - xa) / (xb - xa) * (yb - ya)
        upwards = at[:, np.argsort(at[1])]
        yield [
            _Trapezoid(left, right, (low[0], high[0]), (low[2], high[2]))
            for low, high in zip(upwards.T[::2].tolist(), upwards.T[1::2].tolist(), strict=True)
        ]


def _narrow_part(
    part: _Trapezoid,
    before_it: Sequence[_Trapezoid],
    after_it: Sequence[_Trapezoid],
    narrow_mm: float,
) -> Arm | None:
    """The narrow stretch of one trapezoid, seen with the trapezoids of its neighbours."""
    first, last = part.widths
    if min(first, last) >= narrow_mm:
        return None
    share = (narrow_mm - first) / (last - first) if max(first, last) > narrow_mm else 0.0
    turn = part.left + share * (part.right - part.left)
    from_wide = first > narrow_mm or any(
        other.widths[1] > narrow_mm and _overlap(other.at_right, part.at_left)
        for other in before_it
    )
    to_wide = last > narrow_mm or any(
        other.widths[0] > narrow_mm and _overlap(other.at_left, part.at_right) for other in after_it
    )
    start = turn if first > narrow_mm else part.left
    end = turn if last > narrow_mm else part.right
    if end - start < SAME_PLACE_MM:
        return None
    return Arm(
        start_mm=start,
        end_mm=end,
        narrowest_mm=min(first, last),
        area_mm2=(end - start) * (min(first, narrow_mm) + min(last, narrow_mm)) / 2,
        across_mm=part.at_right,
        widens=(from_wide, to_wide),
    )
