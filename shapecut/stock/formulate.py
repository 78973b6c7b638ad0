"""From millimetres and money to the cutting problem in whole numbers.

Lengths are reckoned on a grid, blanks, gaps and kerf rounded up and boards down, so that a plan
always fits the real boards; among all plans on that grid the cost is exact.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shapecut.stock.bundles import MOST_ABREAST, Lying, bundles
from shapecut.stock.cutplan import Blank
from shapecut.stock.ends import SQUARE, End, end_gap
from shapecut.stock.grid import steps_down, steps_up
from shapecut.stock.job import Job
from shapecut.stock.money import Money, cost_of
from shapecut.stock.problem import Floats, Problem
from shapecut.stock.segments import Segment, useful_segments
from shapecut.stock.sequence import Lie, Sequencer, Span
from shapecut.stock.turns import Turn, turned_ends

__all__ = ["Formulation", "Part", "formulate"]

_TIE = 0.999
"""Of potentials that make sizes as large against the boards as others, the larger sizes count."""

_MOST_BUNDLES = 2000
"""Sets of pieces abreast up to which all of them are tried."""


@dataclass(frozen=True)
class Part:
    """What lies along a board: one blank in one of its turns, or several abreast.

    Attributes:
        length_mm: Of the longest blank.
        members: The blanks' kinds and how they lie; of a single one, as laid.
        ways: The turns that make a difference, with the start and end they give; of blanks
            abreast, one with square ends.
    """

    length_mm: float
    members: tuple[Lying, ...]
    ways: tuple[tuple[Turn, End, End], ...]


@dataclass(frozen=True)
class Formulation:
    """A job in whole numbers.

    Attributes:
        kinds: The blanks of each kind.
        parts: What lies along the boards; the first ones are the kinds, one by one.
        segments: The stocks of the problem, in its order.
        plain: The problem as if every end were square.
        kerf_mm: Width of a cut.
        most_abreast: Pieces that were tried abreast at most.
    """

    kinds: tuple[tuple[Blank, ...], ...]
    parts: tuple[Part, ...]
    segments: tuple[Segment, ...]
    plain: Problem
    kerf_mm: float
    most_abreast: int

    @cached_property
    def nests(self) -> bool:
        """Whether any end is not square, so that neighbours may share a cut."""
        return any(start or end for part in self.parts for _, start, end in part.ways)

    @cached_property
    def sequencer(self) -> Sequencer:
        """The lengths and gaps of all parts."""
        ends, starts = self._end_index
        return Sequencer(
            lengths=np.array([steps_up(part.length_mm) for part in self.parts], dtype=np.int64),
            lies=tuple(
                tuple(Lie(starts[start], ends[end]) for _, start, end in part.ways)
                for part in self.parts
            ),
            gaps=np.array([[self._gap(e, s, self.kerf_mm) for s in starts] for e in ends]),
            spans=tuple(self._span(segment, ends, starts) for segment in self.segments),
        )

    @cached_property
    def nested(self) -> Problem:
        """The problem with the order of slanted ends."""
        # HiGHS takes a quarter of a second to import, which square ends need not wait for.
        from shapecut.stock.potentials import least_sizes

        least = least_sizes(self.sequencer, shares=self._shares(), boards=self._boards())
        return replace(
            self.plain, sizes=least.sizes, capacities=least.capacities, order=self.sequencer
        )

    def way(self, part: int, lie: Lie) -> tuple[Turn, End, End]:
        """The turn that makes a part lie so, and its ends."""
        ends, starts = self._end_index
        return next(
            way for way in self.parts[part].ways if lie == Lie(starts[way[1]], ends[way[2]])
        )

    @cached_property
    def _end_index(self) -> tuple[dict[End, int], dict[End, int]]:
        """Numbers of all ends, and of all starts."""
        ways = [way for part in self.parts for way in part.ways]
        ends = {end: number for number, end in enumerate(dict.fromkeys(w[2] for w in ways))}
        starts = {start: number for number, start in enumerate(dict.fromkeys(w[1] for w in ways))}
        return ends, starts

    @staticmethod
    def _gap(end: End, start: End, kerf_mm: float) -> int:
        return steps_up(end_gap(end, start, kerf_mm)[0])

    def _span(self, segment: Segment, ends: dict[End, int], starts: dict[End, int]) -> Span:
        before = [self._gap(segment.start, start, 0.0) for start in starts]
        behind = [self._gap(end, segment.end, 0.0) for end in ends]
        return Span(steps_down(segment.length_mm), np.array(before), np.array(behind))

    def _shares(self) -> Floats:
        """How much each part counts in choosing potentials: as often as it is demanded."""
        shares = np.zeros(len(self.parts))
        shares[: len(self.kinds)] = self.plain.demand
        return shares

    def _boards(self) -> Floats:
        """About how many boards of each stock a plan has."""
        total = float(self.sequencer.lengths[: len(self.kinds)] @ self.plain.demand)
        spans = [steps_down(segment.length_mm) for segment in self.segments]
        most = np.minimum(self.plain.most, total / np.array(spans))
        return np.asarray(_TIE * most / max(1.0, float(most @ spans) / total))


def formulate(job: Job, money: Money) -> Formulation:
    """Bring a checked job to whole numbers.

    Blanks that are alike in length, ends and rip are one kind; kinds fall in length.
    """
    groups: dict[object, list[Blank]] = {}
    for blank in sorted(job.blanks, key=lambda blank: -blank.length_mm):
        likeness = (steps_up(blank.length_mm), blank.start, blank.end, blank.rip)
        groups.setdefault(likeness, []).append(blank)
    kinds = tuple(tuple(group) for group in groups.values())
    most_abreast, abreast = _abreast(kinds, job)
    parts = (*_singles(kinds, job), *abreast)
    segments = useful_segments(job)
    plain = _plain(job, money, kinds, parts, segments)
    return Formulation(kinds, parts, segments, plain, job.kerf_mm, most_abreast)


def _plain(
    job: Job,
    money: Money,
    kinds: Sequence[Sequence[Blank]],
    parts: Sequence[Part],
    segments: Sequence[Segment],
) -> Problem:
    kerf = steps_up(job.kerf_mm)
    sizes = [steps_up(part.length_mm) + kerf for part in parts]
    # With boards shorter than every part, which only slanted ends can use, steps stay steps.
    step = math.gcd(*sizes) if not job.on_hand else 1
    content = np.zeros((len(parts), len(kinds)), dtype=np.int64)
    for row, part in enumerate(parts):
        for member in part.members:
            content[row, member.kind] += 1
    count = len(job.blanks)
    available = [count if s.stock.available is None else s.stock.available for s in segments]
    return Problem(
        sizes=np.array(sizes, dtype=np.int64) // step,
        content=content,
        demand=np.array([len(kind) for kind in kinds], dtype=np.int64),
        capacities=np.array([(steps_down(s.length_mm) + kerf) // step for s in segments], np.int64),
        prices=np.array([money.units(cost_of(s.stock)) for s in segments], dtype=np.int64),
        fewest=np.zeros(len(segments), dtype=np.int64),
        most=np.minimum(available, count).astype(np.int64),
        most_boards=count,
    )


def _singles(kinds: Sequence[Sequence[Blank]], job: Job) -> tuple[Part, ...]:
    """Every kind by itself, in the turns that give it different ends."""
    parts = []
    for kind, (blank, *_) in enumerate(kinds):
        ways: dict[tuple[End, End], Turn] = {}
        for turn in job.turns:
            ways.setdefault(turned_ends(blank.start, blank.end, turn), turn)
        parts.append(
            Part(
                blank.length_mm,
                (Lying(kind, Turn.AS_LAID, 0.0),),
                tuple((turn, *ends) for ends, turn in ways.items()),
            )
        )
    return tuple(parts)


def _abreast(kinds: Sequence[Sequence[Blank]], job: Job) -> tuple[int, tuple[Part, ...]]:
    """How many are tried abreast, and all sets of narrow blanks of so many or fewer.

    Fewer than `MOST_ABREAST` where there are more than `_MOST_BUNDLES` sets.
    """
    rips = [kind[0].rip for kind in kinds]
    for most in range(MOST_ABREAST, 1, -1):
        found = []
        for lying in bundles(
            rips,
            [len(kind) for kind in kinds],
            width_mm=job.width_mm,
            kerf_mm=job.kerf_mm,
            turns=job.turns,
            most_abreast=most,
        ):
            length = max(kinds[member.kind][0].length_mm for member in lying)
            found.append(Part(length, lying, ((Turn.AS_LAID, SQUARE, SQUARE),)))
            if len(found) > _MOST_BUNDLES:
                break
        else:
            return most, tuple(found)
    return 1, ()
