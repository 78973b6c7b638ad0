"""From blanks and what the yard sells to boards: the cheapest way, and the proof that it is.

A board of length L takes n square-ended blanks when sum(lengths) + (n - 1) * kerf is at most L: the
last blank needs no cut behind it when it ends at the board's end.  When it does not, the cut that
frees it turns one more kerf to dust, and the offcut is what is left after that, or nothing.
Slanted ends need less where neighbours share their cut (`ends`), narrow blanks may lie abreast
(`bundles`).
"""

from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal

from shapecut.errors import StockError
from shapecut.findings import Finding, Level, listed
from shapecut.stock.bundles import MOST_ABREAST
from shapecut.stock.cutplan import Blank, CutBoard, CutPlan, Offcut, Stock
from shapecut.stock.formulate import Formulation, formulate
from shapecut.stock.job import Job, check_job, named_stock
from shapecut.stock.laying_out import cut_boards
from shapecut.stock.money import Money, cost_of
from shapecut.stock.search import Solution, cheapest_boards
from shapecut.stock.turns import Turn
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["LEFTOVER_MM", "plan_cuts"]

LEFTOVER_MM = 300.0
"""Offcuts at least this long are worth keeping, unless the job says otherwise."""

SPARE_MM = 2.0
"""Less than this is no more than boards are off as they are sold (common practice)."""

MOST_LISTED = 12
"""So many boards are named in a sentence."""

_PLAIN_SHARE = 0.3
"""Part of the time in which slanted ends are first taken for square ones."""


def plan_cuts(
    blanks: Sequence[Blank],
    stock: Sequence[Stock],
    *,
    kerf_mm: float,
    squared_end_mm: float = 0.0,
    on_hand: Sequence[Offcut] = (),
    width_mm: float = float("inf"),
    turns: Sequence[Turn] = (Turn.AS_LAID,),
    leftover_mm: float = LEFTOVER_MM,
    time_limit_s: float = 10.0,
    progress: Callable[[str], None] | None = None,
    lengths: LengthStyle = MILLIMETRES,
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
        squared_end_mm: What squaring takes off either end of a bought board, the kerf included;
            nothing is cut from there, nor is it counted as left over.
        on_hand: Offcuts that are there, used where that saves money.
        width_mm: Of the boards; needed where blanks have a rip or offcuts have slanted ends.
        turns: How blanks may be turned on their board.
        leftover_mm: What is left of a board is worth keeping from this length on.
        time_limit_s: After about this time the search stops with the best plan it has.
        progress: Told in a sentence how far the search is, whenever it gets further.
        lengths: How refusals write lengths.

    Returns:
        The plan; boards in order of their stock's length, then of their blanks; on a board the
        longest blank first where the order of the ends makes no difference.  When the cost is not
        proved, a finding tells the gap.

    Raises:
        StockError: If a length, kerf or price cannot be, prices are stated for some stock only,
            there is no stock, a blank is longer than every board, or the boards do not suffice.
    """
    on_sale = [s for s in stock if s.available != 0]
    on_sale.sort(key=lambda s: (s.length_mm, s.price or 0))
    job = Job(
        tuple(blanks),
        tuple(on_sale),
        tuple(on_hand),
        kerf_mm,
        squared_end_mm,
        width_mm,
        tuple(turns),
        lengths,
    )
    check_job(job)
    if not job.blanks:
        zero = Decimal(0)
        return CutPlan((), kerf_mm, zero if job.priced else None, zero, True, (), job.on_hand)
    money = Money.common([cost_of(s) for s in job.stock] + [o.cost for o in job.on_hand])
    formulation = formulate(job, money)

    def tell(price: int | None, bound: int) -> None:
        if progress is not None:
            plan = "no plan yet" if price is None else f"a plan for {money.amount(price)}"
            progress(f"{plan}, none below {money.amount(bound)}")

    solution = _solve(formulation, time_limit_s, tell)
    if solution.boards is None:
        raise _too_few(job, impossible=solution.impossible, time_limit_s=time_limit_s)
    boards = cut_boards(job, formulation, solution.boards, leftover_mm=leftover_mm)
    cost = sum((cost_of(board.stock) for board in boards), Decimal(0))
    bound = money.amount(solution.bound)
    touched = {board.stock.on_hand for board in boards}
    return CutPlan(
        boards=boards,
        kerf_mm=kerf_mm,
        cost=cost if job.priced else None,
        bound=bound,
        proved=bound >= cost,
        findings=(
            *_findings(cost, bound, formulation.most_abreast),
            *_used_up(boards, job),
        ),
        unused=tuple(offcut for offcut in job.on_hand if offcut not in touched),
    )


def _solve(
    formulation: Formulation, time_limit_s: float, tell: Callable[[int | None, int], None]
) -> Solution:
    """Solve with square ends; then, where ends are slanted, begin with that plan and nest."""
    if not formulation.nests:
        return cheapest_boards(formulation.plain, time_limit_s=time_limit_s, progress=tell)
    plain = cheapest_boards(formulation.plain, time_limit_s=time_limit_s * _PLAIN_SHARE)
    return cheapest_boards(
        formulation.nested,
        time_limit_s=time_limit_s * (1 - _PLAIN_SHARE),
        start=plain.boards,
        progress=tell,
    )


def _too_few(job: Job, *, impossible: bool, time_limit_s: float) -> StockError:
    if impossible:
        remedy = "no way of cutting them suffices: add boards"
    else:
        remedy = f"no way was found in {time_limit_s:g} s: add boards or allow more time"
    return StockError(
        f"The boards that can be had ({named_stock(job)}) are too few for the "
        f"{len(job.blanks)} pieces, {remedy}."
    )


def _findings(cost: Decimal, bound: Decimal, most_abreast: int) -> Iterator[Finding]:
    if bound < cost:
        yield _gap(cost, bound)
    if most_abreast < MOST_ABREAST:
        abreast = f"{most_abreast} abreast" if most_abreast > 1 else "none abreast"
        yield Finding(
            Level.NOTE,
            "boards to buy",
            f"There are so many narrow pieces that the plan was sought with at most {abreast}, and "
            "the least cost is proved among such plans.",
            "Look whether more of them can be ripped from one length.",
        )


def _used_up(boards: Sequence[CutBoard], job: Job) -> Iterator[Finding]:
    """Bought boards with nothing left to square them by, where the job squares none."""
    if job.squared_end_mm:
        return
    full = [
        board
        for board in boards
        if board.stock.on_hand is None
        and board.cuts[0].start_mm < SPARE_MM
        and max(cut.end_mm for cut in board.cuts) > board.stock.length_mm - SPARE_MM
    ]
    if full:
        numbers = listed([str(board.number) for board in full], MOST_LISTED)
        boards_use = "Board {} is" if len(full) == 1 else "Boards {} are"
        yield Finding(
            Level.NOTE,
            "boards to buy",
            f"{boards_use.format(numbers)} used from end to end, with less than "
            f"{job.lengths.fine(SPARE_MM)} to spare.",
            "Measure those boards before they are cut; if they come short or out of square, state "
            "a squared_end under [stock], or a longer board.",
        )


def _gap(cost: Decimal, bound: Decimal) -> Finding:
    return Finding(
        Level.NOTE,
        "boards to buy",
        f"The plan costs {cost}, and that no plan costs less than {bound} is all that was proved: "
        f"up to {(cost - bound) / cost:.2%} might be saved.",
        "Allow more time for the cutting plan if the difference matters.",
    )
