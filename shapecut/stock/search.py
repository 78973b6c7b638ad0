"""The least price of cutting all blanks, with a proof of how low it can be.

1. First-fit plans give a plan to beat, the length of all blanks a first bound.
2. Column generation solves the linear relaxation over all patterns.  Its duals, rounded to whole
   numbers, give a bound that holds exactly and, prices being multiples of a unit, is rounded up.
3. Where the relaxation takes a fractional number of boards of some stock, the search branches on
   that number, least bound first.  Prices hang on these numbers alone, so this raises the bound
   to what whole boards really cost (compare Belov and Scheithauer, European Journal of Operational
   Research 141, 2002, on several stock lengths).
4. Where the numbers are whole, dives and an integer programme over the generated patterns look for
   a plan with them; if none turns up, all patterns that such a plan could contain are listed, and
   an integer programme over them settles the matter.  None of these patterns can lose more
   against the duals than the plan's price exceeds the bound.

Where parts have an order (slanted ends), 1 to 3 reckon with the least that each part takes, so that
their bounds hold for every order; plans are taken, and patterns listed, only if their boards really
hold them.

What stays unsettled, because the patterns are too many or the time is up, keeps its bound.
"""

import time
from collections.abc import Callable
from dataclasses import dataclass

from shapecut.stock.first_fit import first_fit_plans
from shapecut.stock.problem import FilledBoard, Problem, total_price

__all__ = ["Incumbent", "Progress", "Solution", "cheapest_boards"]

Progress = Callable[[int | None, int], None]
"""Told the price of the best plan so far (None while there is none) and the bound."""


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
    problem: Problem,
    *,
    time_limit_s: float,
    start: tuple[FilledBoard, ...] | None = None,
    progress: Progress = lambda price, bound: None,
) -> Solution:
    """Find the least price of cutting all blanks, or get as near as the time allows.

    Args:
        problem: The cutting problem.
        time_limit_s: After about this time the search stops.
        start: A plan to begin with.
        progress: Told whenever plan or bound get better.
    """
    deadline = time.monotonic() + time_limit_s
    best = Incumbent(problem, progress)
    best.raise_bound(_material_bound(problem))
    plans = first_fit_plans(problem)
    for plan in (*plans, *((start,) if start else ())):
        best.offer(plan)
    if not best.settled:
        # HiGHS takes a quarter of a second to import, which a job for few boards need not wait for.
        from shapecut.stock.branching import branch_on_boards

        known = {board for plan in plans for board in plan} | set(best.boards or ())
        branch_on_boards(problem, best, known, deadline)
    return Solution(best.boards, best.bound, best.boards is None and best.settled)


def _material_bound(problem: Problem) -> int:
    """The price of the cheapest material as long as all blanks, or of one board for the longest.

    More than any plan costs where no board takes the longest.
    """
    prices: list[int] = problem.prices.tolist()
    capacities: list[int] = problem.capacities.tolist()
    total, longest = int(problem.shares @ problem.demand), int(problem.needed.max())
    material = min(-(-total * p // c) for p, c in zip(prices, capacities, strict=True))
    beyond_all = int(problem.most @ problem.prices) + 1
    able = (p for p, c in zip(prices, capacities, strict=True) if c >= longest)
    board = min(able, default=beyond_all)
    return max(material, board)


class Incumbent:
    """The best plan and the best bound so far."""

    def __init__(self, problem: Problem, progress: Progress) -> None:
        self.boards: tuple[FilledBoard, ...] | None = None
        self.bound = 0
        self._problem = problem
        self._progress = progress

    @property
    def price(self) -> int:
        """Price of the best plan; while there is none, one more than any plan costs."""
        if self.boards is None:
            return int(self._problem.most @ self._problem.prices) + 1
        return total_price(self._problem, self.boards)

    @property
    def settled(self) -> bool:
        """Whether the bound is the price of a plan, or no plan exists."""
        return self.bound >= self.price

    def offer(self, boards: tuple[FilledBoard, ...] | None) -> None:
        """Take a plan if it is cheaper, or as cheap with fewer boards."""
        if boards is None or not all(self._problem.holds(*board) for board in boards):
            return
        price = total_price(self._problem, boards)
        if self.boards is None or (price, len(boards)) < (self.price, len(self.boards)):
            self.boards = boards
            self._progress(price, self.bound)

    def raise_bound(self, bound: int) -> None:
        """Take a bound if it is higher; no bound is higher than the price of a plan."""
        bound = min(bound, self.price)
        if bound > self.bound:
            self.bound = bound
            self._progress(None if self.boards is None else self.price, bound)
