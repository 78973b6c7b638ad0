"""How long a plan of 60 m² takes: 40 rows, three posts, a border, joints, supports and fasteners.

Run `python -m tests.benchmarks.plan_field`.  Times depend on the machine and on what else it does,
so each stands beside its ratio to a measure of the same run: 5 million steps of a Python loop.
"""

import time
from collections.abc import Callable
from typing import TypeVar

from shapecut.job.boards import Boards, JointTable, JoistTable
from shapecut.job.edges import Allowances
from shapecut.job.fittings import FasciaTable, FastenerTable
from shapecut.job.stock import StockTable
from shapecut.layout.border_rules import BorderRules
from shapecut.layout.edging import EdgingRules
from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.stages.fitting_out import FittingTables, fitted_out
from shapecut.stages.planning import Plan, plan
from shapecut.stock.materials import Fittings

LENGTH_MM, DEPTH_MM = 9900.0, 6085.0
"""Inside a border of one course: 40 rows of 145 mm; 60.2 m² over all."""

STEPS = 5_000_000

T = TypeVar("T")

TABLES = FittingTables(
    FastenerTable(),
    FasciaTable(frame_depth="190 mm", lengths=[{"length": "4.2 m", "price": 19}]),
)

BOARDS = Boards(width="140 mm", thickness="28 mm", gap="5 mm", edges="grooved", start="best")

STOCK = StockTable(
    lengths=[{"length": "3.6 m", "price": 21}, {"length": "4.8 m", "price": 29}], kerf="3 mm"
)


def field() -> Outline:
    """A rectangle with three square posts."""
    outer = _ring("E", ((0, 0), (LENGTH_MM, 0), (LENGTH_MM, DEPTH_MM), (0, DEPTH_MM)))
    posts = [(x, y) for x, y in ((2000.0, 2400.0), (5000.0, 2400.0), (8000.0, 2400.0))]
    holes = (
        _ring(f"P{n}E", ((x, y), (x, y + 120), (x + 120, y + 120), (x + 120, y)))
        for n, (x, y) in enumerate(posts, start=1)
    )
    return Outline(outer, tuple(holes))


def _ring(prefix: str, points: tuple[tuple[float, float], ...]) -> Ring:
    ends = (*points[1:], points[0])
    return Ring(
        tuple(
            Edge(f"{prefix}{n}", Line(start, end))
            for n, (start, end) in enumerate(zip(points, ends, strict=True), start=1)
        )
    )


def planned() -> Plan:
    """The boards."""
    return plan(
        field(),
        BOARDS,
        Allowances(),
        STOCK,
        joists=JoistTable(spacing="400 mm", first="19 mm", measured_from="E4"),
        joints=JointTable(offset="800 mm", shortest="600 mm", gap="3 mm"),
        edging=EdgingRules(border=BorderRules(("E1", "E2", "E3", "E4"))),
    )


def timed(made: Callable[[], T]) -> tuple[float, T]:
    """Seconds that something takes, and what it makes."""
    begin = time.perf_counter()
    result = made()
    return time.perf_counter() - begin, result


def loop() -> int:
    """The measure."""
    total = 0
    for step in range(STEPS):
        total += step & 3
    return total


def main() -> None:
    """Print the times."""
    planned()  # Imports and first calls are not counted.
    measure_s, _ = timed(loop)
    plan_s, made = timed(planned)

    def fitted() -> Fittings:
        return fitted_out(made, BOARDS, TABLES, kerf_mm=3.0)

    fit_s, fittings = timed(fitted)
    layout = made.layout
    counts = fittings.fasteners.counts() if fittings.fasteners else {}
    print(
        f"{LENGTH_MM * DEPTH_MM / 1e6:.1f} m², {len(layout.rows)} rows, {len(layout.pieces)} "
        f"pieces, {len(layout.joints)} joints, {len(made.cut_plan.boards)} boards (proved: "
        f"{made.cut_plan.proved}), {sum(counts.values())} fasteners"
    )
    print(f"{STEPS} steps of a loop   {measure_s:6.2f} s")
    print(f"plan                    {plan_s:6.2f} s   {plan_s / measure_s:5.1f} times the loop")
    print(f"fasteners, fascia, list {fit_s:6.2f} s   {fit_s / measure_s:5.1f} times the loop")


if __name__ == "__main__":
    main()
