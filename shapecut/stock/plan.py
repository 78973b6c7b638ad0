"""From blanks and what the yard sells to boards: the cheapest way, and the proof that it is.

A board of length L takes n blanks when sum(lengths) + (n - 1) * kerf is at most L: the last blank
needs no cut behind it when it ends at the board's end.  When it does not, the cut that frees it
turns one more kerf to dust, and the offcut is what is left after that, or nothing.
"""

from collections.abc import Callable, Sequence
from decimal import Decimal

from shapecut.errors import StockError
from shapecut.findings import Finding, Level
from shapecut.stock.cutplan import Blank, Cut, CutBoard, CutPlan, Stock
from shapecut.stock.formulate import Job, Money, check_job, formulate, named_stock
from shapecut.stock.problem import FilledBoard
from shapecut.stock.search import cheapest_boards

__all__ = ["plan_cuts"]


def plan_cuts(
    blanks: Sequence[Blank],
    stock: Sequence[Stock],
    *,
    kerf_mm: float,
    squared_end_mm: float = 0.0,
    time_limit_s: float = 10.0,
    progress: Callable[[str], None] | None = None,
) -> CutPlan:
    """Choose the boards to buy, and which blank is cut from which, at the least cost.

    Cost is the sum of prices, or the length bought when no price is stated.  Among plans of equal
    cost, one with few boards is preferred.  The same input gives the same plan, unless the time
    limit cuts the search short.

    Three blanks of 1000 mm and two of 600 mm are 4200 mm together, more than any one board; the
    two cheapest boards are two of 2.4 m, and with a 3 mm kerf they take 1000 + 3 + 1000 = 2003 mm
    and 1000 + 3 + 600 + 3 + 600 = 2206 mm.  Freeing the last blank takes 3 mm more from each.

    >>> yard = [Stock(2400, Decimal(10)), Stock(3600, Decimal(14))]
    >>> lengths = {"1a": 1000, "2a": 600, "3a": 1000, "4a": 600, "5a": 1000}
    >>> plan = plan_cuts([Blank(*item) for item in lengths.items()], yard, kerf_mm=3)
    >>> plan.cost, plan.bound, plan.proved
    (Decimal('20'), Decimal('20'), True)
    >>> [([cut.label for cut in board.cuts], board.offcut_mm) for board in plan.boards]
    [(['1a', '3a'], 394.0), (['5a', '2a', '4a'], 191.0)]

    Args:
        blanks: To cut, with unique labels.
        stock: What can be bought; prices for all or for none.
        kerf_mm: Width of a cut.
        squared_end_mm: What squaring a board's first end takes off, that cut's kerf included.
        time_limit_s: After about this time the search stops with the best plan it has.
        progress: Told in a sentence how far the search is, whenever it gets further.

    Returns:
        The plan; boards in order of their stock's length, then of their blanks; on a board the
        longest blank first.  When the cost is not proved, a finding tells the gap.

    Raises:
        StockError: If a length, kerf or price cannot be, prices are stated for some stock only,
            there is no stock, a blank is longer than every board, or the boards do not suffice.
    """
    on_sale = [s for s in stock if s.available != 0]
    on_sale.sort(key=lambda s: (s.length_mm, s.price or 0))
    job = Job(tuple(blanks), tuple(on_sale), kerf_mm, squared_end_mm)
    check_job(job)
    if not job.blanks:
        return _cut_plan(job, (), (), Decimal(0))
    job = job.with_useful_stock()
    money = Money.common(job.costs())
    problem, groups = formulate(job, money)

    def tell(price: int | None, bound: int) -> None:
        if progress is not None:
            plan = "no plan yet" if price is None else f"a plan for {money.amount(price)}"
            progress(f"{plan}, none below {money.amount(bound)}")

    solution = cheapest_boards(problem, time_limit_s=time_limit_s, progress=tell)
    if solution.boards is None:
        if solution.impossible:
            remedy = "no way of cutting them suffices: add boards"
        else:
            remedy = f"no way was found in {time_limit_s:g} s: add boards or allow more time"
        raise StockError(
            f"The boards that can be had ({named_stock(job.stock)}) are too few for the "
            f"{len(job.blanks)} pieces, {remedy}."
        )
    return _cut_plan(job, groups, solution.boards, money.amount(solution.bound))


def _cut_plan(
    job: Job,
    groups: tuple[tuple[Blank, ...], ...],
    boards: tuple[FilledBoard, ...],
    bound: Decimal,
) -> CutPlan:
    """Hand the blanks of each size out to the boards, in order."""
    left = [list(group) for group in groups]
    cut_boards = []
    in_order = sorted(boards, key=lambda board: (board[0], [-count for count in board[1]]))
    for number, (index, copies) in enumerate(in_order, start=1):
        taken = [left[size].pop(0) for size, count in enumerate(copies) for _ in range(count)]
        cut_boards.append(_cut_board(job, number, job.stock[index], taken))
    costs = dict(zip(job.stock, job.costs(), strict=True))
    cost = sum((costs[board.stock] for board in cut_boards), Decimal(0))
    proved = bound >= cost
    return CutPlan(
        boards=tuple(cut_boards),
        kerf_mm=job.kerf_mm,
        cost=cost if job.priced else None,
        bound=bound,
        proved=proved,
        findings=() if proved else (_gap(cost, bound),),
    )


def _cut_board(job: Job, number: int, stock: Stock, blanks: Sequence[Blank]) -> CutBoard:
    """Lay blanks out on one board, longest first, from its squared end."""
    cuts, at = [], job.squared_end_mm
    for blank in blanks:
        end = at + blank.length_mm
        cuts.append(Cut(blank.label, at, end))
        at = end + job.kerf_mm
    return CutBoard(number, stock, tuple(cuts), max(0.0, stock.length_mm - at))


def _gap(cost: Decimal, bound: Decimal) -> Finding:
    return Finding(
        Level.NOTE,
        "boards to buy",
        f"The plan costs {cost}, and that no plan costs less than {bound} is all that was proved: "
        f"up to {(cost - bound) / cost:.2%} might be saved.",
        "Allow more time for the cutting plan if the difference matters.",
    )
