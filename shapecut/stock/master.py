"""The linear and integer programmes over a list of patterns, solved by HiGHS.

Rows: every size at least as often as it is demanded, then every scarce stock at most as often as
it can be had.  Columns: boards of each pattern, after one `missing` column for each size, so that
a solution always exists; a missing blank weighs more than any purchase.
"""

import time
from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from shapecut.stock.problem import FilledBoard, Integers, Patterns, Problem

__all__ = ["Duals", "Floats", "IntegerResult", "Master", "choose_boards"]

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Duals:
    """What the linear programme says a blank and a scarce board are worth, as whole weights.

    Attributes:
        worth: (m,) of one more blank of each size; zero or more.
        scarcity: (k,) what one more board of a scarce stock would save; zero or more.
    """

    worth: Integers
    scarcity: Integers


@dataclass(frozen=True)
class IntegerResult:
    """Outcome of an integer programme over given patterns.

    Attributes:
        boards: The best boards found, or None if none below the limit was found.
        least_weight: Proved: every choice of these patterns weighs at least this.
    """

    boards: tuple[FilledBoard, ...] | None
    least_weight: float


class Master:
    """The linear programme of column generation; it keeps its basis as patterns are added."""

    def __init__(self, problem: Problem) -> None:
        self._problem = problem
        self._scarce = np.flatnonzero(problem.scarce)
        self._patterns = Patterns(
            np.empty(0, np.int64), np.empty((0, len(problem.sizes)), np.int64)
        )
        self._solver = _quiet_solver()
        self._solver.passModel(_model(problem, self._patterns))

    @property
    def patterns(self) -> Patterns:
        """All patterns added so far, in order."""
        return self._patterns

    def add(self, patterns: Patterns) -> None:
        """Add patterns as columns."""
        if not len(patterns):
            return
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

    def solve(self, problem: Problem) -> tuple[Duals, Floats]:
        """Solve for what is left of the problem.

        Returns:
            The duals, and how often each pattern is cut (p,).
        """
        for row, blanks in enumerate(problem.demand):
            self._solver.changeRowBounds(row, float(blanks), highspy.kHighsInf)
        for row, stock in enumerate(self._scarce, start=len(problem.demand)):
            self._solver.changeRowBounds(row, -highspy.kHighsInf, float(problem.limits[stock]))
        self._solver.run()
        solution = self._solver.getSolution()
        m = len(self._problem.sizes)
        duals = np.asarray(solution.row_dual) * self._problem.scale
        scarcity = np.zeros(len(self._problem.capacities), np.int64)
        scarcity[self._scarce] = np.ceil(np.maximum(0.0, -duals[m:]))
        worth = np.floor(np.maximum(0.0, duals[:m])).astype(np.int64)
        return Duals(worth, scarcity), np.asarray(solution.col_value)[m:]


def choose_boards(
    problem: Problem,
    patterns: Patterns,
    *,
    stop_at: int,
    deadline: float,
    below: int | None = None,
    start: tuple[FilledBoard, ...] = (),
) -> IntegerResult:
    """Choose boards among the patterns so that every blank is cut, at the least weight.

    Args:
        problem: The cutting problem.
        patterns: To choose from.
        stop_at: A weight that is good enough to stop at.
        deadline: Monotonic time to stop at.
        below: Only boards that weigh at most this are looked for.
        start: Boards to start from, all of them among the patterns.
    """
    seconds = deadline - time.monotonic()
    if seconds <= 0:
        return IntegerResult(None, 0.0)
    solver = _quiet_solver()
    solver.setOptionValue("time_limit", max(0.01, seconds))
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("mip_abs_gap", 0.5 * problem.board_weight / problem.scale)
    solver.setOptionValue("objective_target", stop_at / problem.scale)
    if below is not None:
        solver.setOptionValue("objective_bound", below / problem.scale)
    m = len(problem.sizes)
    model = _model(problem, patterns)
    model.integrality_ = [highspy.HighsVarType.kInteger] * model.num_col_
    solver.passModel(model)
    solver.run()
    status, info = solver.getModelStatus(), solver.getInfo()
    if status == highspy.HighsModelStatus.kInfeasible:
        return IntegerResult(None, np.inf)
    least = info.mip_dual_bound * problem.scale
    values = np.rint(np.asarray(solver.getSolution().col_value)).astype(np.int64)
    if not len(values) or info.primal_solution_status != 2 or values[:m].any():
        return IntegerResult(None, least)
    return IntegerResult(_boards(problem, patterns, values[m:]), least)


def _boards(problem: Problem, patterns: Patterns, times: Integers) -> tuple[FilledBoard, ...]:
    """The boards of a solution, blanks cut beyond the demand left out."""
    left = problem.demand.copy()
    boards = []
    for index in np.repeat(np.arange(len(times)), times):
        copies = np.minimum(patterns.copies[index], left)
        left = left - copies
        if copies.any():
            boards.append((int(patterns.stock[index]), tuple(copies.tolist())))
    return tuple(boards)


def _quiet_solver() -> highspy.Highs:
    solver = highspy.Highs()
    solver.silent()
    solver.setOptionValue("threads", 1)
    return solver


def _costs(problem: Problem) -> Floats:
    """(k,) weight of a board of each stock, in units of price."""
    return np.asarray(problem.weights / problem.scale)


def _columns(
    problem: Problem, patterns: Patterns
) -> tuple[NDArray[np.int32], NDArray[np.int32], Floats]:
    """Starts, row indices and coefficients of the patterns' columns, column by column."""
    scarce = np.flatnonzero(problem.scarce)
    entries = np.hstack([patterns.copies, patterns.stock[:, None] == scarce[None, :]])
    column, row = np.nonzero(entries)
    starts = np.searchsorted(column, np.arange(len(patterns) + 1)).astype(np.int32)
    return starts, row.astype(np.int32), entries[column, row].astype(np.float64)


def _model(problem: Problem, patterns: Patterns) -> highspy.HighsLp:
    """The programme with one `missing` column for each size, then the patterns."""
    m, scarce = len(problem.sizes), np.flatnonzero(problem.scarce)
    missing_weight = 1.0 + float(problem.limits @ _costs(problem))
    starts, index, value = _columns(problem, patterns)
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = m + len(patterns), m + len(scarce)
    model.col_cost_ = np.concatenate([np.full(m, missing_weight), _costs(problem)[patterns.stock]])
    model.col_lower_ = np.zeros(model.num_col_)
    model.col_upper_ = np.full(model.num_col_, highspy.kHighsInf)
    model.row_lower_ = np.concatenate(
        [problem.demand.astype(float), np.full(len(scarce), -highspy.kHighsInf)]
    )
    model.row_upper_ = np.concatenate(
        [np.full(m, highspy.kHighsInf), problem.limits[scarce].astype(float)]
    )
    model.a_matrix_.format_ = highspy.MatrixFormat.kColwise
    model.a_matrix_.start_ = np.concatenate([np.arange(m, dtype=np.int32), m + starts])
    model.a_matrix_.index_ = np.concatenate([np.arange(m, dtype=np.int32), index])
    model.a_matrix_.value_ = np.concatenate([np.ones(m), value])
    return model
