"""Small windows over a piece, only where it is worked on, laid together on as few sheets as may be.

Glossary:
    patch: a rectangle of a piece's frame, with what is plain left out between patches.
    datum: a line square across the board in each patch, at a stated distance from the reference
        end: what is left out is measured instead.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.papers.paper import Sheet
from shapecut.papers.spans import Box, spans_in
from shapecut.shape.placement import Point

__all__ = ["Patch", "Shelved", "patches_over", "shelved"]

AROUND_MM = 20.0
"""What is worked on lies at least this far inside a patch, along the board."""

BESIDE_MM = 9.0
"""A patch reaches this far past the board's edges."""

OVERLAP_MM = 12.0
"""Patches of one stretch that is longer than a page both show so much."""

PLAIN_MM = 60.0
"""A plain stretch shorter than this is not left out."""

GUTTER_MM = 4.0
"""Room between patches on a sheet."""


@dataclass(frozen=True)
class Patch:
    """A rectangle of a piece's frame.

    Attributes:
        subject: Which piece's.
        box: Along and across its board.
    """

    subject: int
    box: Box


@dataclass(frozen=True)
class Shelved:
    """A patch and the place of its lower left corner in a sheet's window."""

    patch: Patch
    corner: Point


def patches_over(
    subject: int, worked: NDArray[np.float64], board_width_mm: float, window: Sheet
) -> Iterator[Patch]:
    """Patches over what is worked on.

    Args:
        subject: Which piece's.
        worked: (N, 2, 2) segments in its frame.
        board_width_mm: Of its board.
        window: The largest patch.
    """
    low, high = -BESIDE_MM, board_width_mm + BESIDE_MM
    for bottom, top in _parts(low, high, window.height_mm):
        for begin, end in _stretches(worked, bottom, top):
            for left, right in _parts(begin, end, window.width_mm):
                yield Patch(subject, Box(left, bottom, right, top))


def _stretches(
    worked: NDArray[np.float64], low: float, high: float
) -> Iterator[tuple[float, float]]:
    """Where along the board something is worked on in a band, short plain stretches included."""
    merged: list[list[float]] = []
    for begin, end in spans_in(worked, low, high, clear_mm=AROUND_MM).tolist():
        if merged and begin - merged[-1][1] < PLAIN_MM:
            merged[-1][1] = end
        else:
            merged.append([begin, end])
    yield from ((begin, end) for begin, end in merged)


def _parts(begin: float, end: float, longest: float) -> Iterator[tuple[float, float]]:
    """A stretch in equal parts that overlap, none longer than that."""
    count = max(1, math.ceil((end - begin - OVERLAP_MM) / (longest - OVERLAP_MM) - 1e-9))
    step = (end - begin - OVERLAP_MM) / count
    for part in range(count):
        yield (begin + part * step, begin + (part + 1) * step + OVERLAP_MM)


def shelved(patches: Iterable[Patch], window: Sheet) -> list[list[Shelved]]:
    """Lay patches on sheets, in shelves from the top, the highest and longest first.

    First fit by falling height: E. G. Coffman et al., "Performance bounds for level-oriented
    two-dimensional packing algorithms", SIAM Journal on Computing 9(4), 1980.
    """
    order = sorted(patches, key=lambda p: (-round(p.box.height, 3), -p.box.width))
    shelves: list[_Shelf] = []
    for patch in order:
        room = window.width_mm - patch.box.width + 1e-6
        shelf = next((held for held in shelves if held.used <= room), None)
        if shelf is None:
            shelf = _Shelf(patch.box.height, [])
            shelves.append(shelf)
        shelf.patches.append(patch)
    return list(_stacked(shelves, window))


@dataclass
class _Shelf:
    height: float
    patches: list[Patch]

    @property
    def used(self) -> float:
        """Length taken, with the gutter before the next."""
        return sum(patch.box.width + GUTTER_MM for patch in self.patches)


def _stacked(shelves: Sequence[_Shelf], window: Sheet) -> Iterator[list[Shelved]]:
    """Shelves on sheets; they come by falling height, so that the first with room is filled."""
    sheets: list[tuple[float, list[_Shelf]]] = []
    for shelf in shelves:
        place = next((k for k, s in enumerate(sheets) if s[0] >= shelf.height - 1e-6), None)
        if place is None:
            sheets.append((window.height_mm, []))
            place = len(sheets) - 1
        room, held = sheets[place]
        sheets[place] = (room - shelf.height - GUTTER_MM, [*held, shelf])
    for _, held in sheets:
        top, laid = window.height_mm, []
        for shelf in held:
            left = 0.0
            for patch in shelf.patches:
                laid.append(Shelved(patch, (left, top - patch.box.height)))
                left += patch.box.width + GUTTER_MM
            top -= shelf.height + GUTTER_MM
        yield laid
