"""Board by board: the cuts in the order they are sawn, every mark measured from one end.

Marks are never measured from one another, so that errors do not add up: each tells where the line
meets the board's lower and its upper edge, counted from the board's reference end.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from shapecut.stock.cutplan import Cut, CutBoard
from shapecut.stock.ends import Parting

__all__ = ["Blade", "SawCut", "saw_cuts"]

SAME_LINE_MM = 0.01
"""Marks within this of one another are the same line."""

LEAST_SAWN_MM = 0.25
"""What a piece's end stays back from its board's is left to the saw from here on; nobody saws off
less."""


class Blade(StrEnum):
    """On which side of the mark the blade runs."""

    BEHIND = "behind the mark"
    """Away from the reference end: the mark ends a piece."""
    BEFORE = "before the mark"
    """Towards the reference end: the mark starts a piece."""


@dataclass(frozen=True)
class SawCut:
    """One cut across a board.

    Attributes:
        marks_mm: Where a straight cut meets the board's lower and upper edge, from its reference
            end; None where the cut follows the outline of the piece.
        blade: On which side of the mark the blade runs.
        labels: The pieces that it ends or starts, and so frees.
        finished: Whether it is those pieces' own end; otherwise they are trimmed afterwards.
    """

    marks_mm: tuple[float, float] | None
    blade: Blade
    labels: tuple[str, ...]
    finished: bool


def saw_cuts(board: CutBoard) -> tuple[SawCut, ...]:
    """The cuts across a board, from its reference end.

    Returns:
        The cut that starts the first piece where the board's end does not, then for every piece
        the cut that frees it, unless the board's end does.  Pieces abreast are freed together and
        ripped afterwards.
    """
    groups = [tuple(group) for _, group in groupby(board.cuts, key=lambda cut: cut.start_mm)]
    return tuple(_cuts(board, groups))


def _cuts(board: CutBoard, groups: Sequence[tuple[Cut, ...]]) -> Iterator[SawCut]:
    yield from _first_cut(groups[0])
    for group, following in zip(groups, [*groups[1:], None], strict=True):
        finish = max(cut.end_mm for cut in group)
        parting = group[-1].parting
        length = board.stock.length_mm
        if following is None and all(_is_at(length, cut.end_marks) for cut in group):
            return
        if following is not None and parting is Parting.ALONG_NEXT:
            yield _along_start(following[0])
        elif len(group) == 1 and (following is None or parting is Parting.ALONG_END):
            yield SawCut(group[0].end_marks, Blade.BEHIND, (group[0].label,), finished=True)
        else:
            yield _square(finish, Blade.BEHIND, group)


def _first_cut(group: Sequence[Cut]) -> Iterator[SawCut]:
    """The cut that starts a board's first pieces, where the board's end does not."""
    if all(_is_at(0.0, cut.start_marks) for cut in group):
        return
    if len(group) == 1 and not _is_square(group[0].start_marks):
        yield _along_start(group[0])
    elif group[0].start_mm > SAME_LINE_MM:
        yield _square(group[0].start_mm, Blade.BEFORE, group)


def _along_start(cut: Cut) -> SawCut:
    return SawCut(cut.start_marks, Blade.BEFORE, (cut.label,), finished=True)


def _square(at_mm: float, blade: Blade, group: Sequence[Cut]) -> SawCut:
    """A square cut; it finishes the pieces whose own line it is."""
    ends = [cut.start_marks if blade is Blade.BEFORE else cut.end_marks for cut in group]
    line = (at_mm, at_mm)
    finished = all(marks is not None and _nearly(marks, line) for marks in ends)
    return SawCut((at_mm, at_mm), blade, tuple(cut.label for cut in group), finished)


def _is_at(place_mm: float, marks: tuple[float, float] | None) -> bool:
    """Whether a straight end lies at a board's, but for what nobody saws off."""
    return marks is not None and all(abs(mark - place_mm) <= LEAST_SAWN_MM for mark in marks)


def _is_square(marks: tuple[float, float] | None) -> bool:
    return marks is not None and _nearly(marks, (marks[0], marks[0]))


def _nearly(marks: tuple[float, float], line: tuple[float, float]) -> bool:
    return all(abs(a - b) <= SAME_LINE_MM for a, b in zip(marks, line, strict=True))
