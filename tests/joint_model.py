"""The joints of staggered rows as a model for OR-Tools CP-SAT, to compare with."""

from collections.abc import Sequence
from itertools import combinations

from ortools.sat.python import cp_model

from shapecut.layout.row_joints import JointedRow

__all__ = ["fewest_joints"]


def fewest_joints(rows: Sequence[JointedRow], *, offset: float, seconds: float) -> int | None:
    """The fewest joints; None if there is no way.

    Raises:
        TimeoutError: If neither is known in time.
    """
    model = cp_model.CpModel()
    taken = [[model.NewBoolVar("") for _ in row.places] for row in rows]
    for row, joints in zip(rows, taken, strict=True):
        for stretch in row.stretches:
            _join(model, row, stretch, joints)
    for number in range(1, len(rows)):
        for a, first in zip(rows[number - 1].places, taken[number - 1], strict=True):
            for b, second in zip(rows[number].places, taken[number], strict=True):
                if abs(a - b) < offset - 1e-6:
                    model.AddBoolOr([first.Not(), second.Not()])
    model.Minimize(sum(joint for joints in taken for joint in joints))
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = 1
    status = solver.Solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status != cp_model.OPTIMAL:
        raise TimeoutError(f"no optimum within {seconds:g} s")
    return round(solver.ObjectiveValue())


def _join(model, row, stretch, joints) -> None:
    """A path of parts from one end of a stretch to the other, over the joints that are taken."""
    start, end = stretch.ends
    stops = [start, *(row.places[index] for index in stretch.places), end]
    parts = {
        (a, b): model.NewBoolVar("")
        for a, b in combinations(range(len(stops)), 2)
        if stretch.shortest <= stops[b] - stops[a] <= stretch.longest
    }
    for stop in range(len(stops)):
        into = sum(part for (_, b), part in parts.items() if b == stop)
        out = sum(part for (a, _), part in parts.items() if a == stop)
        if stop == 0:
            model.Add(out == 1)
        elif stop == len(stops) - 1:
            model.Add(into == 1)
        else:
            joint = joints[stretch.places[stop - 1]]
            model.Add(into == joint)
            model.Add(out == joint)
