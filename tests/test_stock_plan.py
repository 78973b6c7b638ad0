"""Cutting plans: the optimum, what every plan must keep, and the sentences for bad input."""

import doctest
import random
from collections import Counter
from collections.abc import Sequence
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import StockError
from shapecut.stock import plan as plan_module
from shapecut.stock.cutplan import Blank, CutPlan, Stock
from shapecut.stock.money import money_text
from shapecut.stock.plan import plan_cuts
from tests.cutting_model import hundredths, least_cost

YARD = (Stock(2400, Decimal("9.90")), Stock(3600, Decimal("14.50")), Stock(4800, Decimal("19.95")))


def blanks_of(*lengths: float) -> list[Blank]:
    return [Blank(f"{i}a", length) for i, length in enumerate(lengths, start=1)]


def random_job(seed: int) -> tuple[list[Blank], list[Stock], float]:
    """Up to twelve blanks, one to three stocks; priced or not, some stocks limited, all seeded."""
    rng = random.Random(seed)
    lengths = rng.sample([1800.0, 2400.0, 3000.0, 3657.6, 4200.0, 4800.0], rng.randint(1, 3))
    priced = rng.random() < 0.7
    stock = [
        Stock(
            length,
            Decimal(round(length * rng.uniform(0.3, 0.5))) / 100 if priced else None,
            rng.choice([None, None, rng.randint(0, 4)]),
        )
        for length in lengths
    ]
    longest = max(lengths)
    choices = [round(rng.uniform(200, longest * rng.choice([0.5, 0.9])), 1) for _ in range(6)]
    blanks = blanks_of(*(rng.choice(choices) for _ in range(rng.randint(1, 12))))
    return blanks, stock, rng.choice([0.0, 2.2, 3.0, 3.2])


def check_plan(
    plan: CutPlan,
    blanks: Sequence[Blank],
    stock: Sequence[Stock],
    kerf_mm: float,
    squared_end_mm: float = 0.0,
) -> None:
    """What holds for every plan, whatever its cost."""
    lengths = {blank.label: blank.length_mm for blank in blanks}
    assert sorted(cut.label for board in plan.boards for cut in board.cuts) == sorted(lengths)
    assert [board.number for board in plan.boards] == list(range(1, len(plan.boards) + 1))
    assert plan.kerf_mm == kerf_mm
    stock_lengths = [board.stock.length_mm for board in plan.boards]
    assert stock_lengths == sorted(stock_lengths)
    bought = Counter(board.stock for board in plan.boards)
    assert set(bought) <= set(stock)
    for kind, count in bought.items():
        assert kind.available is None or count <= kind.available
    for board in plan.boards:
        at = squared_end_mm
        for cut in board.cuts:
            assert cut.start_mm == pytest.approx(at, abs=1e-6)
            assert cut.end_mm - cut.start_mm == pytest.approx(lengths[cut.label], abs=1e-6)
            at = cut.end_mm + kerf_mm
        last = board.stock.length_mm - squared_end_mm
        assert board.cuts[-1].end_mm <= last + 1e-6
        assert board.offcut_mm == pytest.approx(max(0.0, last - at), abs=1e-6)
        falling = [lengths[cut.label] for cut in board.cuts]
        assert falling == sorted(falling, reverse=True)
    cost = plan.cost if plan.cost is not None else Decimal(str(round(plan.bought_mm, 3)))
    if plan.cost is not None:
        assert plan.cost == sum(board.stock.price or 0 for board in plan.boards)
    assert plan.proved == (plan.bound == cost)
    assert plan.bound <= cost
    assert any("all that was proved" in one.what for one in plan.findings) == (not plan.proved)


@pytest.mark.parametrize(
    "seeds", [range(start, start + 20) for start in range(0, 200, 20)], ids=str
)
def test_cost_equals_the_optimum_of_a_constraint_programme(seeds: range) -> None:
    for seed in seeds:
        blanks, stock, kerf = random_job(seed)
        expected = least_cost(blanks, stock, kerf)
        assert expected.proved
        if expected.cost is None:
            with pytest.raises(StockError):
                plan_cuts(blanks, stock, kerf_mm=kerf)
            continue
        plan = plan_cuts(blanks, stock, kerf_mm=kerf)
        check_plan(plan, blanks, stock, kerf)
        assert plan.proved, seed
        assert hundredths(plan.bound) == expected.cost, seed


lengths_mm = st.floats(20, 2350, allow_nan=False)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    lengths=st.lists(lengths_mm, min_size=1, max_size=14),
    kerf=st.floats(0, 6),
    squared_end=st.sampled_from([0.0, 5.0, 12.7]),
    priced=st.booleans(),
)
def test_every_plan_cuts_every_blank_once_and_fits(
    lengths: list[float], kerf: float, squared_end: float, priced: bool
) -> None:
    blanks = blanks_of(*lengths)
    stock = YARD if priced else tuple(Stock(kind.length_mm) for kind in YARD)
    plan = plan_cuts(blanks, stock, kerf_mm=kerf, squared_end_mm=squared_end, time_limit_s=1.0)
    check_plan(plan, blanks, stock, kerf, squared_end)


def test_worked_example_of_the_docstring() -> None:
    failed, attempted = doctest.testmod(plan_module)
    assert attempted > 0
    assert failed == 0


def test_last_blank_needs_no_cut_when_it_ends_at_the_boards_end() -> None:
    plan = plan_cuts(blanks_of(1198.5, 1198.5), [Stock(2400)], kerf_mm=3)
    assert len(plan.boards) == 1
    assert plan.boards[0].offcut_mm == 0
    assert plan.cost is None
    assert plan.bound == 2400
    assert len(plan_cuts(blanks_of(1198.5, 1198.6), [Stock(2400)], kerf_mm=3).boards) == 2


def test_offcut_narrower_than_the_kerf_is_nothing() -> None:
    plan = plan_cuts(blanks_of(2398), [Stock(2400)], kerf_mm=3)
    assert plan.boards[0].offcut_mm == 0


def test_squaring_the_ends_shortens_the_board() -> None:
    """1198.5 + 3 + 1198.5 mm fill a board of 2400 mm, and 1 mm off either end is too much."""
    two = blanks_of(1198.5, 1198.5)
    assert len(plan_cuts(two, [Stock(2402)], kerf_mm=3, squared_end_mm=1).boards) == 1
    assert len(plan_cuts(two, [Stock(2400)], kerf_mm=3, squared_end_mm=1).boards) == 2
    plan = plan_cuts(blanks_of(1000), [Stock(2400)], kerf_mm=3, squared_end_mm=10)
    assert plan.boards[0].cuts[0].start_mm == 10
    assert plan.boards[0].offcut_mm == 2400 - 10 - 1000 - 3 - 10


def test_lengths_in_inches_fill_a_board_to_its_end() -> None:
    inch = 25.4
    plan = plan_cuts(blanks_of(*[15.875 * inch] * 6), [Stock(96 * inch)], kerf_mm=0.125 * inch)
    assert len(plan.boards) == 1


def test_length_is_the_cost_without_prices() -> None:
    plan = plan_cuts(blanks_of(1700, 1700, 1700), [Stock(2400), Stock(3600)], kerf_mm=3)
    assert plan.bought_mm == 6000
    assert plan.bound == 6000
    assert plan.proved


def test_of_equally_dear_plans_the_one_with_fewer_boards_is_taken() -> None:
    stock = [Stock(2400, Decimal(10)), Stock(4800, Decimal(20))]
    plan = plan_cuts(blanks_of(2300, 2300, 2300, 2300), stock, kerf_mm=3)
    assert [board.stock.length_mm for board in plan.boards] == [4800, 4800]


def test_scarce_boards_are_not_overdrawn() -> None:
    stock = [Stock(2400, Decimal(10)), Stock(4800, Decimal(11), available=1)]
    plan = plan_cuts(blanks_of(*[2300] * 5), stock, kerf_mm=3)
    assert Counter(board.stock.length_mm for board in plan.boards) == {2400: 3, 4800: 1}
    assert plan.cost == 41
    assert plan.proved


def test_scarce_long_board_is_kept_for_the_blank_that_needs_it() -> None:
    stock = [Stock(2400, Decimal(10), available=2), Stock(3600, Decimal(10), available=1)]
    plan = plan_cuts(blanks_of(3000, 2000, 2000), stock, kerf_mm=3)
    assert plan.cost == 30


def test_same_input_gives_the_same_plan() -> None:
    rng = random.Random(3)
    blanks = blanks_of(*(round(rng.uniform(300, 2300), 1) for _ in range(40)))
    yards = (YARD, YARD, YARD[::-1])
    plans = [plan_cuts(blanks, yard, kerf_mm=3, time_limit_s=60) for yard in yards]
    assert plans[0] == plans[1] == plans[2]


def test_thirty_different_blanks_are_proved() -> None:
    rng = random.Random(90)
    blanks = blanks_of(*(round(rng.uniform(250, 2300), 1) for _ in range(30)))
    plan = plan_cuts(blanks, YARD, kerf_mm=3.2, time_limit_s=60)
    check_plan(plan, blanks, YARD, 3.2)
    assert plan.proved


def test_an_open_gap_is_told() -> None:
    rng = random.Random(4)
    blanks = blanks_of(*(round(rng.uniform(300, 2300), 1) for _ in range(120)))
    plan = plan_cuts(blanks, YARD, kerf_mm=3.2, time_limit_s=0.0)
    check_plan(plan, blanks, YARD, 3.2)
    assert not plan.proved
    assert str(plan.bound) in plan.findings[0].what


def test_no_blanks_need_no_boards() -> None:
    plan = plan_cuts([], YARD, kerf_mm=3)
    assert (plan.boards, plan.cost, plan.bound, plan.proved) == ((), 0, 0, True)


def test_progress_is_told_in_sentences() -> None:
    told: list[str] = []
    plan_cuts(blanks_of(1500, 1000, 700), YARD, kerf_mm=3, progress=told.append)
    assert told[-1] == "a plan for 14.50, none below 14.50"


@pytest.mark.parametrize(
    ("blanks", "stock", "options", "words"),
    [
        (blanks_of(4900), YARD, {}, ["1a", "4900.0 mm", "4800.0 mm", "longer stock", "turn"]),
        (blanks_of(4795), YARD, {"squared_end_mm": 3.0}, ["1a", "4795.0 mm", "squared end"]),
        (blanks_of(100), [], {}, ["No stock"]),
        (blanks_of(100), [Stock(2400, available=0)], {}, ["No stock"]),
        (blanks_of(100), [Stock(2400, Decimal(1)), Stock(3600)], {}, ["3600.0 mm", "no price"]),
        (blanks_of(100), YARD, {"kerf_mm": -1.0}, ["kerf", "-1.0 mm"]),
        (blanks_of(100), YARD, {"kerf_mm": float("nan")}, ["kerf"]),
        (blanks_of(100), YARD, {"squared_end_mm": -2.0}, ["squared end", "-2.0 mm"]),
        (blanks_of(100, -5), YARD, {}, ["2a", "-5.0 mm"]),
        (blanks_of(100), [Stock(-2400)], {}, ["-2400.0 mm"]),
        (blanks_of(100), [Stock(2400, Decimal(-1))], {}, ["2400.0 mm", "-1"]),
        (blanks_of(100), [Stock(2400, available=-1)], {}, ["-1 boards"]),
        ([Blank("1a", 5), Blank("1a", 6)], YARD, {}, ["1a", "twice"]),
        (blanks_of(*[2300] * 3), [Stock(2400, available=2)], {}, ["2 of 2400.0 mm", "3 pieces"]),
        (
            blanks_of(1300, 1300, 1100, 1100, 1100),
            [Stock(2400, available=2), Stock(1200, available=1)],
            {"kerf_mm": 30.0},
            ["too few", "add boards"],
        ),
    ],
)
def test_bad_input_is_answered_in_one_sentence(
    blanks: list[Blank], stock: list[Stock], options: dict[str, float], words: list[str]
) -> None:
    with pytest.raises(StockError) as caught:
        plan_cuts(blanks, stock, **{"kerf_mm": 3.0, **options})
    sentence = str(caught.value)
    assert all(word in sentence for word in words), sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence


@pytest.mark.parametrize(
    ("amount", "text"),
    [("34.2", "34.20 EUR"), ("94", "94.00 EUR"), ("0.125", "0.125 EUR"), ("63.00", "63.00 EUR")],
)
def test_money_is_written_with_two_digits_or_more(amount, text):
    assert money_text(Decimal(amount), "EUR") == text
