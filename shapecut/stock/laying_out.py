"""From the parts of each board to cuts in mm: which blank lies where, and how it is turned."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from shapecut.stock.cutplan import Blank, Cut, CutBoard, Offcut, Stock
from shapecut.stock.ends import End, end_gap, straight
from shapecut.stock.formulate import Formulation
from shapecut.stock.job import Job
from shapecut.stock.leftovers import Filled, leftovers
from shapecut.stock.problem import FilledBoard
from shapecut.stock.segments import segments_of
from shapecut.stock.turns import Turn, turned_ends

__all__ = ["cut_boards"]


def cut_boards(
    job: Job, formulation: Formulation, boards: Sequence[FilledBoard], *, leftover_mm: float
) -> tuple[CutBoard, ...]:
    """Hand the blanks of each kind out to the boards, in order.

    Args:
        job: As stated.
        formulation: Of the job.
        boards: Of its problem.
        leftover_mm: What is left of a board is worth keeping from this length on.

    Returns:
        Offcuts first, then bought boards, each rising in length.
    """
    waiting = [list(kind) for kind in formulation.kinds]
    left = formulation.plain.demand
    filled: dict[object, list[Filled]] = {}
    in_order = sorted(boards, key=lambda board: (board[0], [-count for count in board[1]]))
    for number, (index, copies) in enumerate(in_order):
        wanted, left = formulation.plain.wanted(np.array(copies), left)
        segment = formulation.segments[index]
        cuts, end = _laid_out(job, formulation, index, tuple(wanted.tolist()), waiting)
        if cuts:
            key = segment.stock.on_hand or number
            filled.setdefault(key, []).append(Filled(segment, cuts, end))

    def place(segments: list[Filled]) -> tuple[bool, float]:
        stock = segments[0].segment.stock
        return (stock.on_hand is None, stock.length_mm)

    names = {offcut.name for offcut in job.on_hand}
    cut = []
    for number, segments in enumerate(sorted(filled.values(), key=place), start=1):
        stock = segments[0].segment.stock
        whole = segments_of(stock.on_hand, job) if stock.on_hand else ()
        untouched = [s for s in whole if s not in [done.segment for done in segments]]
        segments.sort(key=lambda done: done.segment.start_mm)
        kept = leftovers(
            number, segments, untouched, kerf_mm=job.kerf_mm, least_mm=leftover_mm, names=names
        )
        names |= {offcut.name for offcut in kept}
        cut.append(_cut_board(number, stock, segments, job.kerf_mm, kept))
    return tuple(cut)


def _cut_board(
    number: int, stock: Stock, segments: Sequence[Filled], kerf_mm: float, kept: tuple[Offcut, ...]
) -> CutBoard:
    cuts = tuple(cut for done in segments for cut in done.cuts)
    rest = segments[-1].segment.end_mm - segments[-1].end_mm - kerf_mm
    return CutBoard(number, stock, cuts, max(0.0, rest), kept)


def _laid_out(
    job: Job,
    formulation: Formulation,
    stock: int,
    copies: tuple[int, ...],
    waiting: list[list[Blank]],
) -> tuple[tuple[Cut, ...], End]:
    """The cuts of one segment from its start, and the last part's end."""
    segment = formulation.segments[stock]
    at, behind = segment.start_mm, segment.start
    cuts: list[Cut] = []
    for index, turn, start, end in _in_order(formulation, stock, copies):
        gap, parting = end_gap(behind, start, job.kerf_mm if cuts else 0.0)
        if cuts:
            cuts[-1] = replace(cuts[-1], parting=parting)
        begin = at + gap
        members = formulation.parts[index].members
        for member in members:
            if waiting[member.kind]:
                lies = turn if len(members) == 1 else member.turn
                blank = waiting[member.kind].pop(0)
                cuts.append(_cut(blank, begin, lies, member.across_mm))
        at, behind = begin + formulation.parts[index].length_mm, end
    return tuple(cuts), behind


def _in_order(
    formulation: Formulation, stock: int, copies: tuple[int, ...]
) -> Iterator[tuple[int, Turn, End, End]]:
    """The parts from the reference end, longest first where their order makes no difference."""
    parts = formulation.parts
    if not formulation.nests:
        for index in sorted(range(len(parts)), key=lambda i: -parts[i].length_mm):
            for _ in range(copies[index]):
                yield (index, *parts[index].ways[0])
        return
    order = formulation.sequencer
    for index, lie in order.best_order(stock, copies):
        yield (index, *formulation.way(index, lie))


def _cut(blank: Blank, begin: float, turn: Turn, across_mm: float) -> Cut:
    finish = begin + blank.length_mm
    start, end = turned_ends(blank.start, blank.end, turn)
    return Cut(
        blank.label,
        begin,
        finish,
        turn,
        across_mm,
        _marks(start, begin, 1),
        _marks(end, finish, -1),
    )


def _marks(end: End, at_mm: float, inwards: int) -> tuple[float, float] | None:
    """Where a straight end meets the board's edges."""
    if not straight(end):
        return None
    low, high = (end[0][0], end[-1][0]) if end else (0.0, 0.0)
    return at_mm + inwards * low, at_mm + inwards * high
