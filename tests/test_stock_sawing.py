"""The order of cuts, marks from one end, and ways of buying side by side."""

from collections.abc import Sequence
from decimal import Decimal

import pytest

from shapecut.stock.alternatives import alternatives
from shapecut.stock.cutplan import Blank, CutPlan, Stock
from shapecut.stock.ends import SQUARE, End
from shapecut.stock.plan import plan_cuts
from shapecut.stock.sawing import Blade, SawCut, saw_cuts
from shapecut.stock.turns import Turn, allowed_turns

SLANT: End = ((140.0, 0.0), (0.0, 140.0))


def test_square_pieces_are_freed_one_after_the_other_at_marks_from_the_reference_end() -> None:
    plan = plan_cuts(
        [Blank("1a", 1000.0), Blank("2a", 600.0)], [Stock(2400.0)], kerf_mm=3.0, squared_end_mm=10.0
    )
    assert saw_cuts(plan.boards[0]) == (
        SawCut((10.0, 10.0), Blade.BEFORE, ("1a",), finished=True),
        SawCut((1010.0, 1010.0), Blade.BEHIND, ("1a",), finished=True),
        SawCut((1613.0, 1613.0), Blade.BEHIND, ("2a",), finished=True),
    )


def test_a_piece_that_ends_with_its_board_needs_no_cut() -> None:
    plan = plan_cuts([Blank("1a", 2400.0)], [Stock(2400.0)], kerf_mm=3.0)
    assert saw_cuts(plan.boards[0]) == ()


@pytest.mark.parametrize("lean", [0.02, 0.2])
def test_what_nobody_saws_off_is_no_cut(lean: float) -> None:
    """Ends out of square by less than the saw keeps, at both ends of the board."""
    start: End = ((0.0, 0.0), (lean, 140.0))
    end: End = ((lean, 0.0), (0.0, 140.0))
    whole = plan_cuts([Blank("1a", 2400.0, start, end)], [Stock(2400.0)], kerf_mm=3.0)
    assert saw_cuts(whole.boards[0]) == ()
    part = plan_cuts([Blank("1a", 2000.0, start, end)], [Stock(2400.0)], kerf_mm=3.0)
    (cut,) = saw_cuts(part.boards[0])
    assert cut == SawCut((2000.0 - lean, 2000.0), Blade.BEHIND, ("1a",), finished=True)


@pytest.mark.parametrize("depth", [0.02, 0.5, 140.0])
def test_a_piece_is_not_turned_for_nothing(depth: float) -> None:
    """Turned, its slanted end would lie at the board's start and take a cut of its own."""
    end: End = ((0.0, 0.0), (depth, 140.0))
    turns = allowed_turns(two_good_faces=True, edges_alike=True)
    blanks = [Blank("1a", 2000.0, SQUARE, end)]
    plan = plan_cuts(blanks, [Stock(2400.0)], kerf_mm=3.0, width_mm=140.0, turns=turns)
    (cut,) = plan.boards[0].cuts
    assert cut.turn is Turn.AS_LAID
    assert len(saw_cuts(plan.boards[0])) == 1


@pytest.mark.parametrize(
    ("length", "squared", "told"), [(2399.0, 0, 1), (2390, 0, 0), (2390, 5, 0)]
)
def test_a_board_used_from_end_to_end_is_to_be_measured_first(
    length: float, squared: float, told: int
) -> None:
    plan = plan_cuts([Blank("1a", length)], [Stock(2400.0)], kerf_mm=3.0, squared_end_mm=squared)
    assert len(plan.findings) == told
    for finding in plan.findings:
        assert "Board 1 is used from end to end, with less than 2.0 mm to spare" in finding.what


def test_slanted_neighbours_are_parted_by_one_cut_along_their_ends() -> None:
    blanks = [Blank("1a", 1000.0, SQUARE, SLANT), Blank("2a", 900.0, SQUARE, SLANT)]
    turns = allowed_turns(two_good_faces=False, edges_alike=True)
    plan = plan_cuts(blanks, [Stock(1790.0)], kerf_mm=3.0, width_mm=140.0, turns=turns)
    first, second = plan.boards[0].cuts
    parting, last = saw_cuts(plan.boards[0])
    assert parting.finished
    assert parting.labels == (first.label,)
    assert parting.marks_mm is not None
    assert max(parting.marks_mm) - min(parting.marks_mm) == pytest.approx(140.0)
    assert max(parting.marks_mm) == pytest.approx(first.end_mm)
    end = (second.end_mm, second.end_mm)
    assert last == SawCut(end, Blade.BEHIND, (second.label,), finished=True)


def test_ends_that_do_not_nest_are_parted_square_and_trimmed() -> None:
    blanks = [Blank("1a", 1000.0, SQUARE, SLANT), Blank("2a", 900.0, SLANT, SLANT)]
    plan = plan_cuts(blanks, [Stock(1903.0)], kerf_mm=3.0, width_mm=140.0)
    assert saw_cuts(plan.boards[0]) == (
        SawCut((1000.0, 1000.0), Blade.BEHIND, ("1a",), finished=False),
        SawCut((1763.0, 1903.0), Blade.BEHIND, ("2a",), finished=True),
    )


def test_a_stepped_end_is_sawn_along_the_outline() -> None:
    step: End = ((0.0, 0.0), (0.0, 60.0), (50.0, 60.0), (50.0, 140.0))
    plan = plan_cuts([Blank("1a", 800.0, SQUARE, step)], [Stock(2400.0)], kerf_mm=3.0)
    assert saw_cuts(plan.boards[0]) == (SawCut(None, Blade.BEHIND, ("1a",), finished=True),)


def test_marks_do_not_depend_on_one_another() -> None:
    """Cumulative dimensioning: every mark is a blank's own end, however many cuts lie before it."""
    blanks = [Blank(f"{i}a", 150.0 + i) for i in range(12)]
    plan = plan_cuts(blanks, [Stock(2400.0)], kerf_mm=3.2)
    board = plan.boards[0]
    ends = [cut.end_mm for cut in board.cuts]
    assert [cut.marks_mm for cut in saw_cuts(board)] == [(end, end) for end in ends]


def test_lengths_side_by_side_with_the_mix() -> None:
    """Two pieces of 2300 mm and one of 3000 mm; 2.4 m alone cannot do it."""
    blanks = [Blank("1a", 2300.0), Blank("2a", 2300.0), Blank("3a", 3000.0)]
    yard = [Stock(3600.0, Decimal(15)), Stock(2400.0, Decimal(10))]

    def plan(stock: Sequence[Stock]) -> CutPlan:
        return plan_cuts(blanks, stock, kerf_mm=3.0)

    short, long, mix = alternatives(yard, plan(yard), plan)
    assert (short.plan, short.cost, short.boards, short.wasted) == (None, None, 0, None)
    assert "3a" in short.why_not
    assert (long.cost, long.boards) == (45, 3)
    assert long.wasted == pytest.approx(1 - 7600 / 10800)
    assert (mix.stock, mix.cost, mix.boards) == (None, 35, 3)
    assert mix.wasted == pytest.approx(1 - 7600 / 8400)
