"""The cutting problem as a constraint programme, written apart from the package's own solver."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from ortools.sat.python import cp_model

from shapecut.stock.cutplan import Blank, Stock


@dataclass(frozen=True)
class ModelResult:
    """Least cost in hundredths (of a currency unit, or of a mm); None when there is no plan.

    `proved` is False when the time ran out first.
    """

    cost: int | None
    proved: bool


def hundredths(value: float | Decimal) -> int:
    return round(Decimal(str(value)) * 100)


def least_cost(
    blanks: Sequence[Blank], stock: Sequence[Stock], kerf_mm: float, time_limit_s: float = 60.0
) -> ModelResult:
    """Say for every blank which board it is cut from, every possible board being a variable."""
    model = cp_model.CpModel()
    kerf = hundredths(kerf_mm)
    on_board: list[list[cp_model.IntVar]] = [[] for _ in blanks]
    costs = []
    for s, kind in enumerate(stock):
        boards = len(blanks) if kind.available is None else min(kind.available, len(blanks))
        before = None
        for b in range(boards):
            bought = model.new_bool_var(f"bought {s} {b}")
            cut = [model.new_bool_var(f"cut {i} from {s} {b}") for i in range(len(blanks))]
            lengths = sum(hundredths(x.length_mm) * c for x, c in zip(blanks, cut, strict=True))
            cuts_between = sum(cut) - bought
            model.add(lengths + kerf * cuts_between <= hundredths(kind.length_mm) * bought)
            for places, place in zip(on_board, cut, strict=True):
                places.append(place)
            if before is not None:
                model.add_implication(bought, before)
            before = bought
            price = kind.length_mm if kind.price is None else kind.price
            costs.append(hundredths(price) * bought)
    for places in on_board:
        model.add_exactly_one(places)
    model.minimize(sum(costs))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_time_in_seconds = time_limit_s
    status = solver.solve(model)
    proved = status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return ModelResult(round(solver.objective_value) if found else None, proved)
