"""The stretches of board that pieces are cut from: of bought boards, and of offcuts on hand."""

from dataclasses import dataclass

from shapecut.stock.cutplan import Offcut, Stock
from shapecut.stock.ends import SQUARE, End
from shapecut.stock.grid import steps_down, steps_up
from shapecut.stock.job import Job

__all__ = ["Segment", "segments_of", "useful_segments"]


@dataclass(frozen=True)
class Segment:
    """A stretch of board that pieces are cut from, mm from the board's reference end.

    Attributes:
        stock: The board; an offcut with stretches to avoid has several segments.
        start_mm: Where the extreme of its start lies: from there on the board is whole.
        end_mm: Where the extreme of its end lies.
        start: Its start, seen from the pieces: how far it stands back from its extreme.
        end: Its end.
    """

    stock: Stock
    start_mm: float
    end_mm: float
    start: End = SQUARE
    end: End = SQUARE

    @property
    def length_mm(self) -> float:
        """Between its extremes."""
        return self.end_mm - self.start_mm


def useful_segments(job: Job) -> tuple[Segment, ...]:
    """All segments that some blank may fit, rising in length, bought boards before offcuts."""
    first = job.squared_end_mm
    bought = [Segment(stock, first, first + job.usable_mm(stock)) for stock in job.stock]
    on_hand = [segment for offcut in job.on_hand for segment in segments_of(offcut, job)]
    shortest = steps_up(min(blank.length_mm for blank in job.blanks))
    useful = [
        segment
        for segment in (*bought, *on_hand)
        if steps_down(segment.length_mm + _deepest(segment)) >= shortest
        and steps_down(segment.length_mm) > 0
    ]
    return tuple(sorted(useful, key=lambda segment: segment.length_mm))


def _deepest(segment: Segment) -> float:
    """How far pieces may reach past the extremes of the segment's ends."""
    ends = (segment.start, segment.end)
    return sum(max((depth for depth, _ in end), default=0.0) for end in ends)


def segments_of(offcut: Offcut, job: Job) -> tuple[Segment, ...]:
    """The stretches of an offcut between those to be avoided, a kerf apart at least.

    Beside one that is to be avoided a stretch ends square, also where that lies in a slanted end.
    """
    stock = Stock(offcut.length_mm, offcut.cost, 1, offcut)
    (low_0, low_1), (high_0, high_1) = (
        (begin - offcut.from_mm, end - offcut.from_mm)
        for begin, end in (offcut.lower_mm, offcut.upper_mm)
    )
    start_mm, end_mm = max(low_0, high_0), min(low_1, high_1)
    at, end_of_first = start_mm, _slant(start_mm - low_0, start_mm - high_0, job.width_mm)
    segments = []
    for stretch in sorted(offcut.avoid_mm):
        begin, end = (place - offcut.from_mm for place in stretch)
        if end <= 0 or begin >= offcut.length_mm:
            continue
        segments.append(Segment(stock, at, min(begin, end_mm), end_of_first))
        at, end_of_first = max(at, end, begin + job.kerf_mm), SQUARE
    last = _slant(low_1 - end_mm, high_1 - end_mm, job.width_mm)
    segments.append(Segment(stock, at, end_mm, end_of_first, last))
    return tuple(segment for segment in segments if segment.length_mm > 0)


def _slant(lower: float, upper: float, width_mm: float) -> End:
    """A straight end that stands back by so much at the lower and the upper edge."""
    slanted = abs(lower - upper) > 0
    return ((lower, 0.0), (upper, width_mm)) if slanted else SQUARE
