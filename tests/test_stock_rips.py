"""Narrow pieces abreast: which may share a length of board, and what that saves."""

from decimal import Decimal
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.layout.layout import Board
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.shape.region import Region
from shapecut.stock.blanks import BoardEdges, blank_of, turns_of
from shapecut.stock.cutplan import Blank, Offcut, Rip, Stock
from shapecut.stock.ends import End
from shapecut.stock.plan import plan_cuts
from shapecut.stock.turns import Turn, allowed_turns
from tests.cut_boards import check_boards, region_through

WIDTH = 140.0
KERF = 3.0
BOTH = allowed_turns(two_good_faces=False, edges_alike=True)


def ripped(label: str, length_mm: float, low: float, high: float, *, keeps: bool = True) -> Blank:
    """A square-ended piece from low to high across its board, keeping the edges it reaches."""
    rip = Rip(low, high, keeps and low == 0.0, keeps and high == WIDTH)
    return Blank(label, length_mm, rip=rip)


def region_of(blank: Blank) -> Region:
    low, high = (blank.rip.low_mm, blank.rip.high_mm) if blank.rip else (0.0, WIDTH)
    length = blank.length_mm
    return region_through([(0.0, low), (length, low), (length, high), (0.0, high)])


def boards_needed(blanks: list[Blank], turns: tuple[Turn, ...] = (Turn.AS_LAID,)) -> int:
    """Boards of 2.4 m that the plan takes, all pieces found apart on them."""
    plan = plan_cuts(blanks, [Stock(2400.0)], kerf_mm=KERF, width_mm=WIDTH, turns=turns)
    assert plan.proved
    regions = {blank.label: region_of(blank) for blank in blanks}
    check_boards(plan, regions, {b.label: b.length_mm for b in blanks}, width_mm=WIDTH)
    return len(plan.boards)


def test_first_and_last_row_come_from_one_board() -> None:
    """60 mm with the lower edge and 77 mm with the upper, with 3 mm between: 140 mm."""
    assert boards_needed([ripped("1a", 2400, 0, 60), ripped("9a", 2300, 63, 140)]) == 1
    assert boards_needed([ripped("1a", 2400, 0, 60.1), ripped("9a", 2300, 63, 140)]) == 2


def test_two_pieces_that_keep_the_same_edge_share_only_when_one_may_turn() -> None:
    pair = [ripped("1a", 2000, 0, 60), ripped("1b", 1800, 0, 60)]
    assert boards_needed(pair) == 2
    assert boards_needed(pair, BOTH) == 1
    third = ripped("1c", 1700, 0, 10)
    assert boards_needed([*pair, third], BOTH) == 2


def test_pieces_that_keep_no_edge_lie_three_abreast() -> None:
    blanks = [ripped(f"{i}a", 2000 - i, 0, 44, keeps=False) for i in range(1, 4)]
    assert boards_needed(blanks) == 1
    assert boards_needed([*blanks, ripped("4a", 2000, 0, 44, keeps=False)]) == 2


def test_a_piece_that_keeps_both_edges_shares_nothing() -> None:
    """As wide as the board at one end, narrower elsewhere: its rip reaches both edges."""
    whole = Blank("1a", 2000.0, rip=Rip(0.0, WIDTH, True, True))
    assert boards_needed([whole, ripped("2a", 2000, 0, 40)], BOTH) == 2


def least_boards(blanks: list[Blank]) -> int:
    """The least boards of 2.4 m by trying all ways, for pieces no two of which fit end to end."""
    if not blanks:
        return 0
    first, *rest = blanks
    best = 1 + least_boards(rest)
    for count in (1, 2):
        for others in combinations(rest, count):
            together = [first, *others]
            widths = sum(b.rip.width_mm for b in together if b.rip) + KERF * count
            lower = sum(b.rip.keeps_lower for b in together if b.rip)
            upper = sum(b.rip.keeps_upper for b in together if b.rip)
            if widths <= WIDTH and lower <= 1 and upper <= 1:
                best = min(best, 1 + least_boards([b for b in rest if b not in others]))
    return best


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    rips=st.lists(
        st.tuples(st.integers(30, 120), st.sampled_from(["lower", "upper", "none"])),
        min_size=1,
        max_size=6,
    )
)
def test_boards_equal_trying_all_ways(rips: list[tuple[int, str]]) -> None:
    blanks = []
    for i, (width, edge) in enumerate(rips):
        low = WIDTH - width if edge == "upper" else 0.0
        blanks.append(ripped(f"{i}a", 1300.0 + i, low, low + width, keeps=edge != "none"))
    assert boards_needed(blanks) == least_boards(blanks)


def test_so_many_narrow_pieces_that_fewer_are_tried_abreast_are_told() -> None:
    blanks = [ripped(f"{i}a", 1300.0 + i, 0, 40, keeps=False) for i in range(25)]
    plan = plan_cuts(blanks, [Stock(2400.0)], kerf_mm=KERF, width_mm=WIDTH, time_limit_s=2.0)
    assert "at most 2 abreast" in plan.findings[-1].what
    assert len(plan.boards) == 13


def test_a_deck_with_two_ripped_rows_needs_a_board_less() -> None:
    """Eight whole rows of 145 mm between rips of 60 mm and 70 mm, 2300 mm long."""
    field = region_through([(0.0, 0.0), (2300.0, 0.0), (2300.0, 1300.0), (0.0, 1300.0)])
    board = Board(WIDTH, 28.0, 5.0)
    layout = lay_rows(field, board, LayoutRules(offset_mm=65.0))
    narrow = [piece for piece in layout.pieces if piece.row in (1, len(layout.rows))]
    blanks = [blank_of(piece, WIDTH, BoardEdges.EASED) for piece in layout.pieces]
    assert [b.rip is not None for b in blanks].count(True) == len(narrow) == 2
    plan = plan_cuts(
        blanks,
        [Stock(2400.0, Decimal(12))],
        kerf_mm=KERF,
        width_mm=WIDTH,
        turns=turns_of(BoardEdges.EASED, two_good_faces=False),
    )
    assert len(plan.boards) == len(layout.rows) - 1
    assert plan.proved
    regions = {piece.label: piece.region for piece in layout.pieces}
    check_boards(plan, regions, dict.fromkeys(regions, 2300.0), width_mm=WIDTH)


@pytest.mark.parametrize("edges", [BoardEdges.EASED, BoardEdges.GROOVED, BoardEdges.UNLIKE])
def test_a_piece_keeps_the_edges_it_reaches_unless_they_are_square(edges: BoardEdges) -> None:
    field = region_through([(0.0, 0.0), (1000.0, 0.0), (1000.0, 200.0), (0.0, 200.0)])
    layout = lay_rows(field, Board(WIDTH, 28.0, 5.0), LayoutRules())
    rip = blank_of(layout.pieces[1], WIDTH, edges).rip
    assert rip is not None
    assert (rip.low_mm, rip.high_mm) == pytest.approx((0.0, 55.0))
    assert (rip.keeps_lower, rip.keeps_upper) == (True, False)
    loose = blank_of(layout.pieces[1], WIDTH, BoardEdges.SQUARE).rip
    assert loose is not None
    assert not loose.keeps_lower


def test_a_branch_on_an_offcut_that_no_pattern_uses_yet_does_not_upset_the_search() -> None:
    """Found by random jobs: its linear programme had no solution and gave less than no boards."""
    slant: End = ((140.0, 0.0), (0.0, 140.0))
    blanks = [
        Blank("1a", 60.0),
        Blank("2a", 1000.0),
        Blank("3a", 801.0),
        Blank("4a", 1400.0, slant, slant),
        ripped("5a", 60.0, 0, 20, keeps=False),
        ripped("6a", 61.0, 0, 20, keeps=False),
        ripped("7a", 801.0, 0, 113, keeps=False),
        ripped("8a", 800.0, 0, 27, keeps=False),
    ]
    prices = {1800.0: "5", 2400.0: "7.44", 3600.0: "12.71"}
    yard = [Stock(length, Decimal(price)) for length, price in prices.items()]
    plan = plan_cuts(
        blanks,
        yard,
        kerf_mm=0.5,
        width_mm=WIDTH,
        on_hand=[Offcut("A", (0.0, 300.0), (0.0, 300.0))],
        time_limit_s=60.0,
    )
    assert plan.proved
    assert plan.cost == Decimal("17.44")
