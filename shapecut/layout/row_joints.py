"""Ways of joining one row.

Glossary:
    place: where a joint of a row may lie, along it.
    stretch: a part of a row that is longer than any board.
    choice: joints of a stretch as indices of the row's places.
    lean choice: one of which no joint could be left out; others are never needed, since leaving a
        joint out costs nothing, harms no stagger and takes no joist from under a part.
    tipping: lying on one joist only.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

__all__ = ["Choice", "JointedRow", "Stretch", "fewest_even", "lean_choices"]

Choice = tuple[int, ...]


@dataclass(frozen=True)
class Stretch:
    """A part of a row that has to be joined.

    Attributes:
        places: Indices of the row's places that a joint may lie at, rising along the row.
        ends: Where it begins and ends.
        shortest: No part is shorter.
        longest: No part is longer.
        tipping: Places that leave what lies before the first joint, and what lies behind the last,
            on one joist only.
    """

    places: Choice
    ends: tuple[float, float]
    shortest: float
    longest: float
    tipping: tuple[frozenset[int], frozenset[int]] = (frozenset(), frozenset())

    def tipping_parts(self, choice: Choice) -> int:
        """How many parts some joints leave on one joist only."""
        first, last = self.tipping
        return (choice[0] in first) + (choice[-1] in last) if choice else 0


@dataclass(frozen=True)
class JointedRow:
    """A row: where joints may lie along it, mm, and its stretches; none if it stays whole."""

    places: tuple[float, ...]
    stretches: tuple[Stretch, ...] = ()

    def lean_choices(self, stretch: Stretch) -> Iterator[Choice]:
        """Lean ways of joining one of its stretches, those with the fewest joints first."""
        places = [self.places[index] for index in stretch.places]
        for choice in lean_choices(
            places, stretch.ends, shortest=stretch.shortest, longest=stretch.longest
        ):
            yield tuple(stretch.places[index] for index in choice)

    def parts(self, stretch: Stretch, choice: Choice) -> list[float]:
        """The lengths that some joints part a stretch into."""
        start, end = stretch.ends
        stops = [start, *(self.places[index] for index in choice), end]
        return [b - a for a, b in pairwise(stops)]


def lean_choices(
    places: Sequence[float], ends: tuple[float, float], *, shortest: float, longest: float
) -> Iterator[Choice]:
    """Lean ways of parting a stretch, those with the fewest joints first.

    Args:
        places: Where joints may lie, rising between the ends.
        ends: Of the stretch.
        shortest: No part is shorter.
        longest: No part is longer, but any two neighbours together are.

    Yields:
        Indices of places.
    """
    stops = [ends[0], *places, ends[1]]
    last = len(stops) - 1
    after = [list(_next_stops(stops, stop, shortest, longest)) for stop in range(last + 1)]

    def ways(way: Choice, parts: int) -> Iterator[Choice]:
        """Ways on to the end in so many more parts."""
        if not parts:
            yield tuple(stop - 1 for stop in way[1:-1])
            return
        for stop in after[way[-1]]:
            is_lean = len(way) == 1 or stops[stop] - stops[way[-2]] > longest
            if is_lean and stop in from_which[parts - 1]:
                yield from ways((*way, stop), parts - 1)

    # From which stops the end can be reached in exactly so many parts.
    from_which = [{last}]
    while from_which[-1] and len(from_which) <= last:
        reaching = from_which[-1]
        from_which.append({stop for stop in range(last) if not reaching.isdisjoint(after[stop])})
        if 0 in from_which[-1]:
            yield from ways((0,), len(from_which) - 1)


def _next_stops(
    stops: Sequence[float], stop: int, shortest: float, longest: float
) -> Iterator[int]:
    """Stops at which a part that begins at one may end."""
    for end in range(stop + 1, len(stops)):
        part = stops[end] - stops[stop]
        if part > longest:
            return
        if part >= shortest:
            yield end


def fewest_even(row: JointedRow, stretch: Stretch, banned: set[int]) -> Choice | None:
    """Joints away from some places: few parts tipping, then few joints, then even parts."""
    stops = [stretch.ends[0], *(row.places[index] for index in stretch.places), stretch.ends[1]]
    last = len(stops) - 1
    before, behind = stretch.tipping
    # Of the way to each stop: tipping parts, all parts, the sum of their squares, the stop before.
    best: dict[int, tuple[int, int, float, int]] = {0: (0, 0, 0.0, 0)}
    for stop in range(last):
        if stop not in best or (stop and stretch.places[stop - 1] in banned):
            continue
        tipping, parts, squares, _ = best[stop]
        for end in _next_stops(stops, stop, stretch.shortest, stretch.longest):
            first = stretch.places[end - 1] if not stop and end < last else None
            final = stretch.places[stop - 1] if stop and end == last else None
            tips = (first in before) + (final in behind)
            way = (tipping + tips, parts + 1, squares + (stops[end] - stops[stop]) ** 2, stop)
            best[end] = min(best.get(end, way), way)
    if last not in best:
        return None
    choice: list[int] = []
    stop = best[last][-1]
    while stop:
        choice.append(stretch.places[stop - 1])
        stop = best[stop][-1]
    return tuple(reversed(choice))
