"""How good and how fast cutting plans are.

Run with `python -m tests.benchmarks.stock_plans [random|large|published|angled] [NUMBER …]`:

random: jobs of so many blanks (10, 30, 60, 120, 300 if left out) and 1, 3 or 4 stock lengths.
    Columns: the plan's cost and bound, whether it is proved, its time; the cost of first-fit
    decreasing (best of the stocks) over the plan's; and where OR-Tools CP-SAT proves the same job
    in a minute, its cost over the plan's and its time over the plan's.
large: 300 blanks, 4 stock lengths, NUMBER jobs (10 if left out) over five ways of pricing and three
    kinds of blanks, 10 s each: how far the plan's cost is from the bound.
published: all problems of `fixtures/published_cutting`, and of a FOLDER named after NUMBER, each
    with NUMBER seconds (10 if left out): how many are proved, seconds in all, boards of first-fit
    decreasing over the fewest and its time over ours, and for the first problems of each family
    CP-SAT's time over ours, broken off after 20 s, and how many of them it proved.
angled: NUMBER jobs (100 if left out) of 5 to 24 blanks with slanted ends, nested, against the same
    with square ends: board length bought and time.
"""

import math
import random
import sys
import time
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path

from shapecut.stock.cutplan import Blank, Stock
from shapecut.stock.first_fit import fill_longest_first, first_fit_plans
from shapecut.stock.formulate import formulate
from shapecut.stock.job import Job
from shapecut.stock.money import Money, cost_of
from shapecut.stock.plan import plan_cuts
from shapecut.stock.problem import total_price
from shapecut.stock.turns import Turn, allowed_turns
from tests.angled_jobs import WIDTH_MM, angled_job
from tests.cutting_model import hundredths, least_cost
from tests.published_cutting import FAMILIES, Published, gathered, published

KERF_MM = 3.2
YARD_MM = (3600, 2400, 4800, 5400)
CP_SAT_MOST_BLANKS = 40
CP_SAT_LIMIT_S = 60.0
CP_SAT_PUBLISHED = 5
CP_SAT_PUBLISHED_LIMIT_S = 20.0
LARGE = 300
PRICINGS = {
    "even": (4.0, 4.0, 0.0),
    "uneven": (4.0, 4.0, 0.1),
    "long dearer": (3.6, 4.9, 0.0),
    "short dearer": (4.9, 3.9, 0.0),
    "none": None,
}
"""Per metre of the shortest and of the longest board, and by how much of it each may differ."""

ANGLES_DEG = ((33.0,), (45.0, -45.0), (20.0, -35.0, 50.0))


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


def first_fit_cost(blanks: Sequence[Blank], stock: Sequence[Stock], kerf_mm: float) -> Decimal:
    job = Job(tuple(blanks), tuple(stock), (), kerf_mm, 0.0, math.inf, (Turn.AS_LAID,))
    money = Money.common([cost_of(kind) for kind in stock])
    problem = formulate(job, money).plain
    best, *_ = first_fit_plans(problem, (fill_longest_first,))
    return money.amount(total_price(problem, best))


def row(count: int, stocks: int, *, priced: bool) -> str:
    blanks, stock = random_job(count, stocks, priced=priced)
    start = time.perf_counter()
    plan = plan_cuts(blanks, stock, kerf_mm=KERF_MM)
    seconds = time.perf_counter() - start
    cost = plan.cost if plan.cost is not None else Decimal(str(plan.bought_mm))
    cells = [
        f"{count:6}", f"{stocks:6}", "price " if priced else "length", f"{cost:>10}",
        f"{plan.bound:>10}", f"{(cost - plan.bound) / cost:7.2%}", f"{plan.proved!s:>6}",
        f"{seconds:8.3f} s", f"{first_fit_cost(blanks, stock, KERF_MM) / cost:8.4f}",
    ]  # fmt: skip
    if count <= CP_SAT_MOST_BLANKS:
        start = time.perf_counter()
        model = least_cost(blanks, stock, KERF_MM, CP_SAT_LIMIT_S)
        model_seconds = time.perf_counter() - start
        if model.proved and model.cost is not None:
            cells += [f"{model.cost / hundredths(cost):8.4f}", f"{model_seconds / seconds:8.1f}"]
    return " ".join(cells)


def random_jobs(counts: Sequence[int]) -> None:
    print("blanks stocks cost by       cost      bound     gap proved       time", end=" ")
    print("first-fit   CP-SAT  its time")
    for count in counts or (10, 30, 60, 120, 300):
        for stocks in (1, 3, 4):
            for priced in (True, False):
                print(row(count, stocks, priced=priced), flush=True)


def large_job(seed: int, pricing: str) -> tuple[list[Blank], list[Stock]]:
    """300 blanks of 250 to 2300 mm: all different, of 40 lengths, or half a board and more."""
    rng = random.Random(f"{seed} {pricing}")
    if seed % 3 == 1:
        few = [round(rng.uniform(250, 2300), 1) for _ in range(40)]
        lengths = [rng.choice(few) for _ in range(LARGE)]
    else:
        shortest = 1100 if seed % 3 == 2 else 250
        lengths = [round(rng.uniform(shortest, 2300), 1) for _ in range(LARGE)]
    stock = []
    for length in sorted(YARD_MM):
        a_metre = PRICINGS[pricing]
        if a_metre is None:
            stock.append(Stock(length))
            continue
        first, last, spread = a_metre
        share = (length - min(YARD_MM)) / (max(YARD_MM) - min(YARD_MM))
        price = (first + (last - first) * share) * rng.uniform(1 - spread, 1 + spread)
        stock.append(Stock(length, Decimal(round(length * price / 10)) / 100))
    return [Blank(str(i), length) for i, length in enumerate(lengths)], stock


def large_jobs(number: int) -> None:
    print("prices         blanks      cost      bound     gap       time")
    gaps = []
    for seed in range(number):
        pricing = list(PRICINGS)[seed % len(PRICINGS)]
        blanks, stock = large_job(seed, pricing)
        start = time.perf_counter()
        plan = plan_cuts(blanks, stock, kerf_mm=KERF_MM, time_limit_s=10.0)
        seconds = time.perf_counter() - start
        cost = plan.cost if plan.cost is not None else Decimal(str(plan.bought_mm))
        gaps.append((cost - plan.bound) / cost)
        different = len({blank.length_mm for blank in blanks})
        cells = [f"{pricing:14}", f"{different:6}", f"{cost:>9}", f"{plan.bound:>10}"]
        print(*cells, f"{gaps[-1]:7.2%}", f"{seconds:8.2f} s", flush=True)
    print(f"largest gap {max(gaps):.2%}, mean {sum(gaps) / len(gaps):.2%}")


def published_problems(limit_s: float, folder: Path | None) -> None:
    print("family       problems proved seconds  first-fit  its time   CP-SAT's time  proved")
    others = gathered(folder) if folder else ()
    for problems in (*map(published, FAMILIES), *others):
        print(family_row(problems, limit_s), flush=True)


def family_row(problems: Sequence[Published], limit_s: float) -> str:
    ours_s, proved, fit_s, fit_boards = [], 0, 0.0, Decimal(0)
    for problem in problems:
        start = time.perf_counter()
        plan = problem.plan(limit_s)
        ours_s.append(time.perf_counter() - start)
        proved += plan.proved and plan.bound == problem.fewest * problem.board
        start = time.perf_counter()
        fit_boards += first_fit_cost(problem.blanks, [Stock(problem.board)], 0.0) / problem.board
        fit_s += time.perf_counter() - start
    fewest = sum(problem.fewest for problem in problems)
    model_s, model_proved = 0.0, 0
    for problem in problems[:CP_SAT_PUBLISHED]:
        start = time.perf_counter()
        stock = [Stock(problem.board)]
        model_proved += least_cost(problem.blanks, stock, 0.0, CP_SAT_PUBLISHED_LIMIT_S).proved
        model_s += time.perf_counter() - start
    return (
        f"{problems[0].family:12} {len(problems):8} {proved:6} {sum(ours_s):7.2f} "
        f"{fit_boards / fewest:10.4f} {fit_s / sum(ours_s):9.4f} "
        f"{model_s / sum(ours_s[:CP_SAT_PUBLISHED]):15.1f} "
        f"{model_proved:3} of {len(problems[:CP_SAT_PUBLISHED])}"
    )


def angled_jobs(number: int) -> None:
    turns = allowed_turns(two_good_faces=False, edges_alike=True)
    stock = [Stock(2400.0), Stock(3600.0)]
    nested_mm = square_mm = bound_mm = 0.0
    cheaper = dearer = proved = 0
    start = time.perf_counter()
    for seed in range(number):
        blanks = angled_job(seed, 5 + seed % 20, ANGLES_DEG[seed % len(ANGLES_DEG)])
        square = [Blank(blank.label, blank.length_mm) for blank in blanks]
        nested = plan_cuts(blanks, stock, kerf_mm=KERF_MM, width_mm=WIDTH_MM, turns=turns)
        bounding = plan_cuts(square, stock, kerf_mm=KERF_MM)
        nested_mm += nested.bought_mm
        square_mm += bounding.bought_mm
        bound_mm += float(nested.bound)
        cheaper += nested.bought_mm < bounding.bought_mm
        dearer += nested.bought_mm > bounding.bought_mm
        proved += nested.proved
    seconds = time.perf_counter() - start
    print(
        f"{number} jobs: {nested_mm / 1000:.1f} m bought nested, {square_mm / 1000:.1f} m as "
        f"bounding rectangles ({1 - nested_mm / square_mm:.2%} less), proved bound "
        f"{bound_mm / 1000:.1f} m; cheaper in {cheaper}, dearer in {dearer}, proved {proved}; "
        f"{seconds:.0f} s"
    )


def main() -> None:
    which, *words = sys.argv[1:] or ["random"]
    if which == "published":
        folder = Path(words[1]) if len(words) > 1 else None
        published_problems(float(words[0]) if words else 10.0, folder)
    elif which == "large":
        large_jobs(int(words[0]) if words else 10)
    elif which == "angled":
        angled_jobs(int(words[0]) if words else 100)
    else:
        random_jobs([int(word) for word in words])


if __name__ == "__main__":
    main()
