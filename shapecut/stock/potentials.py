"""What every part takes from a board at least, however its neighbours lie.

Give each end e a potential u(e) and each start s a potential v(s) with u(e) + v(s) at most the gap
between them, and give the board's own ends potentials too.  Summed along any board, the gaps are
then at least the potentials, so that every part takes at least its length and the potentials of
its two ends in its best turn, and the board gives at most its length less its own two.  This turns
slanted ends into a cutting problem with plain sizes whose bound holds for every nested plan.  The
potentials that make the sizes large against the boards come from a linear programme.
"""

from dataclasses import dataclass

import highspy
import numpy as np

from shapecut.stock.problem import Floats, Integers
from shapecut.stock.quiet_solver import QuietSolver
from shapecut.stock.sequence import Sequencer

__all__ = ["LeastSizes", "least_sizes"]

_WHOLE = 1e-6
"""How far below a whole step a potential may be and still be taken as that step."""


@dataclass(frozen=True)
class LeastSizes:
    """Sizes and capacities whose sums bound every order of parts.

    Attributes:
        sizes: (p,) least amount of each part, one or more.
        capacities: (k,) greatest amount of each board, one or more.
    """

    sizes: Integers
    capacities: Integers


def least_sizes(sequencer: Sequencer, *, shares: Floats, boards: Floats) -> LeastSizes:
    """Choose potentials and reckon the sizes.

    Args:
        sequencer: Holds lengths, gaps and boards.
        shares: (p,) how much each part's size counts.
        boards: (k,) how much each board's capacity counts.

    Returns:
        Whole steps; exact, whatever the linear programme's rounding, since potentials are rounded
        to whole steps that keep every condition.
    """
    potentials = _potentials(sequencer, shares, boards)
    if potentials is None:
        return _bare_sizes(sequencer)
    u, v = potentials
    v = np.minimum(v, (sequencer.gaps - u[:, None]).min(axis=0))
    least = [min(int(u[lie.end] + v[lie.start]) for lie in ways) for ways in sequencer.lies]
    sizes = sequencer.lengths + np.array(least, dtype=np.int64)
    capacities = [
        max(1, span.length - int((span.before - v).min()) - int((span.behind - u).min()))
        for span in sequencer.spans
    ]
    return LeastSizes(sizes, np.array(capacities, dtype=np.int64))


def _bare_sizes(sequencer: Sequencer) -> LeastSizes:
    """Sizes and capacities that say nothing, for slivers so thin that they take hardly a step."""
    parts, stocks = len(sequencer.lengths), len(sequencer.spans)
    longest = max(span.length for span in sequencer.spans)
    return LeastSizes(np.ones(parts, dtype=np.int64), np.full(stocks, longest, dtype=np.int64))


def _potentials(
    sequencer: Sequencer, shares: Floats, boards: Floats
) -> tuple[Integers, Integers] | None:
    """Potentials (ends,) and (starts,) with sizes of one or more, rounded down to whole steps.

    None where there are none such.

    Columns: u, v, the parts' potentials (least of their lies), and for each stock what its own
    start and end take.
    """
    lengths, lies, gaps, spans = (
        sequencer.lengths,
        sequencer.lies,
        sequencer.gaps,
        sequencer.spans,
    )
    ends, starts = gaps.shape
    parts, stocks = len(lengths), len(spans)
    first_part = ends + starts
    first_stock = first_part + parts
    model = _Model(first_stock + 2 * stocks)
    for part, share in enumerate(shares):
        model.cost[first_part + part] = -share
        model.lower[first_part + part] = 2 - float(lengths[part])
        for lie in lies[part]:
            model.at_most({first_part + part: 1, lie.end: -1, ends + lie.start: -1}, 0)
    for end in range(ends):
        for start in range(starts):
            model.at_most({end: 1, ends + start: 1}, float(gaps[end, start]))
    for stock, (span, weight) in enumerate(zip(spans, boards, strict=True)):
        before, behind = first_stock + 2 * stock, first_stock + 2 * stock + 1
        model.cost[before] = model.cost[behind] = -weight
        for start in range(starts):
            model.at_most({before: 1, ends + start: 1}, float(span.before[start]))
        for end in range(ends):
            model.at_most({behind: 1, end: 1}, float(span.behind[end]))
    solved = model.solved()
    if solved is None:
        return None
    values = np.floor(solved + _WHOLE)
    return values[:ends].astype(np.int64), values[ends : ends + starts].astype(np.int64)


class _Model:
    """A linear programme of rows `sum <= limit` to be minimised."""

    def __init__(self, columns: int) -> None:
        self.cost = np.zeros(columns)
        self.lower = np.full(columns, -highspy.kHighsInf)
        self._starts: list[int] = [0]
        self._index: list[int] = []
        self._value: list[float] = []
        self._limits: list[float] = []

    def at_most(self, terms: dict[int, float], limit: float) -> None:
        """Add a row."""
        self._index += terms.keys()
        self._value += terms.values()
        self._starts.append(len(self._index))
        self._limits.append(limit)

    def solved(self) -> Floats | None:
        """The columns' values at the optimum; None where there is none."""
        model = highspy.HighsLp()
        model.num_col_, model.num_row_ = len(self.cost), len(self._limits)
        model.col_cost_, model.col_lower_ = self.cost, self.lower
        model.col_upper_ = np.full(len(self.cost), highspy.kHighsInf)
        model.row_lower_ = np.full(len(self._limits), -highspy.kHighsInf)
        model.row_upper_ = np.array(self._limits)
        model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        model.a_matrix_.start_ = np.array(self._starts, dtype=np.int32)
        model.a_matrix_.index_ = np.array(self._index, dtype=np.int32)
        model.a_matrix_.value_ = np.array(self._value)
        solver = QuietSolver()
        solver.passModel(model)
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        return np.asarray(solver.getSolution().col_value)
