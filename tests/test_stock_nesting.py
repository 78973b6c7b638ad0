"""Slanted and stepped ends: how near they lie, how pieces turn, and the cheapest nested plan."""

import doctest
import math
import random
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate
from shapely.geometry import Polygon

from shapecut.layout.layout import Board
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.stock import ends as ends_module
from shapecut.stock.blanks import BoardEdges, blank_of, turns_of
from shapecut.stock.cutplan import Blank, Stock
from shapecut.stock.ends import SQUARE, End, Parting, across_flipped, end_gap, ends_of
from shapecut.stock.plan import plan_cuts
from shapecut.stock.turns import Turn, allowed_turns, turned, turned_ends
from tests.angled_jobs import WIDTH_MM, angled_job, slanted
from tests.cut_boards import check_boards, polygon_of, region_of, region_through
from tests.nesting_by_hand import least_cost_by_trying

WIDTH = WIDTH_MM
BOTH = allowed_turns(two_good_faces=False, edges_alike=True)
ANY = allowed_turns(two_good_faces=True, edges_alike=True)

depths = st.floats(0.0, 200.0).map(lambda depth: round(depth, 3))


@st.composite
def any_end(draw: st.DrawFn) -> End:
    """A square end, a straight one, or one of a few corners and steps."""
    heights = sorted({0.0, WIDTH, *draw(st.lists(st.integers(10, 130).map(float), max_size=3))})
    chain = []
    for low, high in pairwise(heights):
        chain += [(draw(depths), low), (draw(depths), high)]
    least = min(depth for depth, _ in chain)
    end = tuple((round(depth - least, 3), across) for depth, across in chain)
    return end if max(depth for depth, _ in end) > 0.01 else SQUARE


def carried_on(end: End, by_mm: float) -> Polygon:
    """The material behind an end that faces right, its end carried on past the board's edges."""
    chain = [(-depth, across) for depth, across in end] or [(0.0, 0.0), (0.0, WIDTH)]
    (x0, y0), (x1, y1) = chain[:2]
    below = (x0 - by_mm * (x1 - x0) / (y1 - y0), y0 - by_mm) if y1 > y0 else (x0, y0)
    (x0, y0), (x1, y1) = chain[-2:]
    above = (x1 + by_mm * (x1 - x0) / (y1 - y0), y1 + by_mm) if y1 > y0 else (x1, y1)
    return Polygon([below, *chain, above, (-1e4, above[1]), (-1e4, below[1])])


def mirrored(shape: Polygon) -> Polygon:
    return shapely.transform(shape, lambda points: points * (-1.0, 1.0))


def gap_by_bisection(first: Polygon, second: Polygon, kerf_mm: float) -> float:
    """The least shift of the second shape, which faces left, at which it is a kerf away."""
    near, far = -3000.0, 3000.0
    for _ in range(60):
        middle = (near + far) / 2
        moved = translate(second, middle)
        clear = shapely.distance(first, moved) >= kerf_mm and not first.intersects(moved)
        near, far = (near, middle) if clear else (middle, far)
    return far


@settings(max_examples=150, deadline=None, derandomize=True)
@given(end=any_end(), start=any_end(), kerf=st.sampled_from([0.5, 2.2, 3.0, 6.0]))
def test_gap_is_the_least_that_leaves_a_kerf_by_another_geometry_library(
    end: End, start: End, kerf: float
) -> None:
    gap, parting = end_gap(end, start, kerf)
    plain, facing = carried_on(end, 0.0), mirrored(carried_on(start, 0.0))
    by_cut = {
        Parting.ALONG_END: gap_by_bisection(carried_on(end, 2 * kerf), facing, kerf),
        Parting.ALONG_NEXT: gap_by_bisection(plain, mirrored(carried_on(start, 2 * kerf)), kerf),
        Parting.SQUARE: kerf,
    }
    assert gap == pytest.approx(min(by_cut.values()), abs=1e-5)
    assert gap == pytest.approx(by_cut[parting], abs=1e-5)


def test_parallel_slants_lie_a_kerf_apart_square_to_the_cut() -> None:
    """Two ends at 45° on a 100 mm board: 3 mm of kerf take 3·√2 mm along it, less 100 mm."""
    slant = slanted(45.0, 100.0)
    gap, parting = end_gap(slant, across_flipped(slant), 3.0)
    assert gap == pytest.approx(3.0 * math.sqrt(2.0) - 100.0)
    assert parting is Parting.ALONG_END


def test_docstring_of_the_ends() -> None:
    failed, attempted = doctest.testmod(ends_module)
    assert attempted > 0
    assert failed == 0


@settings(max_examples=60, deadline=None, derandomize=True)
@given(start=any_end(), end=any_end(), turn=st.sampled_from(list(Turn)))
def test_a_turned_piece_has_turned_ends_and_the_same_area(start: End, end: End, turn: Turn) -> None:
    region = region_of(1000.0, start, end, WIDTH)
    lying = turned(region, turn, length_mm=1000.0, width_mm=WIDTH)
    assert lying.area == pytest.approx(region.area)
    for found, expected in zip(
        ends_of(lying, WIDTH), turned_ends(*ends_of(region, WIDTH), turn), strict=True
    ):
        assert len(found) == len(expected)
        assert np.array(found) == pytest.approx(np.array(expected), abs=2e-3)


def test_no_turn_puts_a_face_or_a_groove_wrong() -> None:
    assert allowed_turns(two_good_faces=False, edges_alike=False) == (Turn.AS_LAID,)
    for turn in turns_of(BoardEdges.UNLIKE, two_good_faces=True):
        assert not turn.edges_changed
    for turn in turns_of(BoardEdges.GROOVED, two_good_faces=False):
        assert not turn.face_down
    assert set(ANY) == set(Turn)


@pytest.mark.parametrize("seed", range(24))
def test_cost_of_up_to_seven_pieces_equals_trying_all_ways(seed: int) -> None:
    rng = random.Random(seed)
    blanks = angled_job(seed, rng.randint(3, 7), [rng.uniform(-55, 55) for _ in range(3)])
    stock = [Stock(2400.0, Decimal("9.90")), Stock(3600.0, Decimal("14.50"))]
    turns = rng.choice([BOTH, ANY, (Turn.AS_LAID,)])
    plan = plan_cuts(blanks, stock, kerf_mm=3.0, width_mm=WIDTH, turns=turns, time_limit_s=60.0)
    assert plan.proved
    assert plan.cost == least_cost_by_trying(blanks, stock, turns, 3.0)
    regions = {b.label: region_of(b.length_mm, b.start, b.end, WIDTH) for b in blanks}
    check_boards(plan, regions, {b.label: b.length_mm for b in blanks}, width_mm=WIDTH)
    used = {cut.turn for board in plan.boards for cut in board.cuts}
    assert used <= set(turns)


def test_nesting_costs_never_more_than_bounding_rectangles() -> None:
    stock = [Stock(2400.0), Stock(3600.0)]
    saved = 0.0
    for seed in range(30):
        blanks = angled_job(seed, 5 + seed % 6, [20.0, -35.0])
        nested = plan_cuts(blanks, stock, kerf_mm=3.0, width_mm=WIDTH, turns=BOTH)
        square = plan_cuts([Blank(b.label, b.length_mm) for b in blanks], stock, kerf_mm=3.0)
        assert nested.bought_mm <= square.bought_mm, seed
        assert nested.bound <= nested.bought_mm
        saved += square.bought_mm - nested.bought_mm
    assert saved > 0


def test_two_trapezoids_share_a_board_only_when_one_may_turn() -> None:
    """1300 mm at the long edge, 45° at one end: bounding lengths 2603 mm, nested 2464.3 mm."""
    blanks = [Blank(label, 1300.0, SQUARE, slanted(45.0)) for label in ("1a", "2a")]
    stock = [Stock(2470.0)]
    as_laid = plan_cuts(blanks, stock, kerf_mm=3.0, width_mm=WIDTH)
    turned_round = plan_cuts(blanks, stock, kerf_mm=3.0, width_mm=WIDTH, turns=BOTH)
    assert (len(as_laid.boards), len(turned_round.boards)) == (2, 1)
    first, second = turned_round.boards[0].cuts
    assert {first.turn, second.turn} == {Turn.AS_LAID, Turn.END_FOR_END}
    assert second.end_mm == pytest.approx(2600.0 - 140.0 + 3.0 * math.sqrt(2.0))


@settings(max_examples=25, deadline=None, derandomize=True)
@given(
    corners=st.lists(st.floats(-300.0, 300.0), min_size=4, max_size=4),
    turn=st.floats(0.0, math.pi),
    two_good_faces=st.booleans(),
)
def test_pieces_of_a_slanted_field_lie_apart_on_their_boards(
    corners: list[float], turn: float, two_good_faces: bool
) -> None:
    """A field 1500 x 900 mm with its corners pulled about, boards at any angle."""
    a, b, c, d = corners
    field = region_through([(a, 0.0), (1500.0 + b, 40.0), (1500.0 + c, 900.0), (d, 860.0)])
    layout = lay_rows(field, Board(WIDTH, 28.0, 5.0), LayoutRules(direction_rad=turn))
    edges = BoardEdges.EASED
    plan = plan_cuts(
        [blank_of(piece, WIDTH, edges) for piece in layout.pieces],
        [Stock(2400.0), Stock(3600.0)],
        kerf_mm=3.0,
        width_mm=WIDTH,
        turns=turns_of(edges, two_good_faces=two_good_faces),
        time_limit_s=2.0,
    )
    regions = {piece.label: piece.region for piece in layout.pieces}
    lengths = {piece.label: piece.length_mm for piece in layout.pieces}
    check_boards(plan, regions, lengths, width_mm=WIDTH, tolerance_mm=0.02)
    assert all(polygon_of(region).is_valid for region in regions.values())
