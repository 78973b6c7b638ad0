"""What holds of every cutting plan, whatever is to be cut and from what."""

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import Polygon

from shapecut.shape.region import Region
from shapecut.stock.cutplan import Blank, CutBoard, CutPlan, Offcut, Rip, Stock
from shapecut.stock.plan import plan_cuts
from shapecut.stock.turns import Turn, allowed_turns
from tests.angled_jobs import slanted
from tests.cut_boards import board_polygon, check_boards, pieces_on, region_of, region_through

WIDTH = 140.0
LEFTOVER = 200.0

angles = st.sampled_from([0.0, 0.0, 12.0, -30.0, 45.0])
lengths = st.floats(60.0, 1500.0).map(lambda length: round(length, 2))


@dataclass(frozen=True)
class Asked:
    """All that a plan is made from."""

    blanks: tuple[Blank, ...]
    stock: tuple[Stock, ...]
    on_hand: tuple[Offcut, ...]
    kerf_mm: float
    squared_end_mm: float
    turns: tuple[Turn, ...]

    def plan(self) -> CutPlan:
        return plan_cuts(
            self.blanks,
            self.stock,
            kerf_mm=self.kerf_mm,
            squared_end_mm=self.squared_end_mm,
            on_hand=self.on_hand,
            width_mm=WIDTH,
            turns=self.turns,
            leftover_mm=LEFTOVER,
            time_limit_s=2.0,
        )


@st.composite
def blanks(draw: st.DrawFn, label: str) -> Blank:
    """A piece as wide as its board with slanted ends, or a narrower one with square ends."""
    length = draw(lengths)
    if draw(st.integers(0, 3)):
        start, end = slanted(draw(angles)), slanted(draw(angles))
        depths = [max((depth for depth, _ in side), default=0.0) for side in (start, end)]
        return Blank(label, length + sum(depths), start, end)
    width, upper, keeps = draw(st.integers(20, 120)), draw(st.booleans()), draw(st.booleans())
    low = WIDTH - width if upper else 0.0
    return Blank(label, length, rip=Rip(low, low + width, keeps and not upper, keeps and upper))


@st.composite
def offcuts(draw: st.DrawFn, name: str) -> Offcut:
    """A board on hand with slanted ends and stretches to avoid."""
    length = draw(st.floats(300.0, 2500.0).map(lambda place: round(place, 2)))
    leans = [draw(st.floats(0.0, 140.0).map(lambda lean: round(lean, 2))) for _ in range(4)]
    lower, upper = (leans[0], length - leans[1]), (leans[2], length - leans[3])
    avoid = draw(st.lists(st.tuples(st.floats(0.0, length), st.floats(1.0, 200.0)), max_size=2))
    stretches = tuple((round(at, 2), round(at + wide, 2)) for at, wide in avoid)
    return Offcut(name, lower, upper, stretches)


@st.composite
def jobs(draw: st.DrawFn) -> Asked:
    priced = draw(st.booleans())
    stock = [
        Stock(
            length,
            Decimal(draw(st.integers(500, 3000))) / 100 if priced else None,
            None if length == 3600.0 else draw(st.sampled_from([None, 1, 3])),
        )
        for length in (1800.0, 2400.0, 3600.0)
    ]
    return Asked(
        tuple(draw(blanks(f"{i}a")) for i in range(1, draw(st.integers(2, 9)))),
        tuple(stock),
        tuple(draw(offcuts(f"offcut {i}")) for i in range(draw(st.integers(0, 3)))),
        draw(st.sampled_from([0.5, 3.0, 6.0])),
        draw(st.sampled_from([0.0, 8.0])),
        draw(
            st.sampled_from(
                [
                    allowed_turns(two_good_faces=faces, edges_alike=edges)
                    for faces in (False, True)
                    for edges in (False, True)
                ]
            )
        ),
    )


def _region(blank: Blank) -> Region:
    if blank.rip is None:
        return region_of(blank.length_mm, blank.start, blank.end, WIDTH)
    low, high, right = blank.rip.low_mm, blank.rip.high_mm, blank.length_mm
    return region_through([(0.0, low), (right, low), (right, high), (0.0, high)])


@settings(max_examples=150, deadline=None, derandomize=True)
@given(asked=jobs())
def test_what_holds_of_every_plan(asked: Asked) -> None:
    plan = asked.plan()
    regions = {blank.label: _region(blank) for blank in asked.blanks}
    sizes = {blank.label: blank.length_mm for blank in asked.blanks}
    # Within their boards, off what is to be avoided, a kerf apart.
    check_boards(plan, regions, sizes, width_mm=WIDTH)
    assert {cut.turn for board in plan.boards for cut in board.cuts} <= set(asked.turns)
    for board in plan.boards:
        lying = pieces_on(board, regions, sizes, WIDTH)
        if board.stock.on_hand is None:
            assert min(cut.start_mm for cut in board.cuts) >= asked.squared_end_mm - 1e-6
            last = board.stock.length_mm - asked.squared_end_mm
            assert max(cut.end_mm for cut in board.cuts) <= last + 1e-6
        _check_kept_edges(board, asked, lying)
        _check_leftover(board, asked, list(lying.values()))
    _check_money(plan, asked)


def _check_kept_edges(board: CutBoard, asked: Asked, lying: dict[str, Polygon]) -> None:
    """The edge that a ripped piece must keep lies on an edge of the board."""
    rips = {blank.label: blank.rip for blank in asked.blanks}
    for cut in board.cuts:
        rip = rips[cut.label]
        if rip is None or not (rip.keeps_lower or rip.keeps_upper):
            continue
        _, low, _, high = lying[cut.label].bounds
        at_lower = rip.keeps_lower != cut.turn.edges_changed
        assert (low if at_lower else high) == pytest.approx(0.0 if at_lower else WIDTH, abs=1e-6)


def _check_leftover(board: CutBoard, asked: Asked, lying: list[Polygon]) -> None:
    """What is kept is long enough, and of a board in one part, really left: at its far end."""
    whole = board_polygon(board, WIDTH)
    squared = 0.0 if board.stock.on_hand else asked.squared_end_mm
    for kept in board.leftover:
        edges = (kept.lower_mm, kept.upper_mm)
        assert min(end - begin for begin, end in edges) >= LEFTOVER - 1e-3
        if board.stock.on_hand is not None and board.stock.on_hand.avoid_mm:
            continue
        shape = board_polygon(CutBoard(0, Stock(kept.length_mm, on_hand=kept), (), 0.0), WIDTH)
        placed = translate(shape, whole.bounds[2] - squared - shape.bounds[2])
        assert placed.difference(whole.buffer(1e-2)).area < 1e-6
        assert all(shapely.distance(placed, piece) >= asked.kerf_mm - 1e-2 for piece in lying)


def _check_money(plan: CutPlan, asked: Asked) -> None:
    """The cost is that of what is bought, the bound is no more, nothing is bought beyond stock."""
    cost = sum(
        (Decimal(str(s.length_mm)) if s.price is None else s.price for s in plan.bought), Decimal(0)
    )
    assert plan.bound <= cost
    assert plan.proved == (plan.bound == cost)
    assert plan.cost == (None if asked.stock[0].price is None else cost)
    for stock, count in Counter(plan.bought).items():
        assert stock in asked.stock
        assert stock.available is None or count <= stock.available
    used = [board.stock.on_hand for board in plan.boards if board.stock.on_hand]
    assert len(set(used)) == len(used)
    assert set(used) | set(plan.unused) == set(asked.on_hand)
