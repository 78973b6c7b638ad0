"""Narrow pieces abreast: which may share a length of board that is ripped after it is cut off.

The cut is in two stages: the board is cross-cut square to the longest piece's length, that length
is ripped, and each piece is then trimmed to its own ends.  A length has one lower and one upper
factory edge, so at most one piece in it may keep each.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations_with_replacement, product

from shapecut.stock.cutplan import Rip
from shapecut.stock.turns import Turn

__all__ = ["MOST_ABREAST", "Lying", "abreast", "bundles"]

MOST_ABREAST = 3
"""Pieces that are tried abreast at most; a fourth would be narrower than a quarter of a board."""

_FIT_MM = 1e-6
"""By how much widths may exceed the board and still fit: floats are not exact."""


@dataclass(frozen=True)
class Lying:
    """How one of several pieces abreast lies.

    Attributes:
        kind: Index of its kind.
        turn: How it is turned.
        across_mm: How far it is then moved across the board.
    """

    kind: int
    turn: Turn
    across_mm: float


def bundles(
    rips: Sequence[Rip | None],
    counts: Sequence[int],
    *,
    width_mm: float,
    kerf_mm: float,
    turns: Sequence[Turn],
    most_abreast: int,
) -> Iterator[tuple[Lying, ...]]:
    """All sets of two or more pieces that can lie abreast.

    Args:
        rips: Of each kind; None where it is as wide as its board.
        counts: How many of each kind there are.
        width_mm: Of the board.
        kerf_mm: Of each rip between two of them.
        turns: Those allowed.
        most_abreast: Pieces in one bundle.
    """
    narrow = [(kind, rip) for kind, rip in enumerate(rips) if rip is not None]
    for size in range(2, most_abreast + 1):
        for members in combinations_with_replacement(narrow, size):
            kinds = [kind for kind, _ in members]
            if all(kinds.count(kind) <= counts[kind] for kind in kinds):
                lying = abreast(members, width_mm=width_mm, kerf_mm=kerf_mm, turns=turns)
                if lying:
                    yield lying


def abreast(
    members: Sequence[tuple[int, Rip]], *, width_mm: float, kerf_mm: float, turns: Sequence[Turn]
) -> tuple[Lying, ...] | None:
    """How pieces lie abreast, from the board's lower edge to its upper; None if they cannot."""
    needed = sum(rip.width_mm for _, rip in members) + kerf_mm * (len(members) - 1)
    if needed > width_mm + _FIT_MM:
        return None
    for chosen in product(turns, repeat=len(members)):
        keeps = [_keeps(rip, turn) for (_, rip), turn in zip(members, chosen, strict=True)]
        if sum(lower for lower, _ in keeps) > 1 or sum(upper for _, upper in keeps) > 1:
            continue
        if any(lower and upper for lower, upper in keeps):
            return None
        return _laid(members, chosen, keeps, width_mm, kerf_mm)
    return None


def _keeps(rip: Rip, turn: Turn) -> tuple[bool, bool]:
    """Whether a turned piece needs the board's lower and its upper edge."""
    keeps = (rip.keeps_lower, rip.keeps_upper)
    return keeps[::-1] if turn.edges_changed else keeps


def _laid(
    members: Sequence[tuple[int, Rip]],
    turns: Sequence[Turn],
    keeps: Sequence[tuple[bool, bool]],
    width_mm: float,
    kerf_mm: float,
) -> tuple[Lying, ...]:
    """From the lower edge upwards; what keeps the upper edge lies against it."""
    rising = sorted(range(len(members)), key=lambda i: (not keeps[i][0], keeps[i][1], i))
    lying, at = [], 0.0
    for i in rising:
        (kind, rip), turn = members[i], turns[i]
        low = width_mm - rip.high_mm if turn.edges_changed else rip.low_mm
        place = width_mm - rip.width_mm if keeps[i][1] else at
        lying.append(Lying(kind, turn, place - low))
        at = place + rip.width_mm + kerf_mm
    return tuple(lying)
