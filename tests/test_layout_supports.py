"""Joists, spans, free ends and blocking: laws on random joists, and small decks on paper."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shapecut.errors import LayoutError
from shapecut.findings import Level
from shapecut.layout.blocking import LooseCorner, blocking
from shapecut.layout.joists import JoistRules, Joists, joists_under
from shapecut.layout.layout import Board
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.layout.span_limits import longest_spacing_mm
from shapecut.layout.supports import SupportRules, supports_of
from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Placement
from shapecut.units import MM_PER_INCH
from tests.strategies import boards, outlines, placements, turns
from tests.test_layout_rows import BOARD, field_of, rectangle, straight

INCH = MM_PER_INCH
ACROSS = math.pi / 2


def outline_of(*points):
    ends = [*points[1:], points[0]]
    return Outline(
        Ring(tuple(Edge(f"E{n}", Line(*pair)) for n, pair in enumerate(zip(points, ends), 1)))  # noqa: B905
    )


DECK = outline_of((0, 0), (3000, 0), (3000, 1000), (0, 1000))


def square_joists(*offsets_along: float, width: float = 38.0) -> Joists:
    """Joists square to boards that run along x, at these distances from x = 0."""
    return Joists(Placement(turn_rad=-ACROSS), tuple(sorted(offsets_along)), width)


class TestJoistsByHand:
    def test_spaced_from_an_edge_into_the_place(self):
        # E4 runs down at x = 0 with the deck on its left: 100, 500, ... 2900 and nothing before.
        rules = JoistRules(-ACROSS, spacing_mm=400, first_mm=100, from_edge="E4")
        joists = joists_under(DECK, rules)
        assert joists.lines_mm == pytest.approx([100 + 400 * k for k in range(8)])
        rules = JoistRules(-ACROSS, spacing_mm=400, first_mm=100, from_edge="E2")
        assert joists_under(DECK, rules).lines_mm == pytest.approx(
            [100 + 400 * k for k in range(8)]
        )

    def test_spaced_from_the_origin_to_both_sides(self):
        rules = JoistRules(-ACROSS, spacing_mm=400, first_mm=900)
        lines = joists_under(DECK, rules).lines_mm
        assert lines == pytest.approx([100 + 400 * k for k in range(8)])

    def test_listed(self):
        rules = JoistRules(-ACROSS, lines_mm=(2900, 100, 1500), from_edge="E4")
        assert joists_under(DECK, rules).lines_mm == pytest.approx([100, 1500, 2900])

    @pytest.mark.parametrize(
        ("rules", "said"),
        [
            (JoistRules(-ACROSS), "no joists: state their spacing"),
            (JoistRules(-ACROSS, lines_mm=(5000,)), "No joist lies under the place"),
            (JoistRules(-ACROSS, spacing_mm=400, from_edge="E9"), '"E9".* no such edge'),
            (JoistRules(-ACROSS, spacing_mm=400, from_edge="E1"), r"E1: it is 90\.0° off"),
            (JoistRules(-ACROSS, spacing_mm=0.4), "about 7..., and 1000 are the most"),
        ],
    )
    def test_what_cannot_be_is_refused(self, rules, said):
        with pytest.raises(LayoutError, match=said):
            joists_under(DECK, rules)

    def test_joists_along_the_boards_are_refused(self):
        layout = lay_rows(rectangle(3000, 1000), BOARD, LayoutRules())
        with pytest.raises(LayoutError, match="The joists are 0° to the boards"):
            supports_of(layout, Joists(Placement(), (500.0,)), SupportRules())


class TestSpansByHand:
    def test_a_board_over_square_joists(self):
        layout = lay_rows(rectangle(2000, 140), BOARD, LayoutRules())
        (piece,) = supports_of(layout, square_joists(100, 700, 1300, 1950), SupportRules()).pieces
        assert piece.joists == (0, 1, 2, 3)
        assert piece.span_mm == pytest.approx(650)
        # From the faces: 100 - 19, and 2000 - 1950 - 19.
        assert piece.free_ends_mm == pytest.approx((81, 31))

    def test_a_diagonal_board_spans_further_along_than_the_joists_are_apart(self):
        """Joists at 45° and 400 mm apart: 400 / cos 45° = 565.7 mm along the board."""
        layout = lay_rows(rectangle(4000, 140), BOARD, LayoutRules())
        joists = Joists(Placement(turn_rad=math.pi / 4), tuple(range(-4000, 4001, 400)))
        (piece,) = supports_of(layout, joists, SupportRules()).pieces
        assert piece.span_mm == pytest.approx(400 * math.sqrt(2))
        assert joists.skew_rad(0.0) == pytest.approx(math.pi / 4)

    def test_the_joists_spacing_is_held_against_the_table(self):
        """Boards 1 in thick, joists 24 in apart: 16 in is allowed by IRC Table R507.7."""
        layout = lay_rows(rectangle(3000, 280), Board(140, 25.4, 0), LayoutRules())
        wide = square_joists(*(100 + 24 * INCH * k for k in range(5)))
        supports = supports_of(layout, wide, SupportRules(free_end_mm=500))
        assert supports.longest_spacing_mm == pytest.approx(406.4)
        (serious,) = [f for f in supports.findings if f.level is Level.SERIOUS]
        assert "610 mm apart" in serious.what
        assert "IRC Table R507.7 allows 406 mm" in serious.what
        close = square_joists(*(100 + 16 * INCH * k for k in range(8)))
        levels = [
            f.level for f in supports_of(layout, close, SupportRules(free_end_mm=500)).findings
        ]
        assert levels == [Level.NOTE]

    def test_composite_is_for_its_maker(self):
        layout = lay_rows(rectangle(2000, 140), BOARD, LayoutRules())
        joists = square_joists(100, 700, 1300, 1950)
        rules = SupportRules(composite=True, free_end_mm=100)
        check, caution = supports_of(layout, joists, rules).findings
        assert "maker's approval" in check.what
        assert "local building code" in caution.what


def test_the_rows_of_the_table():
    """IRC Table R507.7: 1 1/4 in wood 16 in square, 12 diagonal; 2 in wood 24 and 16."""
    square, diagonal = 0.0, math.radians(45)
    assert longest_spacing_mm(25.4, square) == pytest.approx(16 * INCH)
    assert longest_spacing_mm(25.4, diagonal) == pytest.approx(12 * INCH)
    assert longest_spacing_mm(38.1, square) == pytest.approx(24 * INCH)
    assert longest_spacing_mm(38.1, diagonal) == pytest.approx(16 * INCH)
    assert longest_spacing_mm(20.0, square) is None
    assert longest_spacing_mm(38.1, math.radians(60)) is None


class TestBlockingByHand:
    def test_a_short_piece_between_joists_gets_a_block_under_each_long_side(self):
        """A 200 mm piece in a bay of 500 mm: blocks of 500 - 38 = 462 mm at y 0 and y 140."""
        layout = lay_rows(rectangle(200, 140), BOARD, LayoutRules())
        joists = Joists(Placement(turn_rad=-ACROSS), (-200.0, 300.0), 38.0)
        supports = supports_of(layout, joists, SupportRules())
        assert supports.pieces[0].joists == ()
        assert [block.length_mm for block in supports.blocks] == pytest.approx([462, 462])
        assert sorted(block.middle[1] for block in supports.blocks) == pytest.approx([0, 140])
        assert all(block.middle[0] == pytest.approx(50) for block in supports.blocks)
        assert all(block.is_held_at_both_ends for block in supports.blocks)
        assert any("nothing under it" in finding.what for finding in supports.findings)

    def test_pieces_without_joists_are_named_together(self):
        """Two rows of 200 mm in a bay of 500 mm, nothing under either; then both on one joist."""
        layout = lay_rows(rectangle(200, 285), BOARD, LayoutRules())
        joists = Joists(Placement(turn_rad=-ACROSS), (-200.0, 300.0), 38.0)
        (serious,) = [
            f for f in supports_of(layout, joists, SupportRules()).findings
            if f.level is Level.SERIOUS
        ]  # fmt: skip
        assert (serious.where, serious.what) == (
            "pieces 1a, 2a", "They lie between the joists with nothing under them.",
        )  # fmt: skip
        found = supports_of(layout, square_joists(100), SupportRules()).findings
        assert ("pieces 1a, 2a", "Each lies on one joist only and can tip.") in [
            (f.where, f.what) for f in found
        ]

    def test_a_pointed_end_past_the_last_joist(self):
        """A 45° end: the long corner reaches 131 mm past the joist, the short one none.

        The joist's face is at 819 and the corner at 950; the other corner is at 950 - 140 = 810.
        """
        field = straight((0, 0), (950, 0), (810, 140), (0, 140))
        layout = lay_rows(field, BOARD, LayoutRules())
        supports = supports_of(layout, square_joists(20, 400, 800), SupportRules())
        (block,) = supports.blocks
        assert block.joists == (2,)
        assert block.length_mm == pytest.approx(950 - 819)
        assert supports.pieces[0].free_ends_mm == pytest.approx((1, 131), abs=1.0)

    def test_neighbouring_corners_share_a_block(self):
        """Two rows end 100 mm past the joist: their corners at the gap, 5 mm apart, share one."""
        layout = lay_rows(rectangle(1000, 285), BOARD, LayoutRules())
        supports = supports_of(layout, square_joists(20, 500, 881), SupportRules())
        assert [block.labels for block in supports.blocks] == [("2a",), ("1a", "2a"), ("1a",)]

    def test_blocks_never_overlap(self):
        """Corners 25 mm apart in one bay, too far for one block: the second lies beside it."""
        corners = [LooseCorner("1a", (300.0, 0.0)), LooseCorner("2a", (300.0, 25.0))]
        blocks = blocking(corners, square_joists(0, 600), least_bearing_mm=10)
        along = sorted(block.middle[1] for block in blocks)
        assert len(along) == 2
        assert along[1] - along[0] >= 38 - 1e-9

    def test_a_joist_instead_of_much_blocking(self):
        """Six rows end 300 mm past the last joist: seven blocks, or one joist more."""
        layout = lay_rows(rectangle(1000, 865), BOARD, LayoutRules())
        supports = supports_of(layout, square_joists(20, 340, 681), SupportRules())
        assert len(supports.blocks) == 7
        assert any("One more joist" in finding.todo for finding in supports.findings)

    def test_a_joist_beside_a_notch_carries_the_board_on(self):
        """A notch 60 mm deep bares the joist at 500 over part of its width only."""
        field = straight(
            (0, 0), (1000, 0), (1000, 140), (540, 140), (540, 80), (460, 80), (460, 140), (0, 140)
        )
        layout = lay_rows(field, BOARD, LayoutRules())
        (piece,) = supports_of(layout, square_joists(20, 500, 980), SupportRules()).pieces
        assert piece.joists == (0, 1, 2)
        assert piece.span_mm == pytest.approx(480)

    def test_a_notch_between_joists_needs_none(self):
        field = straight(
            (0, 0), (1000, 0), (1000, 140), (560, 140), (560, 90), (440, 90), (440, 140), (0, 140)
        )
        layout = lay_rows(field, BOARD, LayoutRules())
        supports = supports_of(layout, square_joists(20, 300, 700, 980), SupportRules())
        assert supports.blocks == ()


@settings(max_examples=60, deadline=None)
@given(
    outline=outlines(largest_mm=3000),
    board=boards(),
    turn=turns,
    skew=st.floats(-0.7, 0.7),
    spacing=st.floats(200, 700),
    at=placements,
)
def test_bearings_and_blocks_on_random_places(outline, board, turn, skew, spacing, at):
    """Every corner at an end is near a bearing or on a block; every block is in one bay."""
    layout = lay_rows(field_of(outline), board, LayoutRules(direction_rad=turn))
    rules = JoistRules(turn + ACROSS + skew, spacing_mm=spacing, first_mm=abs(at.origin[0]))
    try:
        joists = joists_under(outline, rules)
    except LayoutError as error:
        assume("No joist lies under the place" not in str(error))
        raise
    supports = supports_of(layout, joists, SupportRules())
    assert joists.skew_rad(turn) == pytest.approx(abs(skew), abs=1e-6)
    carried = {label for block in supports.blocks for label in block.labels}
    for support in supports.pieces:
        assert support.joists or support.label in carried or not support.loose
        assert bool(support.loose) == (support.label in carried)
        if support.span_mm is not None:
            assert support.span_mm >= spacing / math.cos(skew) - 1e-6
    to_joists = joists.frame.inverse()
    for block in supports.blocks:
        _, across = to_joists.to_plane(block.middle)
        low, high = across - block.length_mm / 2, across + block.length_mm / 2
        for line in joists.lines_mm:
            assert line <= low + 1e-6 or line >= high - 1e-6
        if block.is_held_at_both_ends:
            assert block.length_mm == pytest.approx(spacing - joists.width_mm)
