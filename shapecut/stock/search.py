"""The least price of cutting all blanks, with a proof of how low it can be.

1. First-fit plans give a plan to beat.
2. Column generation (Gilmore and Gomory, Operations Research 9, 1961, and 11, 1963) solves the
   linear relaxation over all patterns.  Its duals, rounded to whole numbers, give a bound that
   holds exactly (`_lagrangian_bound`), and prices being multiples of a unit, it is rounded up.
3. An integer programme over the generated patterns, and dives that fix patterns one after the
   other, look for a plan that meets the bound.
4. If none does, every pattern that a cheaper plan could contain is listed: none of its patterns can
   lose more against the duals than the gap is wide.  An integer programme over all of them settles
   the matter, unless they are too many or the time is up; then the gap is reported as it is.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shapecut.stock.first_fit import first_fit_plan
from shapecut.stock.problem import FilledBoard, Patterns, Problem, total_price

__all__ = ["Progress", "Solution", "cheapest_boards"]

Progress = Callable[[int | None, int], None]
"""Told the price of the best plan so far (None while there is none) and the bound."""

_MOST_PARTIAL = 200_000
"""Partial patterns at which listing all patterns within the gap is given up."""

_MOST_LISTED = 40_000
"""Patterns up to which the integer programme over all of them is tried."""

_FIRST_SHARE = 0.3
"""Part of the time left that the integer programme over the generated patterns may take."""


@dataclass(frozen=True)
class Solution:
    """What the search came to, in the problem's units of price.

    Attributes:
        boards: The best plan found; None if none was.
        bound: Proved: no plan is cheaper.
        impossible: True when it is proved that the boards do not suffice.
    """

    boards: tuple[FilledBoard, ...] | None
    bound: int
    impossible: bool


def cheapest_boards(
    problem: Problem, *, time_limit_s: float, progress: Progress = lambda price, bound: None
) -> Solution:
    """Find the least price of cutting all blanks, or get as near as the time allows."""
    search = _Search(problem, time.monotonic() + time_limit_s, progress)
    search.raise_bound(_material_bound(problem))
    search.offer(first_fit_plan(problem))
    if not search.settled:
        search.run()
    return Solution(search.boards, search.bound, search.boards is None and search.settled)


def _material_bound(problem: Problem) -> int:
    """The price of the cheapest material that is as long as all blanks, or of one long board."""
    prices, capacities = problem.prices.tolist(), problem.capacities.tolist()
    total = int(problem.sizes @ problem.demand)
    longest = min(p for p, c in zip(prices, capacities, strict=True) if c >= problem.sizes[0])
    return max(longest, min(-(-total * p // c) for p, c in zip(prices, capacities, strict=True)))


class _Search:
    """The best plan and the best bound so far."""

    def __init__(self, problem: Problem, deadline: float, progress: Progress) -> None:
        self.boards: tuple[FilledBoard, ...] | None = None
        self.bound = 0
        self._problem = problem
        self._deadline = deadline
        self._progress = progress

    @property
    def price(self) -> int:
        """Price of the best plan; while there is none, one more than any plan costs."""
        if self.boards is None:
            return int(self._problem.limits @ self._problem.prices) + 1
        return total_price(self._problem, self.boards)

    @property
    def settled(self) -> bool:
        """Whether the bound is the price of a plan, or no plan exists."""
        return self.bound >= self.price

    def offer(self, boards: tuple[FilledBoard, ...] | None) -> None:
        """Take a plan if it is cheaper, or as cheap with fewer boards."""
        if boards is None:
            return
        if self.boards is None or (total_price(self._problem, boards), len(boards)) < (
            self.price,
            len(self.boards),
        ):
            self.boards = boards
            self._progress(self.price, self.bound)

    def raise_bound(self, bound: int) -> None:
        """Take a bound if it is higher; no bound is higher than the price of a plan."""
        bound = min(bound, self.price)
        if bound > self.bound:
            self.bound = bound
            self._progress(None if self.boards is None else self.price, self.bound)

    def run(self) -> None:
        """Steps 2 to 4 of the module's docstring."""
        # HiGHS takes a quarter of a second to import, which a job for one board need not wait for.
        from shapecut.stock.generation import dive, relax
        from shapecut.stock.knapsack import patterns_within
        from shapecut.stock.master import Master, choose_boards

        problem = self._problem
        master = Master(problem)
        if self.boards is not None:
            master.add(_as_patterns(self.boards))
        relaxation = relax(problem, master, self._deadline)
        self.raise_bound(problem.price_bound(relaxation.least_weight))
        if self.settled:
            return
        self.offer(
            dive(
                problem,
                master,
                relaxation.times,
                most_weight=self._most_weight(),
                deadline=self._deadline,
            )
        )
        if self.settled:
            return
        share = time.monotonic() + _FIRST_SHARE * (self._deadline - time.monotonic())
        self.offer(
            choose_boards(
                problem, master.patterns, stop_at=self._goal_weight(), deadline=share
            ).boards
        )
        if self.settled:
            return
        listed = patterns_within(
            problem,
            relaxation.duals.worth,
            problem.weights + relaxation.duals.scarcity,
            loss=self._most_weight() - relaxation.least_weight,
            most=_MOST_PARTIAL,
            deadline=self._deadline,
        )
        if listed is None or len(listed) > _MOST_LISTED:
            return
        result = choose_boards(
            problem, listed, stop_at=self._goal_weight(), deadline=self._deadline
        )
        self.offer(result.boards)
        self.raise_bound(
            self.price
            if result.least_weight == np.inf
            else problem.price_bound(int(result.least_weight))
        )

    def _most_weight(self) -> int:
        """The most that a cheaper plan can weigh."""
        return (self.price - 1) * self._problem.scale + (
            self._problem.most_boards * self._problem.board_weight
        )

    def _goal_weight(self) -> int:
        """Plans that weigh no more than this meet the bound."""
        return self.bound * self._problem.scale + (
            self._problem.most_boards * self._problem.board_weight
        )


def _as_patterns(boards: tuple[FilledBoard, ...]) -> Patterns:
    """Each different board of a plan once."""
    different = sorted(set(boards))
    return Patterns(
        np.array([stock for stock, _ in different]), np.array([copies for _, copies in different])
    )
