"""Which joists the joints of each row lie over: staggered from row to row, as few as can be.

A part on one joist only can tip, which is worse than any number of joints.

Glossary:
    way: the choices of all stretches of one row (see `row_joints`).
    chain: a way for each row.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice, pairwise, product

import numpy as np
from numpy.typing import NDArray

from shapecut.layout.row_joints import Choice, JointedRow, fewest_even

__all__ = ["MOST_CHOICES", "Stagger", "staggered"]

MOST_CHOICES = 600
"""Choices of one row that are looked at all together, those with the fewest joints first."""

BEAM = 12
"""Ways that are kept where rows are joined one after another."""

_TIE = 1e-9
"""What a later choice costs more than an earlier one of as many joints; all rows' together stay far
below one joint."""

_TIPPING = 1e4
"""What a part on one joist only counts as, in joints."""

_SAME_PLACE_MM = 1e-6
"""Joints may be this little nearer to each other than stated."""


@dataclass(frozen=True)
class Stagger:
    """The joints of every row.

    Attributes:
        taken: Of each row, the choice of each of its stretches.
        proved: Whether no other way has fewer parts tipping, or as few and fewer joints.
    """

    taken: tuple[tuple[Choice, ...], ...]
    proved: bool

    @property
    def joints(self) -> int:
        """All of them together."""
        return sum(len(choice) for row in self.taken for choice in row)


def staggered(rows: Sequence[JointedRow], *, offset: float) -> Stagger | int:
    """Choose the joints of all rows: few parts tipping, few joints, and of those ways an even one.

    Dynamic programming from row to row over the lean choices: the least cost of each choice of a
    row follows from the least costs of the choices of the row before it that it goes with.  Rows
    with more choices than `MOST_CHOICES` are also joined one after another, each at as little cost
    as the row before it leaves possible, from every place for its first joint.

    Args:
        rows: Each stretch can be joined in some way.
        offset: Joints of neighbouring rows lie at least so far apart along the boards.

    Returns:
        The joints; or the index of a row for which no way was found that goes with those before.
    """
    choices = {row: _row_choices(row) for row in set(rows)}
    cheapest = {row: _cheapest(row, of_row) for row, of_row in choices.items()}
    found = _best_chain(rows, cheapest, offset)
    if isinstance(found, Stagger):
        return found
    found = _best_chain(rows, choices, offset)
    if all(len(of_row) < MOST_CHOICES for of_row in choices.values()):
        return found
    other = _one_after_another(rows, offset)
    ways = [way for way in (found, other) if isinstance(way, Stagger)]
    if not ways:
        return found
    best = min(ways, key=lambda way: _total_cost(rows, way.taken))
    return Stagger(best.taken, proved=False)


_Way = tuple[Choice, ...]


def _cost(row: JointedRow, way: _Way) -> float:
    """What a way costs, in joints."""
    tipping = sum(s.tipping_parts(choice) for s, choice in zip(row.stretches, way, strict=True))
    return sum(map(len, way)) + _TIPPING * tipping


def _total_cost(rows: Sequence[JointedRow], ways: Sequence[_Way]) -> float:
    """What the ways of some rows cost together."""
    return sum(map(_cost, rows, ways))


def _row_choices(row: JointedRow) -> list[_Way]:
    """Ways of joining a row, a choice for each stretch; cheap ones first, then the even ones."""
    of_stretches = [
        list(islice(row.lean_choices(stretch), MOST_CHOICES)) for stretch in row.stretches
    ]
    together = islice(product(*of_stretches), MOST_CHOICES)
    return sorted(together, key=lambda way: (_cost(row, way), _unevenness(row, way)))


def _cheapest(row: JointedRow, ways: Sequence[_Way]) -> list[_Way]:
    """Those that cost no more than the first."""
    least = _cost(row, ways[0])
    return [way for way in ways if _cost(row, way) == least]


def _unevenness(row: JointedRow, way: _Way) -> float:
    parts = (row.parts(stretch, choice) for stretch, choice in zip(row.stretches, way, strict=True))
    return sum(max(of_stretch) - min(of_stretch) for of_stretch in parts)


def _best_chain(
    rows: Sequence[JointedRow], choices: Mapping[JointedRow, Sequence[_Way]], offset: float
) -> Stagger | int:
    """See `staggered`; proved among these choices."""
    costs = {row: _costs(row, ways) for row, ways in choices.items()}
    clash = {
        (before, row): _clashes((before, row), (choices[before], choices[row]), offset)
        for before, row in set(pairwise(rows))
    }
    cost = costs[rows[0]]
    came_from: list[NDArray[np.int64]] = []
    for number, pair in enumerate(pairwise(rows), start=1):
        reached = np.where(clash[pair], np.inf, cost[:, None])
        came_from.append(np.argmin(reached, axis=0))
        cost = reached.min(axis=0) + costs[rows[number]]
        if not np.isfinite(cost).any():
            return number
    taken = [int(np.argmin(cost))]
    for step in reversed(came_from):
        taken.append(int(step[taken[-1]]))
    ways = zip(rows, reversed(taken), strict=True)
    return Stagger(tuple(choices[row][index] for row, index in ways), proved=True)


def _costs(row: JointedRow, choices: Sequence[_Way]) -> NDArray[np.float64]:
    """Cost of each choice, and a little for the order among those of equal cost."""
    costs = np.array([_cost(row, way) for way in choices], dtype=np.float64)
    return costs + _TIE * np.arange(len(choices), dtype=np.float64)


def _clashes(
    rows: tuple[JointedRow, JointedRow],
    choices: tuple[Sequence[_Way], Sequence[_Way]],
    offset: float,
) -> NDArray[np.bool_]:
    """(A, B) whether choices of a row and of the next have joints too near to each other."""
    (before, row), (first, second) = rows, choices
    near = np.abs(np.subtract.outer(before.places, row.places)) < offset - _SAME_PLACE_MM
    taken = _taken(before, first) @ near.astype(np.float32)
    return np.asarray(taken @ _taken(row, second).T > 0)


def _taken(row: JointedRow, choices: Sequence[_Way]) -> NDArray[np.float32]:
    """(A, J) which places each choice takes."""
    taken = np.zeros((len(choices), len(row.places)), np.float32)
    for index, way in enumerate(choices):
        taken[index, [place for choice in way for place in choice]] = 1
    return taken


_Chain = tuple[float, tuple[_Way, ...]]
"""What the ways of the first rows cost together, and the ways."""


def _one_after_another(rows: Sequence[JointedRow], offset: float) -> Stagger | None:
    """Join one row after another, keeping the `BEAM` ways of least cost so far."""
    chains: dict[_Way, _Chain] = {(): (0.0, ())}
    before = JointedRow(())
    for row in rows:
        near = np.abs(np.subtract.outer(before.places, row.places)) < offset - _SAME_PLACE_MM
        grown: dict[_Way, _Chain] = {}
        for last, (cost, chain) in chains.items():
            taken = [index for choice in last for index in choice]
            banned = set(np.flatnonzero(near[taken].any(axis=0)).tolist())
            for way in _ways_round(row, banned):
                further = cost + _cost(row, way)
                if way not in grown or further < grown[way][0]:
                    grown[way] = (further, (*chain, way))
        best = sorted(grown.items(), key=lambda item: item[1][0])[:BEAM]
        if not best:
            return None
        chains, before = dict(best), row
    _, cheapest = next(iter(chains.values()))
    return Stagger(cheapest, proved=False)


def _ways_round(row: JointedRow, banned: set[int]) -> Iterator[_Way]:
    """Ways of joining a row away from some places: one for each place of its first joint."""
    if not row.stretches:
        yield ()
        return
    first, *others = row.stretches
    rest = [fewest_even(row, stretch, banned) for stretch in others]
    for place in first.places:
        if row.places[place] - first.ends[0] > first.longest:
            break
        choice = fewest_even(row, first, {*banned, *range(place)})
        way = [choice, *rest]
        if None not in way:
            yield tuple(choice for choice in way if choice is not None)
