"""What is left of cut boards and worth keeping for the next job, with its real ends."""

from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass
from math import hypot

from shapecut.stock.cutplan import Cut, Offcut
from shapecut.stock.ends import End, straight
from shapecut.stock.segments import Segment

__all__ = ["Filled", "leftovers"]


@dataclass(frozen=True)
class Filled:
    """A segment with its cuts.

    Attributes:
        segment: Of a board.
        cuts: From its start; at least one.
        end: Of the last part, as it lies.
    """

    segment: Segment
    cuts: tuple[Cut, ...]
    end: End

    @property
    def end_mm(self) -> float:
        """Where the last part ends."""
        return max(cut.end_mm for cut in self.cuts)


_Edges = tuple[float, float, float, float]
"""Where an offcut's lower edge begins and ends, and where its upper edge does."""


def leftovers(
    number: int,
    filled: Sequence[Filled],
    untouched: Sequence[Segment],
    *,
    kerf_mm: float,
    least_mm: float,
    names: Set[str],
) -> tuple[Offcut, ...]:
    """The offcuts of one board whose shorter edge is at least `least_mm` long.

    Args:
        number: The board's.
        filled: Its segments with cuts, from its reference end.
        untouched: Its segments without.
        kerf_mm: What the cut that frees the last piece takes.
        least_mm: The shortest length worth keeping.
        names: Taken already.
    """
    rests = [_behind(done, kerf_mm) for done in filled]
    rests += [_between(segment, segment.start_mm, segment.start) for segment in untouched]
    worth = [edges for edges in rests if min(edges[1] - edges[0], edges[3] - edges[2]) >= least_mm]
    own = filled[0].segment.stock.on_hand
    stem = f"board {number}" if own is None else f"rest of {own.name.removeprefix('rest of ')}"
    fresh = _unused_names(stem, names)
    found = []
    for edges in worth:
        first = min(edges[0], edges[2])
        low_0, low_1, up_0, up_1 = (round(place - first, 3) for place in edges)
        found.append(Offcut(next(fresh), (low_0, low_1), (up_0, up_1)))
    return tuple(found)


def _behind(done: Filled, kerf_mm: float) -> _Edges:
    """What is left behind the last part, its end carried on where that is one straight cut."""
    end = done.end if straight(done.end) else ()
    slant = hypot(1.0, (end[0][0] - end[-1][0]) / (end[-1][1] - end[0][1])) if end else 1.0
    return _between(done.segment, done.end_mm + kerf_mm * slant, end)


def _between(segment: Segment, start_mm: float, start: End) -> _Edges:
    """From a line, its end given as of the part before it, to the segment's own end."""
    low_0, up_0 = (start_mm - start[i][0] if start else start_mm for i in (0, -1))
    own, end_mm = segment.end, segment.end_mm
    low_1, up_1 = (end_mm + own[i][0] if own else end_mm for i in (0, -1))
    return low_0, low_1, up_0, up_1


def _unused_names(stem: str, names: Set[str]) -> Iterator[str]:
    """The stem, then the stem with numbers, as far as they are not taken."""
    place = 1
    while True:
        name = stem if place == 1 else f"{stem} ({place})"
        if name not in names:
            yield name
        place += 1
