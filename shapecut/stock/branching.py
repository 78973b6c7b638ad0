"""Branch and bound on the number of boards of each stock; see `search` for the whole method."""

import heapq
import time
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from shapecut.stock.bounds import Relaxation, relaxed_lengths
from shapecut.stock.generation import dive, relax, shrunk
from shapecut.stock.knapsack import patterns_within
from shapecut.stock.master import Master, choose_boards
from shapecut.stock.problem import FilledBoard, Floats, Integers, Patterns, Problem
from shapecut.stock.search import Incumbent

__all__ = ["branch_on_boards"]

_WHOLE = 1e-5
"""A number of boards this near to a whole one in the linear solution is that whole number."""

_SLACK = 0.1
"""Part of the gap between plan and bound that a node's own bound need not be sharper than."""

_MOST_PARTIAL = 100_000
"""Partial patterns at which listing all patterns is given up."""

_MOST_LISTED = 20_000
"""Patterns up to which the integer programme over all of them is tried."""

_QUICK_NODES = 300
"""Nodes of an integer programme over the generated patterns."""

_RELAX_SHARE = 0.7
"""Part of the time that is left in which a node's relaxation is solved, or broken off."""

_FINAL_NODES = 5_000
"""Nodes of an integer programme over all patterns."""

_MOST_DIVES = 40
"""Dives from near the linear solution where there are too many patterns to list."""

_DIVES_A_CHOICE = 8
"""Dives after which the patterns they left are chosen from."""

_LEAST_SHARE = 0.3
"""Part of a pattern's count in the linear solution that such a dive starts with at least."""


@dataclass(order=True)
class _Node:
    """Plans with numbers of boards between `problem.fewest` and `problem.most`.

    Ordered by bound, deeper nodes first; `number` keeps the order the same from run to run.
    """

    bound: int
    minus_depth: int
    number: int
    problem: Problem = field(compare=False)
    relaxation: Relaxation = field(compare=False)


def branch_on_boards(
    problem: Problem, best: Incumbent, known: Iterable[FilledBoard], deadline: float
) -> None:
    """Improve the best plan and its bound until they meet or the time is up.

    Args:
        problem: The cutting problem.
        best: The best plan and bound so far.
        known: Boards worth having to begin with.
        deadline: Monotonic time to stop at.
    """
    tree = _Tree(problem, best, known, deadline)
    while tree.open and not best.settled and time.monotonic() < deadline:
        tree.visit()


class _Tree:
    """The open nodes, least bound first, and the least bound among those left unsettled."""

    def __init__(
        self, problem: Problem, best: Incumbent, known: Iterable[FilledBoard], deadline: float
    ) -> None:
        self.open = [_Node(best.bound, 0, 0, problem, relaxed_lengths(problem))]
        self._best = best
        self._deadline = deadline
        self._unsettled: int | None = None
        self._nodes = 1
        self._master = Master(problem)
        self._master.add(_as_patterns(known, len(problem.sizes)))

    def visit(self) -> None:
        """Settle, branch or put aside the node with the least bound."""
        node = heapq.heappop(self.open)
        if node.bound < self._best.price:
            self._settle(node)
        self._raise_bound()

    def _settle(self, node: _Node) -> None:
        problem, best = node.problem, self._best
        gap = problem.most_weight(best.price) - best.bound * problem.scale
        now = time.monotonic()
        relaxation = relax(
            problem,
            self._master,
            node.relaxation,
            slack=int(gap * _SLACK),
            enough=problem.most_weight(best.price - 1) + 1,
            deadline=now + _RELAX_SHARE * (self._deadline - now),
        )
        bound = max(node.bound, problem.price_bound(relaxation.least_weight))
        if bound >= best.price:
            return
        boards = _boards_of_each(self._master.patterns, relaxation.times, len(problem.most))
        whole = np.rint(boards).astype(np.int64)
        is_whole = bool(np.all(np.abs(boards - whole) < _WHOLE))
        if is_whole or node.number == 0:
            self._dive(problem, relaxation.times)
            if problem.order is not None:
                self._choose(problem, problem.most_weight(bound))
            if bound >= best.price:
                return
        if time.monotonic() > self._deadline:
            self._put_aside(bound)
        elif not is_whole:
            self._branch(node, bound, relaxation, boards)
        elif np.any(problem.fewest < problem.most):
            self._split(node, bound, relaxation, whole)
        else:
            self._settle_whole(problem, bound, relaxation)

    def _branch(self, node: _Node, bound: int, relaxation: Relaxation, boards: Floats) -> None:
        """Split where the number of boards is farthest from whole."""
        stock = int(np.argmax(np.abs(boards - np.rint(boards))))
        fewest, most = node.problem.fewest.copy(), node.problem.most.copy()
        most[stock] = int(np.floor(boards[stock]))
        fewest[stock] = most[stock] + 1
        self._push(node, bound, relaxation, node.problem.fewest, most)
        self._push(node, bound, relaxation, fewest, node.problem.most)

    def _split(self, node: _Node, bound: int, relaxation: Relaxation, whole: Integers) -> None:
        """Set the plans with just these numbers of boards apart from all others."""
        fewest, most = node.problem.fewest.copy(), node.problem.most.copy()
        for stock, number in enumerate(whole):
            below, above = most.copy(), fewest.copy()
            below[stock], above[stock] = number - 1, number + 1
            self._push(node, bound, relaxation, fewest, below)
            self._push(node, bound, relaxation, above, most)
            fewest[stock] = most[stock] = number
        self._push(node, bound, relaxation, fewest, most)

    def _push(
        self, parent: _Node, bound: int, relaxation: Relaxation, fewest: Integers, most: Integers
    ) -> None:
        if np.any(fewest > most) or parent.problem.prices @ most < bound:
            return
        bound = max(bound, int(parent.problem.prices @ fewest))
        problem = parent.problem.within(fewest.copy(), most.copy())
        heapq.heappush(
            self.open, _Node(bound, parent.minus_depth - 1, self._nodes, problem, relaxation)
        )
        self._nodes += 1

    def _settle_whole(self, problem: Problem, bound: int, relaxation: Relaxation) -> None:
        """Find a plan with just these numbers of boards, or show that there is none."""
        goal = problem.most_weight(bound)
        self._choose(problem, goal)
        if bound >= self._best.price:
            return
        listed = patterns_within(
            problem,
            relaxation.duals.worth,
            problem.weights + relaxation.duals.scarcity,
            loss=goal - relaxation.least_weight,
            most=_MOST_PARTIAL,
            deadline=self._deadline,
        )
        if listed is None or len(listed) > _MOST_LISTED:
            self._dive_about(problem, bound, relaxation)
            self._put_aside(bound)
            return
        final = choose_boards(
            problem, listed, stop_at=goal, most_nodes=_FINAL_NODES, deadline=self._deadline
        )
        self._best.offer(final.boards)
        if not final.impossible:
            self._put_aside(bound)

    def _choose(self, problem: Problem, goal: int) -> None:
        """Look for a plan among the patterns generated so far."""
        patterns = self._master.patterns
        chosen = choose_boards(
            problem,
            patterns if problem.order is None else shrunk(problem, patterns),
            stop_at=goal,
            most_nodes=_QUICK_NODES,
            deadline=self._deadline,
        )
        self._best.offer(chosen.boards)

    def _dive_about(self, problem: Problem, bound: int, relaxation: Relaxation) -> None:
        """Dive from other places near the linear solution; every dive leaves patterns.

        The places are random but the same from run to run.
        """
        random = np.random.default_rng(0)
        for attempt in range(1, _MOST_DIVES + 1):
            times = relaxation.times * random.uniform(_LEAST_SHARE, 1.0, len(relaxation.times))
            self._dive(problem, times)
            if attempt % _DIVES_A_CHOICE == 0 and bound < self._best.price:
                self._choose(problem, problem.most_weight(bound))
            if bound >= self._best.price or time.monotonic() > self._deadline:
                return

    def _dive(self, problem: Problem, times: Floats) -> None:
        most = problem.most_weight(self._best.price - 1)
        deadline = self._deadline
        self._best.offer(dive(problem, self._master, times, most_weight=most, deadline=deadline))

    def _put_aside(self, bound: int) -> None:
        """Remember that plans of this bound were neither found nor ruled out."""
        self._unsettled = bound if self._unsettled is None else min(bound, self._unsettled)

    def _raise_bound(self) -> None:
        bounds = [self.open[0].bound] if self.open else []
        if self._unsettled is not None:
            bounds.append(self._unsettled)
        self._best.raise_bound(min(bounds, default=self._best.price))


def _boards_of_each(patterns: Patterns, times: Floats, stocks: int) -> Floats:
    """(k,) boards of each stock in the linear solution; `times` may lack the last patterns."""
    boards = np.bincount(patterns.stock[: len(times)], times, minlength=stocks)
    return boards.astype(np.float64)


def _as_patterns(boards: Iterable[FilledBoard], parts: int) -> Patterns:
    """Each different board once."""
    different = sorted(set(boards))
    return Patterns(
        np.array([stock for stock, _ in different], dtype=np.int64),
        np.array([copies for _, copies in different], dtype=np.int64).reshape(-1, parts),
    )
