"""Board by board: the cuts in the order they are sawn, every mark measured from one end.

Marks are never measured from one another, so that errors do not add up: each tells where the line
meets the board's lower and its upper edge, counted from the board's reference end.  Of an end that
is no straight cut they are where its outline meets the edges.
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


class Blade(StrEnum):
    """On which side of the mark the blade runs."""

    BEHIND = "behind the mark"
    """Away from the reference end: the mark ends a piece."""
    BEFORE = "before the mark"
    """Towards the reference end: the mark starts a piece."""


@dataclass(frozen=True)
class SawCut:
    """One cut right across a board.

    Attributes:
        lower_mm: Where the mark meets the board's lower edge, from its reference end.
        upper_mm: The same of its upper edge.
        blade: On which side of the mark the blade runs.
        labels: The pieces whose line it is; with a square cut before slanted ends, those it frees.
        finished: Whether the mark is those pieces' own end; otherwise they are trimmed to their
            line after it.
    """

    lower_mm: float
    upper_mm: float
    blade: Blade
    labels: tuple[str, ...]
    finished: bool


def saw_cuts(board: CutBoard) -> tuple[SawCut, ...]:
    """The cuts across a board, from its reference end.

    Returns:
        The cut that starts the first piece where the board's end does not, then for every piece
        the cut that frees it.  Pieces abreast are freed together and ripped afterwards.
    """
    groups = [tuple(group) for _, group in groupby(board.cuts, key=lambda cut: cut.start_mm)]
    return tuple(_cuts(board, groups))


def _cuts(board: CutBoard, groups: Sequence[tuple[Cut, ...]]) -> Iterator[SawCut]:
    first = groups[0][0]
    start = first.start_marks or (first.start_mm,) * 2
    if len(groups[0]) == 1 and abs(start[0] - start[1]) > SAME_LINE_MM:
        yield SawCut(*start, Blade.BEFORE, (first.label,), finished=True)
    elif first.start_mm > SAME_LINE_MM:
        yield _square(first.start_mm, Blade.BEFORE, groups[0])
    for group, following in zip(groups, [*groups[1:], None], strict=True):
        cut, finish = group[0], max(cut.end_mm for cut in group)
        if len(group) > 1 or cut.end_marks is None:
            yield _square(finish, Blade.BEHIND, group)
        elif following is not None and group[-1].parting is Parting.ALONG_NEXT:
            begin = following[0].start_marks or (following[0].start_mm,) * 2
            yield SawCut(*begin, Blade.BEFORE, (following[0].label,), finished=True)
        elif following is not None and group[-1].parting is Parting.SQUARE:
            yield _square(finish, Blade.BEHIND, group)
        elif following is not None or finish < board.stock.length_mm - SAME_LINE_MM:
            yield SawCut(*cut.end_marks, Blade.BEHIND, (cut.label,), finished=True)


def _square(at_mm: float, blade: Blade, group: Sequence[Cut]) -> SawCut:
    """A square cut; it finishes the pieces whose own line it is."""
    side = "start_marks" if blade is Blade.BEFORE else "end_marks"
    finished = all(
        max(abs(mark - at_mm) for mark in getattr(cut, side) or (at_mm,)) <= SAME_LINE_MM
        for cut in group
    )
    return SawCut(at_mm, at_mm, blade, tuple(cut.label for cut in group), finished)
