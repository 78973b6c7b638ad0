"""Where the rows best start: exact, over the finitely many places at which anything changes.

Sliding all boards across the field together by one pitch covers every start.  What a row takes out
of the field changes its kind only where an edge of its board passes a corner, where a part becomes
as wide as the smallest rip or as long as the smallest length; in between counts stay and lengths
change evenly.  So one sliding strip, looked at between all such places, holds every row of every
start.

The best start has the fewest faults.  Of those that have, one that needs `SAME_LENGTH_MM` of board
more than the least counts as needing as little; of these the one with the fewest ripped rows is
taken, and as far from any start with more faults as there is room, so that a board or a wall that
is off by a little does no harm.

Glossary:
    start: the level of the lower edge of one full board, row frame; starts a pitch apart are one.
    place: a level of one board's lower edge.
    stretch: from one place, or start, at which something changes to the next.
    faults: narrow rows, short pieces, slivers and arms, in this order.
    run: see `start_runs`.
    margin: how far a start is from the ends of its run.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.layout.layout import Board, Start
from shapecut.layout.rules import LayoutRules
from shapecut.layout.sliding_arms import ArmCounts, arm_counts
from shapecut.layout.sliding_strip import SlidingStrip, sliding_strip
from shapecut.layout.start_runs import nearest_short_enough, runs_of
from shapecut.shape.clip import ON_BORDER_MM
from shapecut.shape.region import Region

__all__ = ["SAME_LENGTH_MM", "best_starts"]

SAME_LENGTH_MM = 50.0
"""So little board is worth nothing: a start that needs so much more than the least is as good."""

INSIDE_MM = 0.01
"""Where the very end of a stretch is worse than its inside, the start keeps this far from it."""

APART_MM = 5.0
"""Runners-up differ from the best start, and from each other, by at least this much."""

SHORTEST_MM = 0.02
"""Stretches shorter than this are not taken apart further."""

BEND_MM = 0.05
"""A row's blanks change their length evenly if they come this near to doing so."""

_OFF_CENTRE = 0.45
"""Where in a stretch that is looked at; not the middle, where opposite bends would cancel."""

_SECANTS = 5
"""Stretches are even to `BEND_MM`, so that few secants meet a length to rounding."""

Floats = NDArray[np.float64]


def best_starts(
    field: Region, board: Board, rules: LayoutRules, *, count: int = 4
) -> tuple[Start, ...]:
    """The best start and the runners-up.

    Args:
        field: In the row frame.
        board: Gives width and gap.
        rules: Give the smallest rip and the smallest length.
        count: Of the starts asked for.

    Returns:
        The best first, no two within `APART_MM`.
    """
    arms = arm_counts(field, board.width_mm, rules.smallest_rip_mm)
    search = _Search(sliding_strip(field, board.width_mm), arms, board, rules)
    found: list[float] = []
    for level in search.in_order():
        if all(_turned(level - other, board) >= APART_MM for other in found):
            found.append(level)
        if len(found) == count:
            break
    return tuple(map(search.start_at, found))


def _turned(difference_mm: float, board: Board) -> float:
    """How far two starts differ, whole pitches aside."""
    pitch = board.width_mm + board.gap_mm
    rest = difference_mm % pitch
    return min(rest, pitch - rest)


_FAULTS = 4
"""The first columns among costs."""

_LENGTHS = 4
"""The column of the blanks' lengths."""

_RIPPED = 5
"""The column of the ripped rows."""


@dataclass(frozen=True)
class _Tried:
    """Starts to choose from.

    Attributes:
        levels: (T,) theirs.
        ranks: (T,) of their faults, the least the best.
        lengths: (T,) of their blanks.
        enough: (T,) what counts as needing as little board as any start of the same faults.
        ripped: (T,) their ripped rows.
        margins: (T,) how far they are from the ends of their run.
    """

    levels: Floats
    ranks: NDArray[np.int64]
    lengths: Floats
    enough: Floats
    ripped: Floats
    margins: Floats


@dataclass(frozen=True)
class _Search:
    strip: SlidingStrip
    arms: ArmCounts
    board: Board
    rules: LayoutRules

    @property
    def pitch_mm(self) -> float:
        return self.board.width_mm + self.board.gap_mm

    def in_order(self) -> Iterator[float]:
        """Starts at which something changes, and starts between them, the best first."""
        tried = self._tried()
        more = np.maximum(np.round(tried.lengths - tried.enough, 3), 0.0)
        margins = np.round(tried.margins, 2)
        keys = (tried.levels, -margins, self._bare(tried.levels), tried.ripped, more, tried.ranks)
        yield from tried.levels[np.lexsort(keys)].tolist()

    def _tried(self) -> "_Tried":
        """Every start that can be the best: at changes, just beside them, and centred in runs."""
        places = self._changes()
        changes = _distinct(np.append(places % self.pitch_mm, [0.0, self.pitch_mm]))
        lower, upper = changes[:-1], changes[1:]
        sums = _Sums.over(self, places)
        at = sums.at(lower)
        first, last = (sums.beside(lower, upper, end) for end in (lower, upper))
        faults = np.concatenate([at, first])[:, :_FAULTS]
        ranks = np.unique(faults, axis=0, return_inverse=True)[1].reshape(2, -1)
        lengths = np.array([costs[:, _LENGTHS] for costs in (at, first, last)])
        least = np.full(ranks.max() + 1, np.inf)
        np.minimum.at(least, ranks[[0, 1, 1]], lengths)
        # Lengths between places are off by a bend in each row at most.
        enough = least + max(0.0, SAME_LENGTH_MM - 2 * BEND_MM * len(sums.rows))
        runs_at, runs_between = runs_of(lower, ranks, self.pitch_mm)
        inside = np.minimum(INSIDE_MM, (upper - lower) / 4)
        span = lower + inside, upper - inside
        wanted, most = runs_between.mean(axis=0), enough[ranks[1]]
        centred = np.clip(nearest_short_enough(wanted, lower, upper, lengths[1:], most), *span)
        share = (centred - lower) / (upper - lower)
        between = lengths[1] + share * (lengths[2] - lengths[1])
        # One start at each change, and three on the stretch behind it.
        levels = np.concatenate([lower, *span, centred])
        run = np.concatenate([runs_at, *[runs_between] * 3], axis=1)
        return _Tried(
            levels=levels,
            ranks=ranks[[0, 1, 1, 1]].ravel(),
            lengths=np.concatenate([*lengths, between]),
            enough=enough[ranks[[0, 1, 1, 1]]].ravel(),
            ripped=np.concatenate([at[:, _RIPPED], *[first[:, _RIPPED]] * 3]),
            margins=np.minimum(levels - run[0], run[1] - levels),
        )

    def _bare(self, levels: Floats) -> Floats:
        """(S,) how wide the strips along the two sides of the field are that fall into a gap."""
        bottom, top = self.strip.turning_heights[[0, -1]]
        below = (levels - bottom) % self.pitch_mm
        above = (top - levels - self.board.width_mm) % self.pitch_mm
        bare = (np.where(edge <= self.board.gap_mm, edge, 0.0) for edge in (below, above))
        return np.round(sum(bare), 2)

    def start_at(self, level: float) -> Start:
        """What a start costs."""
        bottom, top = self.strip.turning_heights[[0, -1]]
        first = np.floor((bottom - self.board.width_mm - level) / self.pitch_mm)
        last = np.ceil((top - level) / self.pitch_mm)
        costs = self.costs(level + np.arange(first, last + 1) * self.pitch_mm).sum(axis=0)
        narrow, short, slivers, arms, blanks, ripped = costs.tolist()
        return Start(level, int(narrow), int(short), int(slivers), int(arms), blanks, int(ripped))

    def costs(self, places: Floats, regimes: Floats | None = None) -> Floats:
        """What single rows cost, (N, 6) in the order of its rank; see `SlidingStrip.parts`."""
        parts = self.strip.parts(places, regimes)
        widths, lengths, there = parts.widths_mm, parts.lengths_mm, parts.there
        widest, is_row = widths.max(axis=1), there.any(axis=1)
        narrow_mm = self.rules.smallest_rip_mm - ON_BORDER_MM
        arms = self.arms.at(places if regimes is None else regimes)
        short = there & (lengths < self.rules.smallest_length_mm - ON_BORDER_MM)
        columns = (
            is_row & (widest < narrow_mm),
            short.sum(axis=1),
            (there & (widths < narrow_mm)).sum(axis=1),
            np.where(widest < narrow_mm, 0, arms),
            lengths.sum(axis=1),
            is_row & (widest < self.board.width_mm - ON_BORDER_MM),
        )
        return np.column_stack(columns).astype(float)

    def _changes(self) -> Floats:
        """All places at which anything changes, rising."""
        width, rip = self.board.width_mm, self.rules.smallest_rip_mm
        corners, turns = self.strip.corner_heights, self.strip.turning_heights
        places = np.concatenate(
            [corners, corners - width, turns - rip, turns - width + rip, self.arms.places]
        )
        inside = (places >= turns[0] - width) & (places <= turns[-1])
        return self._with_lengths(self._with_bends(_distinct(places[inside])))

    def _with_bends(self, places: Floats) -> Floats:
        """Places with those between which the blanks' length changes evenly, found by halving."""
        lower, upper = places[:-1], places[1:]
        within = (lower + upper) / 2
        low, high = self._blanks(lower, within), self._blanks(upper, within)
        found = [places]
        while len(lower):
            within = lower + _OFF_CENTRE * (upper - lower)
            middle = self._blanks(within, within)
            uneven = abs(low + _OFF_CENTRE * (high - low) - middle) > BEND_MM
            uneven &= upper - lower > SHORTEST_MM
            lower, within, upper, low, middle, high = (
                values[uneven] for values in (lower, within, upper, low, middle, high)
            )
            found.append(within)
            lower, upper = np.append(lower, within), np.append(within, upper)
            low, high = np.append(low, middle), np.append(middle, high)
        return _distinct(np.concatenate(found))

    def _blanks(self, places: Floats, regimes: Floats) -> Floats:
        """(N,) total length of the blanks at some places."""
        return np.asarray(self.strip.parts(places, regimes).lengths_mm.sum(axis=1))

    def _with_lengths(self, places: Floats) -> Floats:
        """Places with those at which a part becomes as long as the smallest length."""
        lower, upper = places[:-1], places[1:]
        middles = (lower + upper) / 2
        parts = self.strip.parts(lower, middles)
        first = parts.lengths_mm - self.rules.smallest_length_mm
        last = self.strip.parts(upper, middles).lengths_mm - self.rules.smallest_length_mm
        stretch, part = np.nonzero(parts.there & (first * last < 0))
        lower, upper, middles = lower[stretch], upper[stretch], middles[stretch]
        first, last = first[stretch, part], last[stretch, part]
        meeting = lower
        for _ in range(_SECANTS if len(part) else 0):
            meeting = lower + first / (first - last) * (upper - lower)
            lengths = self.strip.parts(meeting, middles).lengths_mm[range(len(part)), part]
            beyond = lengths - self.rules.smallest_length_mm
            lower, first = np.where(beyond * last > 0, (lower, first), (meeting, beyond))
            upper, last = np.where(beyond * last > 0, (meeting, beyond), (upper, last))
        return _distinct(np.concatenate([places, meeting]))


@dataclass(frozen=True)
class _Sums:
    """Costs of single rows, to be summed over all rows of a start.

    Attributes:
        places: (P,) where anything changes.
        at_places: (P, 6) costs there.
        between: (P - 1, 6) costs between them.
        lengths: (2, P - 1) lengths at both ends of each stretch, as seen from its inside.
        rows: (R,) whole pitches, such that a start and these are all its rows.
    """

    places: Floats
    at_places: Floats
    between: Floats
    lengths: Floats
    rows: Floats

    @classmethod
    def over(cls, search: _Search, places: Floats) -> "_Sums":
        middles = (places[:-1] + places[1:]) / 2
        lengths = [search.costs(ends, middles)[:, _LENGTHS] for ends in (places[:-1], places[1:])]
        first, last = np.floor(places[[0, -1]] / search.pitch_mm)
        rows = np.arange(first - 1, last + 1) * search.pitch_mm
        return cls(places, search.costs(places), search.costs(middles), np.array(lengths), rows)

    def at(self, starts: Floats) -> Floats:
        """(S, 6) costs of all rows together at some starts."""
        levels = starts + self.rows[:, None]
        nearest = np.searchsorted(self.places, levels - ON_BORDER_MM)
        nearest = np.minimum(nearest, len(self.places) - 1)
        met = np.abs(self.places[nearest] - levels) <= ON_BORDER_MM
        costs = np.where(met[..., None], self.at_places[nearest], self._between(levels, levels))
        return np.asarray(costs.sum(axis=0))

    def beside(self, lower: Floats, upper: Floats, at: Floats) -> Floats:
        """(S, 6) costs on stretches of starts, their lengths as they are at one end of it."""
        rows = self.rows[:, None]
        return np.asarray(self._between((lower + upper) / 2 + rows, at + rows).sum(axis=0))

    def _between(self, levels: Floats, at: Floats) -> Floats:
        """(R, S, 6) costs on the stretches round some levels; lengths as at others on them."""
        stretch = np.searchsorted(self.places, levels) - 1
        outside = (stretch < 0) | (stretch >= len(self.between))
        stretch = np.where(outside, 0, stretch)
        first, last = self.lengths[:, stretch]
        share = (at - self.places[stretch]) / (self.places[stretch + 1] - self.places[stretch])
        costs = self.between[stretch]
        costs[..., _LENGTHS] = first + share * (last - first)
        return np.where(outside[..., None], 0.0, costs)


def _distinct(places: Floats) -> Floats:
    rising = np.sort(places)
    return np.asarray(rising[np.append(True, np.diff(rising) > ON_BORDER_MM)])
