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
    run: neighbouring stretches, and the starts between them, of equal faults.
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
        places = self._changes()
        changes = _distinct(np.append(places % self.pitch_mm, [0.0, self.pitch_mm]))
        lower, upper = changes[:-1], changes[1:]
        sums = _Sums.over(self, places)
        at = sums.at(lower)
        ends = [sums.beside(lower, upper, end) for end in (lower, upper)]
        faults = np.concatenate([at, ends[0]])[:, :_FAULTS]
        ranks = np.unique(faults, axis=0, return_inverse=True)[1].reshape(2, -1)
        lengths = np.array([at[:, _LENGTHS], ends[0][:, _LENGTHS], ends[1][:, _LENGTHS]])
        least = np.full(ranks.max() + 1, np.inf)
        np.minimum.at(least, np.stack([ranks[0], ranks[1], ranks[1]]), lengths)
        # Lengths between places are off by a bend in each row at most.
        enough = least + max(0.0, SAME_LENGTH_MM - 2 * BEND_MM * len(sums.rows))
        begins, begun = _runs(lower, ranks, self.pitch_mm)
        inside = np.minimum(INSIDE_MM, (upper - lower) / 4)
        span = lower + inside, upper - inside
        centred = _within(begun.mean(axis=0), lower, upper, lengths[1:], enough[ranks[1]])
        centred = np.clip(centred, *span)
        share = (centred - lower) / (upper - lower)
        between = lengths[1] + share * (lengths[2] - lengths[1])
        levels = np.concatenate([lower, *span, centred])
        rank = np.concatenate([ranks[0], *[ranks[1]] * 3])
        length = np.concatenate([*lengths, between])
        ripped = np.concatenate([at[:, _RIPPED], *[ends[0][:, _RIPPED]] * 3])
        run = np.concatenate([begins, begun, begun, begun], axis=1)
        margin = np.minimum(levels - run[0], run[1] - levels)
        more = np.maximum(np.round(length - enough[rank], 3), 0.0)
        keys = (levels, -np.round(margin, 2), self._bare(levels), ripped, more, rank)
        yield from levels[np.lexsort(keys)].tolist()

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


def _runs(changes: Floats, ranks: NDArray[np.int64], pitch_mm: float) -> tuple[Floats, Floats]:
    """Where the runs begin and end that starts and stretches belong to.

    Args:
        changes: (S,) starts at which something changes; each is followed by a stretch.
        ranks: (2, S) of their faults, and of those on the stretches.
        pitch_mm: From a start to itself.

    Returns:
        (2, S) for the starts and for the stretches.
    """
    in_turn = ranks.T.ravel()
    firsts = np.flatnonzero(in_turn != np.roll(in_turn, 1))
    if not len(firsts):
        whole = np.broadcast_to([[0.0], [pitch_mm]], ranks.shape)
        return whole, whole
    # Before the first run there is the last one, a pitch lower; behind the last the first again.
    bounds_mm = changes[firsts // 2]
    bounds_mm = np.concatenate([bounds_mm[-1:] - pitch_mm, bounds_mm, bounds_mm[:1] + pitch_mm])
    run = np.searchsorted(firsts, np.arange(len(in_turn)), side="right")
    ends = np.array([bounds_mm[run], bounds_mm[run + 1]])
    return ends[:, ::2], ends[:, 1::2]


def _within(
    wanted: Floats, lower: Floats, upper: Floats, lengths: Floats, enough: Floats
) -> Floats:
    """(S,) the levels nearest to those wanted, on stretches, at which the blanks are short enough.

    Args:
        wanted: (S,) levels.
        lower: (S,) where the stretches begin.
        upper: (S,) where they end.
        lengths: (2, S) of the blanks at both ends, changing evenly between.
        enough: (S,) greatest length; where no level has it, the lower end is as good as any.
    """
    first, last = lengths
    with np.errstate(divide="ignore", invalid="ignore"):
        turn = lower + (enough - first) / (last - first) * (upper - lower)
    low = np.where((first > enough) & (last <= enough), turn, lower)
    high = np.where(last <= enough, upper, np.where(first <= enough, turn, lower))
    return np.clip(wanted, low, high)


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
