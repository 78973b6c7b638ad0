"""Arms of a piece too narrow to last: beside a notch, or where a slanted end runs out thin.

Glossary:
    arm: a stretch along the board over which a part of the piece is narrower, across the board,
        than the smallest rip.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.region import Region

__all__ = ["Arm", "narrow_arms"]

FLATTENING_MM = 0.1
"""Greatest distance of the chords from their arc while probing."""

LEAST_SHARE = 2.0
"""What is narrow over less than this many smallest rips is a corner, not an arm."""

SAME_PLACE_MM = 1e-6
"""Corners nearer to each other along the board are at one place."""


@dataclass(frozen=True)
class Arm:
    """A narrow arm of a piece.

    Attributes:
        start_mm: Where along the piece it begins.
        end_mm: Where it ends.
        narrowest_mm: Its least extent across the board.
        widest_mm: Its greatest.
        across_mm: Across-coordinates (low, high) of its end.
    """

    start_mm: float
    end_mm: float
    narrowest_mm: float
    widest_mm: float
    across_mm: tuple[float, float]

    def continues(self, before: "Arm") -> bool:
        """Whether this stretch carries on where another one ends."""
        (low, high), (low_before, high_before) = self.across_mm, before.across_mm
        together = low < high_before + SAME_PLACE_MM and low_before < high + SAME_PLACE_MM
        return self.start_mm - before.end_mm < SAME_PLACE_MM and together

    def joined(self, before: "Arm") -> "Arm":
        """The two as one."""
        return replace(
            self,
            start_mm=before.start_mm,
            narrowest_mm=min(self.narrowest_mm, before.narrowest_mm),
            widest_mm=max(self.widest_mm, before.widest_mm),
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
    for slab in _slabs(region):
        found = [arm for corners in slab if (arm := _narrow_part(corners, narrow_mm))]
        grown = []
        for arm in found:
            before = next((old for old in growing if arm.continues(old)), None)
            if before:
                growing.remove(before)
            grown.append(arm.joined(before) if before else arm)
        done += growing
        growing = grown
    done += growing
    return tuple(arm for arm in done if arm.end_mm - arm.start_mm >= LEAST_SHARE * narrow_mm)


_Trapezoid = tuple[float, float, tuple[float, float], tuple[float, float]]
"""Left and right end along the board; (low, high) across it at the left and at the right end."""


def _slabs(region: Region) -> Iterator[list[_Trapezoid]]:
    """The trapezoids between one corner and the next along the board, upwards."""
    starts, ends = _segments(region)
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
            (left, right, (low[0], high[0]), (low[2], high[2]))
            for low, high in zip(upwards.T[::2].tolist(), upwards.T[1::2].tolist(), strict=True)
        ]


def _narrow_part(trapezoid: _Trapezoid, narrow_mm: float) -> Arm | None:
    left, right, (low, high), (low_end, high_end) = trapezoid
    first, last = high - low, high_end - low_end
    if min(first, last) >= narrow_mm:
        return None
    share = (narrow_mm - first) / (last - first) if max(first, last) > narrow_mm else 0.0
    turn = left + share * (right - left)
    if first > narrow_mm:
        return Arm(turn, right, last, narrow_mm, (low_end, high_end))
    if last > narrow_mm:
        return Arm(left, turn, first, narrow_mm, (low_end, high_end))
    return Arm(left, right, min(first, last), max(first, last), (low_end, high_end))


def _segments(region: Region) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The boundary as straight segments: their starts and ends, (N, 2) each."""
    rings = [
        np.concatenate([side.curve.flattened(FLATTENING_MM)[:-1] for side in loop])
        for loop in region.loops
    ]
    return np.concatenate(rings), np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
