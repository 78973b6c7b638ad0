"""Border boards: laws on random places, corners against closed formulas, refusals by name.

        E3                       convex corners: mitre or butt; the inside corner
   +-----------+                 of an L (E3/E4) turns to the right
   |  B3       |
E4 |B4 +-------+
   |   |       | E2
"""

import math
from dataclasses import replace

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import LayoutError
from shapecut.layout.border import border_of
from shapecut.layout.border_joints import BorderJoints
from shapecut.layout.border_rules import BorderRules, Corners, behind
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Board
from shapecut.papers.piece_facts import piece_facts
from shapecut.shape.allowance import with_allowances
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Outline, Ring, Treatment
from shapecut.shape.placement import Placement
from shapecut.shape.polygons import region_polygon
from tests.test_layout_rows import field_of
from tests.test_layout_supports import outline_of

BOARD = Board(140.0, 28.0, 5.0)
WHOLE = BorderJoints(1e6)

GRID_MM = 1e-5
"""Shapes are united on a grid of this, since shapely stumbles over coordinates next to nought."""

GRID_AREA_MM2 = 20_000 * GRID_MM
"""What the grid can move along 20 m of boundary."""
SQUARE = outline_of((0, 0), (2000, 0), (2000, 1500), (0, 1500))
ELL = outline_of((0, 0), (4000, 0), (4000, 1500), (2000, 1500), (2000, 3000), (0, 3000))


def laid(outline, *edges, board=BOARD, joints=WHOLE, joists=None, **rules):
    field = field_of(outline)
    return border_of(field, board, BorderRules(edges, **rules), joints=joints, joists=joists)


def with_post(x, y):
    """The square with a post 120 mm square, its edges PE1 (left) to PE4 (below)."""
    post = outline_of((x, y), (x, y + 120), (x + 120, y + 120), (x + 120, y))
    edges = tuple(type(edge)(f"P{edge.name}", edge.curve) for edge in post.outer.edges)
    return type(SQUARE)(SQUARE.outer, (type(post.outer)(edges),))


def shapes(border):
    return [region_polygon(piece.region.placed(piece.placement)) for piece in border.pieces]


@st.composite
def places(draw):
    """A polygon of 3 to 6 corners on a circle, or an L with slanted ends, turned and moved."""
    if draw(st.booleans()):
        count = draw(st.integers(3, 6))
        points = [
            (radius * math.cos(angle), radius * math.sin(angle))
            for k in range(count)
            for radius in [draw(st.floats(2600, 3000))]
            for angle in [(k + draw(st.floats(0.0, 0.15))) * math.tau / count]
        ]
    else:
        lean = draw(st.floats(-300, 300))
        points = [
            (0, 0), (4000, 0), (4000 + lean, 1500), (2000 + lean, 1500 + lean / 3),
            (2000 - lean, 3200), (0, 3200),
        ]  # fmt: skip
    turn = Placement((draw(st.floats(-1e3, 1e3)), 0.0), draw(st.floats(-3, 3)))
    outline = outline_of(*map(turn.to_plane, points))
    names = [edge.name for edge in outline.edges]
    chosen = draw(st.lists(st.sampled_from(names), min_size=1, unique=True))
    return outline, tuple(chosen)


class TestLaws:
    @settings(max_examples=60, deadline=None)
    @given(places(), st.sampled_from(Corners), st.integers(1, 2), st.floats(0, 8))
    def test_boards_and_field_fill_the_place_but_for_gaps(self, place, corners, courses, gap):
        outline, edges = place
        board = Board(140.0, 28.0, gap)
        border = laid(outline, *edges, board=board, corners=corners, courses=courses)
        whole = region_polygon(field_of(outline))
        parts = [*shapes(border), region_polygon(border.field)]
        union = shapely.union_all(parts, grid_size=GRID_MM)
        assert union.area == pytest.approx(sum(part.area for part in parts), rel=1e-6)
        assert union.difference(whole).area < GRID_AREA_MM2
        # The point of a gap at a corner stands off by the gap over the sine of half the corner.
        sharpest = (
            min(abs(math.pi - abs(corner.turn_rad)) for corner in border.corners)
            if (border.corners)
            else math.pi / 2
        )
        reach = gap / math.sin(min(sharpest, math.pi / 3) / 2) + 1e-3
        assert whole.difference(union.buffer(reach)).area < GRID_AREA_MM2

    @settings(max_examples=60, deadline=None)
    @given(places(), st.sampled_from(Corners), st.floats(0.5, 8))
    def test_gaps_are_as_stated(self, place, corners, gap):
        outline, edges = place
        board = Board(140.0, 28.0, gap)
        border = laid(outline, *edges, board=board, corners=corners, courses=2)
        field = region_polygon(border.field)
        ring = shapes(border)
        inner = ring[len(ring) // 2 :]
        assert all(shape.distance(field) == pytest.approx(gap, abs=1e-6) for shape in inner)
        if corners is Corners.BUTTED:
            for k, shape in enumerate(ring):
                for other in ring[k + 1 :]:
                    assert shape.distance(other) >= gap - 1e-6

    @settings(max_examples=60, deadline=None)
    @given(places())
    def test_every_mitre_bisects_its_corner(self, place):
        """Both boards of a mitre are cut 90° - φ/2 off square for a corner of φ."""
        outline, _ = place
        border = laid(outline, *(edge.name for edge in outline.edges))
        ends = {}
        for piece, edge in zip(border.pieces, outline.edges, strict=True):
            facts = piece_facts(piece, 140.0)
            ends[edge.name] = (facts.start.off_square_deg or 0.0, facts.end.off_square_deg or 0.0)
        for corner in border.corners:
            before, after = corner.edges
            phi = 180 - math.degrees(abs(corner.turn_rad))
            assert math.degrees(corner.mitre_rad) == pytest.approx(90 - phi / 2)
            for angle in (ends[before][1], ends[after][0]):
                assert angle == pytest.approx(90 - phi / 2, abs=0.2)


class TestByHand:
    def test_a_mitred_square(self):
        """2000 x 1500 with 140 mm boards: long points 2000 and 1500, short points 280 less; the
        field is 2000 - 2 (140 + 5) by 1500 - 2 (140 + 5)."""
        border = laid(SQUARE, "E1", "E2", "E3", "E4")
        assert [piece.length_mm for piece in border.pieces] == pytest.approx([2000, 1500] * 2)
        assert [piece.region.area for piece in border.pieces] == pytest.approx(
            [(2000 + 1720) / 2 * 140, (1500 + 1220) / 2 * 140] * 2
        )
        assert border.field.area == pytest.approx(1710 * 1210)
        assert [piece.label for piece in border.pieces] == ["B1", "B2", "B3", "B4"]

    def test_a_gap_at_the_mitres_is_square_to_the_cut(self):
        """4 mm square to a cut at 45° take 2 √2 mm off each long point."""
        border = laid(SQUARE, "E1", "E2", "E3", "E4", corner_gap_mm=4.0)
        assert border.pieces[0].length_mm == pytest.approx(2000 - 2 * 2 * math.sqrt(2))
        first, second, *_ = shapes(border)
        assert first.distance(second) == pytest.approx(4.0, abs=1e-6)

    def test_a_butted_square(self):
        """E1 and E3 run through; E2 and E4 stop 5 mm before them: 1500 - 2 x 145."""
        border = laid(SQUARE, "E1", "E3", "E2", "E4", corners=Corners.BUTTED)
        assert [piece.length_mm for piece in border.pieces] == pytest.approx([2000, 1210] * 2)
        assert all(corner.through in ("E1", "E3") for corner in border.corners)

    def test_an_inside_corner_mitred(self):
        """E3 ends and E4 starts at the inside corner: each runs on 140 mm past it to the point."""
        border = laid(ELL, "E3", "E4")
        assert [piece.length_mm for piece in border.pieces] == pytest.approx([2140, 1640])
        (corner,) = border.corners
        assert math.degrees(corner.turn_rad) == pytest.approx(-90)

    def test_an_inside_corner_butted(self):
        """E3 runs through, 140 mm past the corner; E4 starts 5 mm behind its outer face."""
        border = laid(ELL, "E3", "E4", corners=Corners.BUTTED)
        assert [piece.length_mm for piece in border.pieces] == pytest.approx([2140, 1495])

    def test_alone_at_an_inside_corner_it_ends_square_a_gap_before(self):
        border = laid(ELL, "E3")
        assert border.pieces[0].length_mm == pytest.approx(2000 - 5)
        assert border.field.area == pytest.approx(9e6 - 2000 * 145)

    def test_rows_keep_the_gap_past_a_notch_narrower_than_it(self):
        """E3 stays back 1 mm and E4 reaches out 2: the place has a notch 2 mm deep between them."""
        edges = [replace(edge, treatment=Treatment.BUTT) for edge in ELL.outer.edges]
        edges[2] = replace(edges[2], treatment=Treatment.COVERED)
        edges[3] = replace(edges[3], treatment=Treatment.EXPOSED)
        reach = {Treatment.BUTT: 0.0, Treatment.COVERED: -1.0, Treatment.EXPOSED: 2.0}
        place = with_allowances(Outline(Ring(tuple(edges))), reach)
        border = border_of(place, BOARD, BorderRules(("E3",)), joints=WHOLE)
        (board,) = shapes(border)
        assert board.distance(region_polygon(border.field)) == pytest.approx(5.0, abs=1e-6)

    def test_rows_keep_the_gap_to_the_end_of_a_board_a_step_farther_in(self):
        """One edge stays back by 6 mm, its continuation by 1: their boards lie 5 mm apart."""
        outline = outline_of((0, 0), (2000, 0), (2000, 1001), (1000, 1001), (0, 1001))
        walled = (
            replace(edge, treatment=Treatment.WALL if edge.name == "E3" else Treatment.COVERED)
            for edge in outline.outer.edges
        )
        reach = {Treatment.WALL: -6.0, Treatment.COVERED: -1.0}
        place = with_allowances(Outline(Ring(tuple(walled))), reach)
        border = border_of(
            place, Board(140.0, 28.0, 2.0), BorderRules(("E3", "E4")), joints=WHOLE, joists=None
        )
        field = region_polygon(border.field)
        assert [shape.distance(field) for shape in shapes(border)] == pytest.approx([2.0, 2.0])

    def test_two_courses(self):
        """The second course is 145 mm further in: 2000 - 2 x 145 long at its long point."""
        border = laid(SQUARE, "E1", "E2", "E3", "E4", courses=2)
        assert border.pieces[4].length_mm == pytest.approx(1710)
        assert border.field.area == pytest.approx((2000 - 4 * 145) * (1500 - 4 * 145))

    def test_round_a_post(self):
        """A post 120 mm square with mitred boards round it: long points 120 + 2 x 140."""
        border = laid(with_post(900, 700), "PE1", "PE2", "PE3", "PE4")
        assert [piece.length_mm for piece in border.pieces] == pytest.approx([400] * 4)
        assert border.field.area == pytest.approx(2000 * 1500 - (120 + 2 * 145) ** 2)

    def test_the_field_knows_what_lies_behind_the_border(self):
        border = laid(SQUARE, "E1")
        sources = {side.source for side in border.field.outer}
        assert sources == {behind("E1"), "E2", "E3", "E4"}


class TestLongerThanTheStock:
    def test_over_a_joist_that_it_crosses(self):
        """4000 mm from 3000 mm boards over joists at 500 mm: joined once, over the one at 2000."""
        joists = Joists(
            Placement(turn_rad=math.pi / 2), tuple(-500.0 * k for k in range(8, -1, -1))
        )
        border = laid(ELL, "E1", joints=BorderJoints(3000, 300, 2.0), joists=joists)
        assert [piece.label for piece in border.pieces] == ["B1a", "B1b"]
        assert [piece.length_mm for piece in border.pieces] == pytest.approx([1999, 1999])
        assert border.findings == ()

    def test_along_the_joists_a_finding_asks_for_blocking(self):
        joists = Joists(Placement(), (0.0, 500.0, 1000.0, 1500.0))
        border = laid(ELL, "E1", joints=BorderJoints(3000), joists=joists)
        assert len(border.pieces) == 2
        (finding,) = border.findings
        assert "B1" in finding.where
        assert "2000 mm from its start" in finding.what


class TestRefusals:
    def test_wider_than_the_place(self):
        narrow = outline_of((0, 0), (2000, 0), (2000, 250), (0, 250))
        with pytest.raises(LayoutError, match=r"along E1, E3 it takes 145 .* fewer courses"):
            laid(narrow, "E1", "E3")
        with pytest.raises(LayoutError, match="wider than the place"):
            laid(SQUARE, "E1", courses=20)

    def test_boards_that_run_into_each_other_are_named(self):
        """A post 200 mm from E1 leaves no room for a board along each."""
        with pytest.raises(LayoutError, match=r"along E1 and PE\d run into each other"):
            laid(with_post(900, 200), "E1", "PE1", "PE2", "PE3", "PE4")

    def test_an_arc_is_refused_with_its_reason(self):
        edges = list(SQUARE.outer.edges)
        edges[1] = type(edges[1])("E2", Arc((2000, 0), (2000, 1500), (2000, 750), True))
        bowed = type(SQUARE)(type(SQUARE.outer)(tuple(edges)))
        with pytest.raises(LayoutError, match=r"along E2: it is an arc of radius 750 mm.*mitred"):
            laid(bowed, "E1", "E2")
        assert laid(bowed, "E1").pieces[0].length_mm == pytest.approx(2000 - 5)

    def test_no_such_edge(self):
        with pytest.raises(LayoutError, match=r'"E9".*it has E1, E2, E3, E4'):
            laid(SQUARE, "E9")
