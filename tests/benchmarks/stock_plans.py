"""How good and how fast cutting plans are, over sizes of jobs.

Run with `python -m tests.benchmarks.stock_plans [BLANKS …]`.  Columns: the plan's cost and bound,
whether it is proved, its time; the cost of first-fit decreasing (best of the stocks) over the
plan's; and where OR-Tools CP-SAT proves the same job in a minute, its cost over the plan's and its
time over the plan's.
"""

import math
import random
import sys
import time
from decimal import Decimal

from shapecut.stock.cutplan import Blank, Stock
from shapecut.stock.first_fit import first_fit_plan
from shapecut.stock.formulate import formulate
from shapecut.stock.job import Job, Money, cost_of
from shapecut.stock.plan import plan_cuts
from shapecut.stock.problem import total_price
from shapecut.stock.turns import Turn
from tests.cutting_model import hundredths, least_cost

KERF_MM = 3.2
YARD_MM = (3600, 2400, 4800, 5400)
CP_SAT_MOST_BLANKS = 40
CP_SAT_LIMIT_S = 60.0


def random_job(blanks: int, stocks: int, *, priced: bool) -> tuple[list[Blank], list[Stock]]:
    """Different lengths between 250 and 2300 mm, prices within a tenth of 4 a metre."""
    rng = random.Random(blanks * stocks)
    stock = []
    for length in YARD_MM[:stocks]:
        price = Decimal(round(length * 0.4 * rng.uniform(0.9, 1.1))) / 100
        stock.append(Stock(length, price if priced else None))
    stock.sort(key=lambda kind: kind.length_mm)
    lengths = [round(rng.uniform(250, 2300), 1) for _ in range(blanks)]
    return [Blank(str(i), length) for i, length in enumerate(lengths)], stock


def first_fit_cost(blanks: list[Blank], stock: list[Stock]) -> Decimal:
    job = Job(tuple(blanks), tuple(stock), (), KERF_MM, 0.0, math.inf, (Turn.AS_LAID,))
    money = Money.common([cost_of(kind) for kind in stock])
    problem = formulate(job, money).plain
    return money.amount(total_price(problem, first_fit_plan(problem) or ()))


def row(count: int, stocks: int, *, priced: bool) -> str:
    blanks, stock = random_job(count, stocks, priced=priced)
    start = time.perf_counter()
    plan = plan_cuts(blanks, stock, kerf_mm=KERF_MM)
    seconds = time.perf_counter() - start
    cost = plan.cost if plan.cost is not None else Decimal(str(plan.bought_mm))
    cells = [
        f"{count:6}", f"{stocks:6}", "price " if priced else "length", f"{cost:>10}",
        f"{plan.bound:>10}", f"{(cost - plan.bound) / cost:7.2%}", f"{plan.proved!s:>6}",
        f"{seconds:8.3f} s", f"{first_fit_cost(blanks, stock) / cost:8.4f}",
    ]  # fmt: skip
    if count <= CP_SAT_MOST_BLANKS:
        start = time.perf_counter()
        model = least_cost(blanks, stock, KERF_MM, CP_SAT_LIMIT_S)
        model_seconds = time.perf_counter() - start
        if model.proved and model.cost is not None:
            cells += [f"{model.cost / hundredths(cost):8.4f}", f"{model_seconds / seconds:8.1f}"]
    return " ".join(cells)


def main() -> None:
    counts = [int(word) for word in sys.argv[1:]] or [10, 30, 60, 120, 300]
    print("blanks stocks cost by       cost      bound     gap proved       time", end=" ")
    print("first-fit   CP-SAT  its time")
    for count in counts:
        for stocks in (1, 3, 4):
            for priced in (True, False):
                print(row(count, stocks, priced=priced), flush=True)


if __name__ == "__main__":
    main()
