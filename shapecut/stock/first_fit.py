"""A quick plan to start from: longest blank first, into the first board that takes it."""

from collections.abc import Iterator

import numpy as np

from shapecut.stock.problem import FilledBoard, Integers, Problem, total_price

__all__ = ["fill_longest_first", "first_fit_plan"]


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
    copies = np.zeros_like(problem.sizes) if copies is None else copies.copy()
    left = left.copy()
    room = int(problem.capacities[stock] - copies @ problem.sizes)
    for part in np.lexsort((-problem.content.sum(axis=1), -problem.sizes)):
        size, content = int(problem.sizes[part]), problem.content[part]
        if size > room:
            continue
        count = min(int((left[content > 0] // content[content > 0]).min()), room // size)
        if problem.order is not None:
            count = _held(stock, problem, copies, int(part), count)
        copies[part] += count
        left -= count * content
        room -= count * size
    return copies


def _held(stock: int, problem: Problem, copies: Integers, part: int, most: int) -> int:
    """How many more of a part the board surely holds, up to `most`."""
    trial = copies.copy()
    for count in range(most):
        trial[part] += 1
        if not problem.holds(stock, trial):
            return count
    return most


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
        longest = int(problem.needed[left > 0].max())
        able = np.flatnonzero((problem.capacities >= longest) & (on_hand > 0))
        if not len(able):
            return None
        if favourite is None:
            fills = [fill_longest_first(int(s), problem, left) for s in able]
            dearness = [
                float(problem.prices[s]) / max(1.0, float(f @ problem.content @ problem.needed))
                for s, f in zip(able, fills, strict=True)
            ]
            copies = fills[int(np.argmin(dearness))]
        else:
            tried = (
                favourite if favourite in able else int(able[np.argmax(problem.capacities[able])])
            )
            copies = fill_longest_first(tried, problem, left)
        if not copies.any():
            return None
        holding = np.array([s for s in able if problem.holds(int(s), copies)])
        stock = int(holding[np.argmin(problem.prices[holding])])
        boards.append((stock, tuple(copies.tolist())))
        left -= copies @ problem.content
        on_hand[stock] -= 1
    return tuple(boards)
