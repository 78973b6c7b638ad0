"""Filling a board as full as it gets: subset sums, all at once in the bits of whole numbers."""

import numpy as np

from shapecut.stock.problem import Integers, Problem

__all__ = ["fill_fullest"]

_UNITS = 50_000
"""Lengths of the subset sums are reckoned in this part of the board, rounded up."""

_MOST_TRIED = 200
"""Blanks from which a board is filled; of more than these, some of every length."""


def fill_fullest(stock: int, problem: Problem, left: Integers) -> Integers:
    """Fill a board with the longest blank still `left` and what then fills it best.

    Of ways that fill it alike, one with long blanks is taken, so that short ones stay for later.

    Args:
        stock: Index of the board's stock.
        problem: The cutting problem.
        left: (m,) blanks to cut.

    Returns:
        How many of each part lie on the board (p,); only parts of one blank.
    """
    copies = np.zeros_like(problem.sizes)
    capacity = int(problem.capacities[stock])
    unit = -(-capacity // _UNITS)
    kinds = np.argsort(problem.needed, kind="stable")
    fitting = [int(k) for k in kinds if left[k] and problem.needed[k] <= capacity]
    if not fitting:
        return copies
    longest = fitting[-1]
    singles = problem.singles
    copies[singles[longest]] = 1
    rest = [k for k in fitting for _ in range(int(left[k]) - (k == longest))]
    rest = rest[:: -(-len(rest) // _MOST_TRIED) or 1]
    sizes = [-(-int(problem.needed[k]) // unit) for k in rest]
    room = (capacity - int(problem.needed[longest])) // unit
    for place in _chosen(sizes, room):
        copies[singles[rest[place]]] += 1
    return copies


def _chosen(sizes: list[int], room: int) -> list[int]:
    """Indices of those sizes, rising, whose sum comes nearest below the room, long ones first.

    Bit s of `reached[i]` tells that some of the first i sizes sum to s.
    """
    within = (1 << (room + 1)) - 1
    reached = [1]
    for size in sizes:
        reached.append(
            reached[-1] | (reached[-1] << size & within) if size <= room else reached[-1]
        )
    total = reached[-1].bit_length() - 1
    chosen = []
    for place in range(len(sizes) - 1, -1, -1):
        size = sizes[place]
        if size <= total and reached[place] >> (total - size) & 1:
            chosen.append(place)
            total -= size
    return chosen
