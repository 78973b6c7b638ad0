"""Quick plans to start from: board after board, longest blank first or as full as it gets."""

from collections.abc import Callable, Sequence

import numpy as np

from shapecut.stock.fullest import fill_fullest
from shapecut.stock.problem import FilledBoard, Integers, Problem, total_price

__all__ = ["fill_longest_first", "first_fit_plans"]

Fill = Callable[[int, Problem, Integers], Integers]
"""Fills a board of a stock, by its index, from the blanks left."""


def fill_longest_first(
    stock: int, problem: Problem, left: Integers, copies: Integers | None = None
) -> Integers:
    """Fill a board with parts of the blanks still `left` (m,), longest and widest first.

    Args:
        stock: Index of the board's stock.
        problem: The cutting problem.
        left: (m,) blanks not on this board yet.
        copies: (p,) what lies on the board already; nothing if left out.

    Returns:
        How many of each part lie on the board then (p,).
    """
    filled = [0] * len(problem.sizes) if copies is None else copies.tolist()
    waiting = left.tolist()
    room = int(problem.capacities[stock] - np.dot(filled, problem.sizes))
    for part, size, content in problem.longest_first:
        if size > room:
            continue
        count = min(room // size, *(waiting[kind] // number for kind, number in content))
        if count and problem.order is not None:
            count = _held(stock, problem, filled, part, count)
        if count:
            filled[part] += count
            room -= count * size
            for kind, number in content:
                waiting[kind] -= count * number
    return np.array(filled, dtype=np.int64)


def _held(stock: int, problem: Problem, copies: list[int], part: int, most: int) -> int:
    """How many more of a part the board surely holds, up to `most`."""
    trial = copies.copy()
    for count in range(most):
        trial[part] += 1
        if not problem.holds(stock, tuple(trial)):
            return count
    return most


def first_fit_plans(
    problem: Problem, fills: Sequence[Fill] = (fill_longest_first, fill_fullest)
) -> tuple[tuple[FilledBoard, ...], ...]:
    """Plans that each start from another stock and another way of filling, cheapest first.

    Each board is then exchanged for the cheapest stock that holds its blanks.  Filling one board
    after the other, longest first, gives the same boards as first-fit decreasing.

    Args:
        problem: The cutting problem.
        fills: Ways of filling a board; with an order, only the first.

    Returns:
        The plans; none where the boards ran out in every attempt.
    """
    tried = fills if problem.order is None else fills[:1]
    favourites = (*range(len(problem.capacities)), None)
    plans = [_fill_boards(problem, fill, favourite) for fill in tried for favourite in favourites]
    found = [plan for plan in plans if plan is not None]
    return tuple(sorted(found, key=lambda plan: (total_price(problem, plan), len(plan))))


def _fill_boards(
    problem: Problem, fill: Fill, favourite: int | None
) -> tuple[FilledBoard, ...] | None:
    """Fill boards of the favourite stock, or always of the one that is cheapest for its content."""
    left, on_hand = problem.demand.copy(), problem.most.copy()
    lengths = problem.content @ problem.needed
    boards: list[FilledBoard] = []
    while left.any():
        longest = int(problem.needed[left > 0].max())
        able = np.flatnonzero((problem.capacities >= longest) & (on_hand > 0))
        if not len(able):
            return None
        if favourite is None:
            fills = [fill(int(s), problem, left) for s in able]
            dearness = [
                float(problem.prices[s]) / max(1.0, float(f @ lengths))
                for s, f in zip(able, fills, strict=True)
            ]
            copies = fills[int(np.argmin(dearness))]
        else:
            tried = (
                favourite if favourite in able else int(able[np.argmax(problem.capacities[able])])
            )
            copies = fill(tried, problem, left)
        if not copies.any():
            return None
        holding = np.array([s for s in able if problem.holds(int(s), copies)])
        stock = int(holding[np.argmin(problem.prices[holding])])
        boards.append((stock, tuple(copies.tolist())))
        left -= problem.blanks_in(copies)
        on_hand[stock] -= 1
    return tuple(boards)
