"""The linear and integer programmes over a list of patterns, solved by HiGHS.

Rows: every kind at least as often as it is demanded, then the boards of every stock between their
fewest and their most.  Columns: one `missing` column for each row, then the boards of each pattern.
In the linear programme a missing blank or board weighs more than any purchase, so that a solution
always exists; in the integer programme none may be missing.
"""

import time
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from shapecut.stock.problem import FilledBoard, Floats, Integers, Patterns, Problem
from shapecut.stock.quiet_solver import QuietSolver

__all__ = ["Duals", "IntegerResult", "Master", "choose_boards"]


_DUAL_SIMPLEX, _PRIMAL_SIMPLEX = 1, 4
"""When patterns are added the basis stays feasible, and the primal simplex method goes on from it;
when there is something else to cut, only its duals stay feasible."""


@dataclass(frozen=True)
class Duals:
    """What the linear programme says a blank and a board are worth, as whole weights.

    Attributes:
        worth: (m,) of one blank of each size; zero or more.
        scarcity: (k,) what one board more of each stock would save where it is used the most it
            may, and less than zero, what one board fewer would save where it is used the fewest.
    """

    worth: Integers
    scarcity: Integers


@dataclass(frozen=True)
class IntegerResult:
    """Outcome of an integer programme over given patterns.

    Attributes:
        boards: The best boards found, or None if none below the limit was found.
        impossible: Proved: no choice of these patterns cuts every blank.
    """

    boards: tuple[FilledBoard, ...] | None
    impossible: bool


class Master:
    """The linear programme of column generation; it keeps its basis as patterns are added."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._patterns = Patterns(
            np.empty(0, np.int64), np.empty((0, len(problem.sizes)), np.int64)
        )
        self._known: set[tuple[int, bytes]] = set()
        self._solved: Problem | None = None
        self._solver = QuietSolver()
        self._solver.passModel(_model(problem, self._patterns))

    @property
    def patterns(self) -> Patterns:
        """All patterns added so far, in order."""
        return self._patterns

    def add(self, patterns: Patterns) -> int:
        """Add those patterns as columns that are not there yet, and return how many."""
        patterns = self._fresh(patterns)
        if not len(patterns):
            return 0
        starts, index, value = _columns(self._problem, patterns)
        count = len(patterns)
        self._solver.addCols(
            count,
            _costs(self._problem)[patterns.stock],
            np.zeros(count),
            np.full(count, highspy.kHighsInf),
            len(index),
            starts[:-1],
            index,
            value,
        )
        self._patterns = Patterns(
            np.concatenate([self._patterns.stock, patterns.stock]),
            np.concatenate([self._patterns.copies, patterns.copies]),
        )
        return count

    def _fresh(self, patterns: Patterns) -> Patterns:
        """Those patterns that are not known yet, each once."""
        fresh = []
        for row, (stock, copies) in enumerate(zip(patterns.stock, patterns.copies, strict=True)):
            key = (int(stock), copies.tobytes())
            if key not in self._known:
                self._known.add(key)
                fresh.append(row)
        return Patterns(patterns.stock[fresh], patterns.copies[fresh])

    def solve(self, problem: Problem) -> tuple[Duals, Floats, int]:
        """Solve for what is left of the problem.

        Returns:
            The duals, how often each pattern is cut (p,), and the solution's weight, rounded up.
        """
        if problem is not self._solved:
            self._demand(problem)
        strategy = _PRIMAL_SIMPLEX if problem is self._solved else _DUAL_SIMPLEX
        self._solver.setOptionValue("simplex_strategy", strategy)
        self._solved = problem
        self._solver.run()
        solution = self._solver.getSolution()
        m = len(self._problem.demand)
        duals = np.asarray(solution.row_dual) * self._problem.scale
        times = np.maximum(0.0, np.asarray(solution.col_value)[len(duals) :])
        worth = np.floor(np.maximum(0.0, duals[:m])).astype(np.int64)
        scarcity = np.ceil(-duals[m:]).astype(np.int64)
        weight = int(np.ceil(self._solver.getObjectiveValue() * self._problem.scale))
        return Duals(worth, scarcity), times, weight

    def _demand(self, problem: Problem) -> None:
        """Change what is to be cut, and from how many boards."""
        for row, blanks in enumerate(problem.demand):
            self._solver.changeRowBounds(row, float(blanks), highspy.kHighsInf)
        boards = zip(problem.fewest, problem.most, strict=True)
        for row, (fewest, most) in enumerate(boards, start=len(problem.demand)):
            self._solver.changeRowBounds(row, float(fewest), float(most))


def choose_boards(
    problem: Problem,
    patterns: Patterns,
    *,
    stop_at: int,
    most_nodes: int,
    deadline: float,
) -> IntegerResult:
    """Choose boards among the patterns so that every blank is cut, at the least weight.

    Args:
        problem: The cutting problem.
        patterns: To choose from.
        stop_at: A weight that is good enough to stop at.
        most_nodes: Branches to look at; unlike the deadline, it stops at the same place each time.
        deadline: Monotonic time to stop at.
    """
    seconds = deadline - time.monotonic()
    if seconds <= 0:
        return IntegerResult(None, impossible=False)
    solver = QuietSolver()
    solver.setOptionValue("time_limit", max(0.01, seconds))
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("mip_abs_gap", 0.5 * problem.board_weight / problem.scale)
    solver.setOptionValue("objective_target", stop_at / problem.scale)
    solver.setOptionValue("mip_max_nodes", most_nodes)
    model = _model(problem, patterns)
    rows = model.num_row_
    model.col_upper_ = np.concatenate([np.zeros(rows), np.full(len(patterns), highspy.kHighsInf)])
    model.integrality_ = [highspy.HighsVarType.kInteger] * model.num_col_
    solver.passModel(model)
    solver.run()
    if solver.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return IntegerResult(None, impossible=True)
    if not solver.getSolution().value_valid:
        return IntegerResult(None, impossible=False)
    values = np.rint(np.asarray(solver.getSolution().col_value)).astype(np.int64)
    return IntegerResult(_boards(problem, patterns, values[rows:]), impossible=False)


def _boards(problem: Problem, patterns: Patterns, times: Integers) -> tuple[FilledBoard, ...]:
    """The boards of a solution, parts left out whose blanks other boards have already."""
    left = problem.demand.copy()
    boards = []
    for index in np.repeat(np.arange(len(times)), times):
        copies, left = problem.wanted(patterns.copies[index], left)
        if copies.any():
            boards.append((int(patterns.stock[index]), tuple(copies.tolist())))
    return tuple(boards)


def _costs(problem: Problem) -> Floats:
    """(k,) weight of a board of each stock, in units of price."""
    return np.asarray(problem.weights / problem.scale)


def _columns(
    problem: Problem, patterns: Patterns
) -> tuple[NDArray[np.int32], NDArray[np.int32], Floats]:
    """Starts, row indices and coefficients of the patterns' columns, column by column."""
    stocks = np.arange(len(problem.capacities))
    covered = patterns.copies.astype(np.float64) @ problem.content  # exact, and quick in floats
    entries = np.hstack([covered, patterns.stock[:, None] == stocks[None, :]])
    column, row = np.nonzero(entries)
    starts = np.searchsorted(column, np.arange(len(patterns) + 1)).astype(np.int32)
    return starts, row.astype(np.int32), entries[column, row].astype(np.float64)


def _model(problem: Problem, patterns: Patterns) -> highspy.HighsLp:
    """The programme with one `missing` column for each row, then the patterns."""
    m, rows = len(problem.demand), len(problem.demand) + len(problem.most)
    missing_weight = 1.0 + float(problem.most @ _costs(problem))
    starts, index, value = _columns(problem, patterns)
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = rows + len(patterns), rows
    missing = np.full(rows, missing_weight)
    model.col_cost_ = np.concatenate([missing, _costs(problem)[patterns.stock]])
    model.col_lower_ = np.zeros(model.num_col_)
    model.col_upper_ = np.full(model.num_col_, highspy.kHighsInf)
    model.row_lower_ = np.concatenate([problem.demand, problem.fewest]).astype(float)
    model.row_upper_ = np.concatenate([np.full(m, highspy.kHighsInf), problem.most])
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    own_row = np.arange(rows, dtype=np.int32)
    model.a_matrix_.start_ = np.concatenate([own_row, rows + starts])
    model.a_matrix_.index_ = np.concatenate([own_row, index])
    model.a_matrix_.value_ = np.concatenate([np.ones(rows), value])
    return model
