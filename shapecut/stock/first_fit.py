"""A quick plan to start from: longest blank first, into the first board that takes it."""

from collections.abc import Iterator

import numpy as np

from shapecut.stock.problem import FilledBoard, Integers, Problem, total_price

__all__ = ["fill_longest_first", "first_fit_plan"]


def fill_longest_first(room: int, problem: Problem, left: Integers) -> Integers:
    """Fill `room` with blanks still `left` (m,), longest first; returns the copies (m,)."""
    copies = np.zeros_like(left)
    for i, size in enumerate(problem.sizes):
        copies[i] = min(int(left[i]), room // int(size))
        room -= int(copies[i] * size)
    return copies


def first_fit_plan(problem: Problem) -> tuple[FilledBoard, ...] | None:
    """The cheapest of the first-fit-decreasing plans that each start from another stock.

    Each board is then exchanged for the cheapest stock that holds its blanks.  Filling one board
    after the other, longest first, gives the same boards as first-fit decreasing.

    Returns:
        The plan, or None if the boards ran out in every attempt.
    """
    plans = [plan for plan in _attempts(problem) if plan is not None]
    return min(plans, key=lambda p: (total_price(problem, p), len(p)), default=None)


def _attempts(problem: Problem) -> Iterator[tuple[FilledBoard, ...] | None]:
    for favourite in range(len(problem.capacities)):
        yield _fill_boards(problem, favourite)
    yield _fill_boards(problem, None)


def _fill_boards(problem: Problem, favourite: int | None) -> tuple[FilledBoard, ...] | None:
    """Fill boards of the favourite stock, or always of the one that is cheapest for its content."""
    left, on_hand = problem.demand.copy(), problem.most.copy()
    boards: list[FilledBoard] = []
    while left.any():
        longest = int(problem.sizes[np.flatnonzero(left)[0]])
        able = np.flatnonzero((problem.capacities >= longest) & (on_hand > 0))
        if not len(able):
            return None
        if favourite is None:
            fills = [fill_longest_first(int(problem.capacities[s]), problem, left) for s in able]
            dearness = [
                float(problem.prices[s]) / float(f @ problem.sizes)
                for s, f in zip(able, fills, strict=True)
            ]
            copies = fills[int(np.argmin(dearness))]
        else:
            tried = favourite if favourite in able else int(able[-1])
            copies = fill_longest_first(int(problem.capacities[tried]), problem, left)
        holding = able[problem.capacities[able] >= copies @ problem.sizes]
        stock = int(holding[np.argmin(problem.prices[holding])])
        boards.append((stock, tuple(copies.tolist())))
        left -= copies
        on_hand[stock] -= 1
    return tuple(boards)
