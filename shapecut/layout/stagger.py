"""Which joists the joints of each row lie over: fewest joints, staggered from row to row; exact.

Glossary:
    choice: the joints of one row, as indices of its possible places.
    lean choice: one of which no joint could be left out; others are never needed, since leaving a
        joint out costs nothing and harms no stagger.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["MOST_CHOICES", "Stagger", "lean_choices", "staggered"]

MOST_CHOICES = 1500
"""Choices of one row that are looked at, those with the fewest joints first."""

_TIE = 1e-9
"""What a later choice costs more than an earlier one of as many joints; all rows' together stay far
below one joint."""

_SAME_PLACE_MM = 1e-6
"""Joints may be this little nearer to each other than stated."""

Choice = tuple[int, ...]

Row = tuple[Sequence[float], Sequence[Choice]]
"""Possible places of joints along a row, and the choices among them."""


@dataclass(frozen=True)
class Stagger:
    """The joints of every row.

    Attributes:
        taken: The index of each row's choice.
        proved: Whether no other way has fewer joints; False only if a row had more than
            `MOST_CHOICES` choices and these sufficed for no proof.
    """

    taken: tuple[int, ...]
    proved: bool


def lean_choices(
    places: Sequence[float], ends: tuple[float, float], *, shortest: float, longest: float
) -> Iterator[Choice]:
    """Ways of parting a stretch at some places, those with the fewest joints first.

    Args:
        places: Rising, between the ends.
        ends: Of the stretch.
        shortest: No part is shorter.
        longest: No part is longer, but any two neighbours together are.
    """
    stops = [ends[0], *places, ends[1]]
    last = len(stops) - 1
    after = [
        [b for b in range(a + 1, last + 1) if shortest <= stops[b] - stops[a] <= longest]
        for a in range(last + 1)
    ]

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


def staggered(rows: Sequence[Row], *, offset: float) -> Stagger | int:
    """Choose the joints of all rows: as few as can be, and of those ways the most even.

    Dynamic programming from row to row: the least cost of each choice of a row follows from the
    least costs of the choices of the row before it that it goes with.  Choices with the fewest
    joints are tried on their own first; if they go together, no way has fewer.

    Args:
        rows: Of each row its possible places and its choices, at least one, those with the fewest
            joints first; a row without joints has the one empty choice.
        offset: Joints of neighbouring rows lie at least so far apart along the boards.

    Returns:
        The joints; or the index of the first row that no choices up to it can reach.
    """
    fewest = [(places, _with_fewest(choices)) for places, choices in rows]
    found = _chosen(fewest, offset)
    if isinstance(found, Stagger):
        return found
    return _chosen(rows, offset)


def _with_fewest(choices: Sequence[Choice]) -> list[Choice]:
    """Those of the choices that have as few joints as the first."""
    return [choice for choice in choices if len(choice) == len(choices[0])]


def _chosen(rows: Sequence[Row], offset: float) -> Stagger | int:
    """See `staggered`."""
    cost = _costs(rows[0])
    came_from: list[NDArray[np.int64]] = []
    for number in range(1, len(rows)):
        clash = _clashes(rows[number - 1], rows[number], offset)
        reached = np.where(clash, np.inf, cost[:, None])
        came_from.append(np.argmin(reached, axis=0))
        cost = reached.min(axis=0) + _costs(rows[number])
        if not np.isfinite(cost).any():
            return number
    taken = [int(np.argmin(cost))]
    for step in reversed(came_from):
        taken.append(int(step[taken[-1]]))
    taken.reverse()
    joints = sum(len(choices[index]) for (_, choices), index in zip(rows, taken, strict=True))
    fewest = sum(len(choices[0]) for _, choices in rows)
    complete = all(len(choices) < MOST_CHOICES for _, choices in rows)
    return Stagger(tuple(taken), complete or joints == fewest)


def _costs(row: Row) -> NDArray[np.float64]:
    """Joints of each choice, and a little for the order among those of equal number."""
    _, choices = row
    joints = np.array([len(choice) for choice in choices], dtype=np.float64)
    return joints + _TIE * np.arange(len(choices), dtype=np.float64)


def _clashes(
    before: Row,
    row: Row,
    offset: float,
) -> NDArray[np.bool_]:
    """(A, B) whether choices of one row and of the next have joints too near to each other."""
    near = np.abs(np.subtract.outer(before[0], row[0])) < offset - _SAME_PLACE_MM
    return np.asarray(_taken(before) @ near.astype(np.float32) @ _taken(row).T > 0)


def _taken(row: Row) -> NDArray[np.float32]:
    """(A, J) which places each choice takes."""
    places, choices = row
    taken = np.zeros((len(choices), len(places)), np.float32)
    for index, choice in enumerate(choices):
        taken[index, list(choice)] = 1
    return taken
