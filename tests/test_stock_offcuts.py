"""Offcuts on hand: used where that saves money, with their real ends; kept for the next job."""

import math
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import JobFileError, StockError
from shapecut.job.offcut_file import offcuts_from_text, offcuts_text, read_offcuts
from shapecut.stock.cutplan import Blank, CutPlan, Offcut, Stock
from shapecut.stock.ends import SQUARE, End, across_flipped
from shapecut.stock.plan import plan_cuts
from shapecut.stock.turns import allowed_turns
from tests.cut_boards import check_boards, region_of

WIDTH = 140.0
YARD = [Stock(2400.0, Decimal(10)), Stock(3600.0, Decimal(14))]
SLANT: End = ((140.0, 0.0), (0.0, 140.0))
BOTH = allowed_turns(two_good_faces=False, edges_alike=True)


def square_ended(name: str, length_mm: float, *avoid: tuple[float, float]) -> Offcut:
    return Offcut(name, (0.0, length_mm), (0.0, length_mm), avoid)


def planned(blanks: list[Blank], on_hand: list[Offcut], leftover_mm: float = 300.0) -> CutPlan:
    """A plan whose pieces were found apart, on their boards, and off what is to be avoided."""
    plan = plan_cuts(
        blanks,
        YARD,
        kerf_mm=3.0,
        width_mm=WIDTH,
        on_hand=on_hand,
        turns=BOTH,
        leftover_mm=leftover_mm,
    )
    regions = {b.label: region_of(b.length_mm, b.start, b.end, WIDTH) for b in blanks}
    check_boards(plan, regions, {b.label: b.length_mm for b in blanks}, width_mm=WIDTH)
    return plan


def test_an_offcut_saves_a_purchase() -> None:
    plan = planned([Blank("1a", 2300.0), Blank("2a", 800.0)], [square_ended("A", 900.0)])
    assert plan.cost == 10
    assert plan.proved
    assert [board.stock.on_hand is not None for board in plan.boards] == [True, False]
    assert [stock.length_mm for stock in plan.bought] == [2400.0]
    assert plan.unused == ()


def test_an_offcut_that_saves_nothing_stays_for_the_next_job() -> None:
    offcut = square_ended("A", 500.0)
    plan = planned([Blank("1a", 2300.0)], [offcut])
    assert plan.left_over == (offcut,)


def test_an_offcuts_cost_counts() -> None:
    dear = Offcut("A", (0.0, 900.0), (0.0, 900.0), cost=Decimal(20))
    assert planned([Blank("1a", 800.0)], [dear]).cost == 10
    cheap = Offcut("A", (0.0, 900.0), (0.0, 900.0), cost=Decimal(2))
    assert planned([Blank("1a", 800.0)], [cheap]).cost == 2


def test_a_slanted_end_is_used_without_squaring_it() -> None:
    """1000 mm on the upper edge, 860 mm on the lower: as the piece is, once it is turned."""
    offcut = Offcut("A", (140.0, 1000.0), (0.0, 1000.0))
    piece = Blank("1a", 1000.0, SLANT, SQUARE)
    assert planned([piece], [offcut]).cost == 0
    assert planned([Blank("1a", 1000.0)], [offcut]).cost == 10
    other_hand = Blank("1a", 1000.0, across_flipped(SLANT), SQUARE)
    assert planned([other_hand], [offcut]).cost == 10


def test_nothing_lies_on_a_stretch_to_avoid() -> None:
    offcut = square_ended("A", 2000.0, (900.0, 960.0))
    blanks = [Blank("1a", 900.0), Blank("2a", 1040.0)]
    assert planned(blanks, [offcut]).cost == 0
    assert planned([Blank("1a", 900.0), Blank("2a", 1041.0)], [offcut]).cost == 10
    assert planned([Blank("1a", 1041.0)], [offcut]).cost == 10


def test_nothing_reaches_into_a_slanted_end_that_is_to_be_avoided() -> None:
    """The end at 45° is there for the slanted piece, unless its tip is split."""
    piece = Blank("1a", 1000.0, SLANT, SQUARE)
    ends = (140.0, 1000.0), (0.0, 1000.0)
    assert planned([piece], [Offcut("A", *ends)]).cost == 0
    assert planned([piece], [Offcut("A", *ends, ((0.0, 30.0),))]).cost == 10
    assert planned([Blank("1a", 860.0)], [Offcut("A", *ends, ((0.0, 30.0),))]).cost == 0


def test_two_parts_of_one_offcut_are_one_board() -> None:
    plan = planned(
        [Blank("1a", 890.0), Blank("2a", 1000.0)], [square_ended("A", 2000.0, (900, 960))]
    )
    assert len(plan.boards) == 1
    assert [cut.start_mm for cut in plan.boards[0].cuts] == [0.0, 960.0]


def test_what_is_left_over_keeps_its_slant() -> None:
    """The end at 45°, 3 mm of kerf square to it: 4.243 mm along each edge."""
    plan = planned([Blank("1a", 1000.0, SQUARE, SLANT)], [])
    (kept,) = plan.left_over
    along = 3.0 * math.sqrt(2.0)
    assert kept.length_mm == pytest.approx(2400.0 - 860.0 - along, abs=1e-3)
    assert kept.upper_mm[0] - kept.lower_mm[0] == pytest.approx(140.0, abs=1e-3)
    assert kept.lower_mm[1] == kept.upper_mm[1]


def test_what_is_left_over_cuts_the_next_jobs_piece() -> None:
    (kept,) = planned([Blank("1a", 1000.0, SQUARE, SLANT)], []).left_over
    # The same slant from the other side: what parted it from the first piece is its own end.
    neighbour = Blank("1a", kept.length_mm - 0.02, across_flipped(SLANT), SQUARE)
    assert planned([neighbour], [kept]).cost == 0


def test_only_lengths_worth_keeping_are_kept() -> None:
    assert planned([Blank("1a", 2100.0)], []).left_over == ()
    assert planned([Blank("1a", 2100.0)], [], leftover_mm=250.0).left_over != ()


def test_a_board_on_hand_is_all_there_need_be() -> None:
    plan = plan_cuts([Blank("1a", 500.0)], [], kerf_mm=3.0, on_hand=[square_ended("A", 600.0)])
    assert (plan.cost, plan.bound, plan.proved) == (None, 0, True)


@pytest.mark.parametrize(
    ("offcuts", "words"),
    [
        ([square_ended("A", 900.0), square_ended("A", 800.0)], ["A", "twice"]),
        ([square_ended("A", 0.0)], ["A", "no length"]),
        ([Offcut("A", (50.0, 10.0), (0.0, 900.0))], ["lower edge", "A", "50.0 mm"]),
        ([square_ended("A", 900.0, (300.0, 200.0))], ["A", "avoided", "300.0 mm"]),
        ([Offcut("A", (0, 900), (0, 900), cost=Decimal(-1))], ["A", "-1"]),
        ([Offcut("A", (0, 900), (0, 900), ((1, 2),), Decimal(1))], ["A", "avoid", "cost"]),
        ([square_ended("A", 2700.0)], ["9000.0 mm", "1a", "3600.0 mm"]),
    ],
)
def test_bad_offcuts_are_answered_by_name(offcuts: list[Offcut], words: list[str]) -> None:
    length = 9000.0 if "9000.0 mm" in words else 100.0
    with pytest.raises(StockError) as caught:
        plan_cuts([Blank("1a", length)], YARD, kerf_mm=3.0, on_hand=offcuts, width_mm=WIDTH)
    sentence = str(caught.value)
    assert all(word in sentence for word in words), sentence
    assert sentence.endswith(".")


def test_too_few_boards_and_offcuts_are_named() -> None:
    with pytest.raises(StockError, match=r"1 of 2400.0 mm, 1 offcut\) are too few for the 3"):
        plan_cuts(
            [Blank(f"{i}a", 2000.0) for i in range(3)],
            [Stock(2400.0, available=1)],
            kerf_mm=3.0,
            on_hand=[square_ended("A", 2100.0)],
        )


places = st.floats(0.0, 5000.0).map(lambda place: round(place, 3))


@settings(max_examples=50, deadline=None, derandomize=True)
@given(
    name=st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), min_size=1, max_size=20),
    stretches=st.lists(st.tuples(places, places), min_size=2, max_size=5),
    cost=st.decimals(0, 99, places=2),
)
def test_written_offcuts_read_back_the_same(
    name: str, stretches: list[tuple[float, float]], cost: Decimal
) -> None:
    lower, upper, *avoid = stretches
    offcuts = (Offcut(name, lower, upper, tuple(avoid), cost),)
    assert offcuts_from_text(offcuts_text(offcuts)) == offcuts


def test_an_offcut_may_be_stated_by_its_length_alone() -> None:
    text = '[[offcuts]]\nname = "A"\nlength = "3 ft"\n'
    (offcut,) = offcuts_from_text(text)
    assert offcut.lower_mm == offcut.upper_mm == pytest.approx((0.0, 914.4))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[offcuts]", ["offcuts.toml", "not TOML"]),
        ('[[offcuts]]\nname = "A"\n', ["offcuts.0", "needs either length"]),
        ('[[offcuts]]\nname = "A"\nlength = "900"\n', ["offcuts.0.length"]),
        ('[[offcuts]]\nname = "A"\nlenght = "900 mm"\n', ["offcuts.0.lenght"]),
    ],
)
def test_a_mistaken_file_is_answered_with_its_key(text: str, words: list[str]) -> None:
    with pytest.raises(JobFileError) as caught:
        offcuts_from_text(text)
    assert all(word in str(caught.value) for word in words), str(caught.value)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    with pytest.raises(JobFileError, match=r"spare.toml cannot be read.*stock.offcuts"):
        read_offcuts(tmp_path / "spare.toml")
