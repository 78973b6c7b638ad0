"""The least length of board in which parts can follow one another.

The length of a sequence is that of its parts and of the gaps between each end and the start that
follows it.  The best order of a set of parts is found by dynamic programming over all its subsets
and the end that comes last (Held and Karp, Journal of the Society for Industrial and Applied
Mathematics 10, 1962); what was found for a subset serves all sets that contain it.
"""

import math
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from shapecut.stock.grid import steps_up
from shapecut.stock.problem import Integers

__all__ = ["Lie", "Sequencer", "Span"]

_MOST_SUBSETS = 20_000
"""Subsets of a pattern up to which its best order is looked for."""

TURNING_SAVES_MM = 1.0
"""Parts are turned where that takes less board by so much: a piece that lies as it is laid is less
easily taken for its mirror image."""


@dataclass(frozen=True)
class Lie:
    """One way a part can lie: indices of the end it turns to its neighbours.

    Attributes:
        start: Towards the board's reference end.
        end: Away from it.
    """

    start: int
    end: int


@dataclass(frozen=True)
class Span:
    """The usable length of a board, whole steps of the grid.

    Attributes:
        length: Between the extremes of its own ends.
        before: (starts,) least distance of the first part's start from the board's own, zero or
            less.
        behind: (ends,) the same of the last part's end.
    """

    length: int
    before: Integers
    behind: Integers


_Reached = tuple[Integers, Integers]
"""Ends (n,) that can come last, and the least length (n,) up to each."""


@dataclass(frozen=True)
class Sequencer:
    """Finds the best order of parts; lengths in whole steps of the grid.

    Attributes:
        lengths: (p,) of each part.
        lies: Of each part, the ways it can lie, as laid first.
        gaps: (ends, starts) between an end and the start that follows it.
        spans: Of each stock.
    """

    lengths: Integers
    lies: tuple[tuple[Lie, ...], ...]
    gaps: Integers
    spans: tuple[Span, ...]
    _reached: dict[tuple[bytes, tuple[int, ...]], "_Reached"] = field(
        default_factory=dict, repr=False, compare=False
    )

    def holds(self, stock: int, copies: tuple[int, ...]) -> bool | None:
        """Whether a board holds a pattern; None if it has too many subsets to try."""
        span = self.spans[stock]
        parts = _listed(copies)
        loose = sum(int(self.lengths[part]) for part in parts)
        if loose + int(self.gaps.max()) * (len(parts) - 1) <= span.length:
            return True
        if math.prod(count + 1 for count in copies) > _MOST_SUBSETS:
            return None
        return self.shortest(stock, parts) <= span.length

    def shortest(self, stock: int, parts: tuple[int, ...]) -> int:
        """The least length that parts, rising, take from a board."""
        ends, length = self._reach(self.spans[stock], parts)
        return int((length + self.spans[stock].behind[ends]).min())

    def best_order(self, stock: int, copies: tuple[int, ...]) -> tuple[tuple[int, Lie], ...]:
        """The parts of a pattern and how they lie, from the board's reference end.

        None is turned where that saves less than `TURNING_SAVES_MM`.
        """
        parts = _listed(copies)
        if math.prod(count + 1 for count in copies) > _MOST_SUBSETS:
            falling = sorted(parts, key=lambda part: -int(self.lengths[part]))
            return tuple((part, self.lies[part][0]) for part in falling)
        worth = self.shortest(stock, parts) + steps_up(TURNING_SAVES_MM)
        if self._as_laid.shortest(stock, parts) <= min(worth, self.spans[stock].length):
            return self._as_laid._in_order(stock, parts)
        return self._in_order(stock, parts)

    @cached_property
    def _as_laid(self) -> "Sequencer":
        """The same parts, none turned."""
        return replace(self, lies=tuple(lies[:1] for lies in self.lies), _reached={})

    def _in_order(self, stock: int, left: tuple[int, ...]) -> tuple[tuple[int, Lie], ...]:
        """Parts, rising, in an order that takes the least length."""
        span = self.spans[stock]
        ends, length = self._reach(span, left)
        best = int((length + span.behind[ends]).argmin())
        end, at = int(ends[best]), int(length[best])
        backwards: list[tuple[int, Lie]] = []
        while left:
            part, lie, end, at = self._last(span, left, end, at)
            backwards.append((part, lie))
            left = _without(left, part)
        return tuple(backwards[::-1])

    def _last(
        self, span: Span, parts: tuple[int, ...], end: int, at: int
    ) -> tuple[int, Lie, int, int]:
        """A part that can come last there, how it lies, and the end and length before it."""
        for part in sorted(set(parts), key=lambda part: int(self.lengths[part])):
            rest = _without(parts, part)
            for lie in self.lies[part]:
                before = at - int(self.lengths[part])
                if lie.end != end:
                    continue
                if not rest:
                    if before == span.before[lie.start]:
                        return part, lie, -1, 0
                    continue
                ends, length = self._reach(span, rest)
                fitting = np.flatnonzero(length + self.gaps[ends, lie.start] == before)
                if len(fitting):
                    return part, lie, int(ends[fitting[0]]), int(length[fitting[0]])
        raise AssertionError("a length that was reached has a part that reached it")

    def _reach(self, span: Span, parts: tuple[int, ...]) -> _Reached:
        """The ends that can come last when these parts are laid from the board's start."""
        key = (span.before.tobytes(), parts)
        known = self._reached.get(key)
        if known is not None:
            return known
        ends, lengths = [], []
        for part in set(parts):
            starts = np.array([lie.start for lie in self.lies[part]])
            rest = _without(parts, part)
            if rest:
                last, length = self._reach(span, rest)
                before = (length[:, None] + self.gaps[last[:, None], starts]).min(axis=0)
            else:
                before = span.before[starts]
            ends.append(np.array([lie.end for lie in self.lies[part]]))
            lengths.append(before + self.lengths[part])
        reached = _least(np.concatenate(ends), np.concatenate(lengths))
        self._reached[key] = reached
        return reached


def _least(ends: Integers, lengths: Integers) -> _Reached:
    """Each end once, with its least length."""
    order = np.lexsort((lengths, ends))
    ends, lengths = ends[order], lengths[order]
    first = np.ones(len(ends), dtype=bool)
    first[1:] = ends[1:] != ends[:-1]
    return ends[first], lengths[first]


def _listed(copies: tuple[int, ...]) -> tuple[int, ...]:
    """The parts of a pattern one by one, rising."""
    return tuple(part for part, count in enumerate(copies) for _ in range(count))


def _without(parts: tuple[int, ...], part: int) -> tuple[int, ...]:
    """The parts less one of a kind."""
    at = parts.index(part)
    return parts[:at] + parts[at + 1 :]
