"""All ways of cutting a few pieces with slanted ends, tried one by one."""

from collections.abc import Sequence
from decimal import Decimal
from functools import cache

from shapecut.stock.cutplan import Blank, Stock
from shapecut.stock.ends import End, end_gap
from shapecut.stock.turns import Turn, turned_ends


def least_lengths(
    blanks: Sequence[Blank], turns: Sequence[Turn], kerf_mm: float, longest_mm: float
) -> dict[frozenset[int], float]:
    """The least length of each set of blanks that is no longer than `longest_mm`.

    Every order and every turn is laid out from the left, until the board is full.
    """
    ways = [{turned_ends(b.start, b.end, turn) for turn in turns} for b in blanks]
    least: dict[frozenset[int], float] = {}

    @cache
    def gap_between(end: End, start: End) -> float:
        return end_gap(end, start, kerf_mm)[0]

    def lay(done: frozenset[int], end: End, length: float) -> None:
        if length > longest_mm + 1e-9:
            return
        if done:
            least[done] = min(length, least.get(done, float("inf")))
        for i, blank in enumerate(blanks):
            if i in done:
                continue
            for start, finish in ways[i]:
                gap = gap_between(end, start) if done else 0.0
                lay(done | {i}, finish, length + gap + blank.length_mm)

    lay(frozenset(), (), 0.0)
    return least


def least_cost_by_trying(
    blanks: Sequence[Blank], stock: Sequence[Stock], turns: Sequence[Turn], kerf_mm: float
) -> Decimal:
    """The least cost of all ways to share the blanks out among unlimited boards."""
    longest = max(kind.length_mm for kind in stock)
    board_cost = {
        pieces: min(_cost(kind) for kind in stock if length <= kind.length_mm + 1e-9)
        for pieces, length in least_lengths(blanks, turns, kerf_mm, longest).items()
    }
    everything = frozenset(range(len(blanks)))
    best = {frozenset[int](): Decimal(0)}

    def cost_of(left: frozenset[int]) -> Decimal:
        if left not in best:
            first = min(left)
            best[left] = min(
                cost + cost_of(left - pieces)
                for pieces, cost in board_cost.items()
                if first in pieces and pieces <= left
            )
        return best[left]

    return cost_of(everything)


def _cost(kind: Stock) -> Decimal:
    return Decimal(str(kind.length_mm)) if kind.price is None else kind.price
