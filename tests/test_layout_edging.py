"""Breakers, boards left long, stops: laws on random places and small decks on paper."""

import math

import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shapecut.errors import JobFileError, LayoutError
from shapecut.job.reading import job_from_text
from shapecut.layout.along_joists import along_joists
from shapecut.layout.border_rules import BorderRules, Corners
from shapecut.layout.edging import BreakerPlace, EdgingRules, lay_edged
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Board
from shapecut.layout.left_long import grown
from shapecut.layout.rules import LayoutRules
from shapecut.shape.allowance import with_allowances
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Treatment
from shapecut.shape.placement import Placement
from shapecut.shape.polygons import region_polygon
from shapecut.stages.planning import treated
from tests.test_layout_border import ELL, GRID_AREA_MM2, GRID_MM, places
from tests.test_layout_rows import field_of
from tests.test_layout_supports import outline_of
from tests.test_planning_carpentry import JOB

BOARD = Board(140.0, 28.0, 5.0)
REACH = dict(zip(Treatment, (-6.0, -1.0, 2.0, 25.0, -5.0), strict=True))
DECK = outline_of((0, 0), (6000, 0), (6000, 1445), (0, 1445))


def laid(outline, *, rules=None, longest=1e6, joists=None, board=BOARD, **edging):
    return lay_edged(
        outline,
        field_of(outline),
        board,
        rules or LayoutRules(),
        EdgingRules(**edging),
        longest_mm=longest,
        joists=joists,
    )


def shape(piece):
    return region_polygon(piece.region.placed(piece.placement))


def by_label(layout):
    return {piece.label: piece for piece in layout.pieces}


class TestBreakers:
    def test_a_breaker_in_the_middle(self):
        """6000 mm: the breaker from 2930 to 3070, rows of 2925 mm on both sides."""
        layout, _ = laid(DECK, breakers=(BreakerPlace("E4", 3000),))
        pieces = by_label(layout)
        assert pieces["1a"].length_mm == pytest.approx(2925)
        assert pieces["1b"].length_mm == pytest.approx(2925)
        assert pieces["D1"].length_mm == pytest.approx(1445)
        assert pieces["D1"].row == 0

    def test_it_spares_a_long_row_its_joint(self):
        layout, _ = laid(DECK, breakers=(BreakerPlace("E4", 3000),), longest=3000)
        assert max(piece.length_mm for piece in layout.pieces) < 3000
        assert layout.joints == ()

    def test_between_borders(self):
        """Inside a border of one course the breaker is 1445 - 2 x 145 long."""
        border = BorderRules(("E1", "E2", "E3", "E4"))
        layout, _ = laid(DECK, border=border, breakers=(BreakerPlace("E4", 3000),))
        pieces = by_label(layout)
        assert pieces["D1"].length_mm == pytest.approx(1445 - 290)
        assert pieces["1a"].length_mm == pytest.approx(3000 - 75 - 145)

    @settings(max_examples=40, deadline=None)
    @given(places(), st.floats(1200, 1900), st.floats(-0.6, 0.6))
    def test_nothing_overlaps_and_the_field_is_filled_but_for_gaps(self, place, at, turn):
        outline, _ = place
        edge = outline.edges[0]
        dx, dy = edge.curve.direction()
        rules = LayoutRules(direction_rad=math.atan2(dy, dx) + math.pi / 2 + turn)
        layout, _ = laid(outline, rules=rules, breakers=(BreakerPlace("E1", at),))
        shapes = [shape(piece) for piece in layout.pieces]
        union = shapely.union_all(shapes, grid_size=GRID_MM)
        assert union.area == pytest.approx(sum(part.area for part in shapes), rel=1e-6)
        whole = region_polygon(field_of(outline))
        assert whole.difference(union.buffer(BOARD.gap_mm * 2)).area < GRID_AREA_MM2
        labels = [piece.label for piece in layout.pieces]
        assert len(set(labels)) == len(labels)
        breaker = next(shape(p) for p in layout.pieces if p.label == "D1")
        rows = [shape(p) for p in layout.pieces if p.row]
        assert min(row.distance(breaker) for row in rows) == pytest.approx(5, abs=1e-6)

    @pytest.mark.parametrize(
        ("breakers", "says"),
        [
            ((BreakerPlace("E4", 9000),), "Breaker board 1 lies outside the field"),
            ((BreakerPlace("E4", 3000), BreakerPlace("E4", 3100)), "2 runs into another"),
            ((BreakerPlace("E1", 700),), "would run along them"),
            ((BreakerPlace("E7", 700),), '"E7".*it has E1, E2'),
        ],
    )
    def test_refused_by_name(self, breakers, says):
        with pytest.raises(LayoutError, match=says):
            laid(DECK, breakers=breakers)


class TestBareSlots:
    def test_between_two_breakers(self):
        """Breakers 150 mm apart from middle to middle leave 10 mm, too little for a row of its own
        behind a gap on both sides; 145 mm apart they leave the gap itself."""
        layout, _ = laid(DECK, breakers=(BreakerPlace("E4", 3000), BreakerPlace("E4", 3150)))
        (finding,) = layout.findings
        assert finding.where == "slot beside D1, D2"
        assert "1445 mm long and up to 10 mm wide" in finding.what
        assert finding.place_mm[0] == pytest.approx(3075, abs=0.1)
        layout, _ = laid(DECK, breakers=(BreakerPlace("E4", 3000), BreakerPlace("E4", 3145)))
        assert layout.findings == ()

    @settings(max_examples=25, deadline=None)
    @given(places(), st.sampled_from(Corners), st.integers(1, 2), st.floats(0, 8))
    def test_gaps_as_stated_are_no_slots(self, place, corners, courses, gap):
        """Borders all round: where gaps meet at 5 degrees and more nothing is wider for long."""
        outline, _ = place
        rises = [abs(edge.curve.direction()[1]) for edge in outline.edges]
        assume(all(rise < 1e-9 or rise > math.sin(math.radians(5)) for rise in rises))
        rules = BorderRules(tuple(edge.name for edge in outline.edges), courses, corners)
        layout, _ = laid(outline, border=rules, board=Board(140.0, 28.0, gap))
        assert not [finding for finding in layout.findings if finding.where.startswith("slot")]


class TestLeftLong:
    def test_square_ends(self):
        """50 mm over at E2: cut to 6050, trimmed to 6000; the marks are the corners themselves."""
        layout, edging = laid(DECK, left_long={"E2": 50.0})
        assert {piece.length_mm for piece in layout.pieces} == {6050.0}
        (trim,) = edging.trims
        assert [piece.label for piece in trim.pieces] == [p.label for p in layout.pieces]
        assert all(p.rough_mm - p.left_mm == pytest.approx(50) for p in trim.pieces)
        first, last = trim.marks
        assert (first.corner, last.corner) == ("E1/E2", "E2/E3")
        assert (first.along_mm, first.outwards_mm) == pytest.approx((0, 0))

    def test_marks_tell_the_allowance(self):
        """The boards reach 25 mm past E2 and stay 6 mm back from E1: the first mark is 6 mm along
        E2 from its corner and 25 mm outwards."""
        field = field_of(outline_of((0, 6), (6025, 6), (6025, 1445), (0, 1445)))
        _, edging = lay_edged(
            DECK, field, BOARD, LayoutRules(), EdgingRules(left_long={"E2": 40.0}), longest_mm=1e6
        )
        first, last = edging.trims[0].marks
        assert (first.along_mm, first.outwards_mm) == pytest.approx((6, 25))
        assert (last.along_mm, last.outwards_mm) == pytest.approx((0, 25))

    def test_a_slanted_end_is_left_long_square_to_the_edge(self):
        """At 45° 50 mm square to the edge are 50 √2 mm along the boards."""
        slanted = outline_of((0, 0), (3000, 0), (1555, 1445), (0, 1445))
        _, edging = laid(slanted, left_long={"E2": 50.0})
        for piece in edging.trims[0].pieces:
            assert piece.rough_mm - piece.left_mm == pytest.approx(50 * math.sqrt(2))

    @settings(max_examples=40, deadline=None)
    @given(places(), st.floats(5, 80))
    def test_trimmed_pieces_cover_what_they_would_have(self, place, by):
        outline, edges = place
        edge = edges[0]
        long, edging = laid(outline, left_long={edge: by})
        whole = region_polygon(field_of(outline))
        trimmed = shapely.union_all([shape(piece) for piece in long.pieces]).intersection(whole)
        rows = [row.across_mm for row in long.rows]
        assert trimmed.area <= whole.area + 1e-3
        assert whole.difference(trimmed.buffer(BOARD.gap_mm)).area < GRID_AREA_MM2
        assert len(rows) >= 2
        assert all(p.left_mm <= p.rough_mm + 1e-9 for p in edging.trims[0].pieces)

    def test_refused_at_an_arc_and_behind_a_border(self):
        edges = list(DECK.outer.edges)
        edges[1] = type(edges[1])("E2", Arc((6000, 0), (6000, 1445), (6000, 722.5), True))
        bowed = type(DECK)(type(DECK.outer)(tuple(edges)))
        with pytest.raises(LayoutError, match="left long at E2: it is an arc"):
            laid(bowed, left_long={"E2": 50.0})
        with pytest.raises(LayoutError, match="E2 has a border board along it"):
            laid(DECK, border=BorderRules(("E2",)), left_long={"E2": 50.0})
        with pytest.raises(LayoutError, match='left long at "E8"'):
            laid(DECK, left_long={"E8": 50.0})

    @pytest.mark.parametrize(("edge", "other"), [("E3", "E4"), ("E4", "E3")])
    @pytest.mark.parametrize("first", list(Treatment))
    @pytest.mark.parametrize("second", list(Treatment))
    def test_beside_an_inside_corner_of_unequal_allowances(self, edge, other, first, second):
        """Past the end of a wall its gap goes on as a step; what is left long is a band of 40 mm
        from the corner on, whatever the two allowances are."""
        outline = treated(ELL, {edge: first, other: second})
        field = with_allowances(outline, REACH)
        gained = grown(field, {edge: 40.0}).area - field.area
        length = {"E3": 2000, "E4": 1500}[edge]
        assert gained == pytest.approx(40.0 * length, abs=40.0 * 32.0)

    def test_beside_a_border_only_the_rows_are_left_long(self):
        """E3 of the L is left 40 mm long, E4 beyond the inside corner has a border: its board still
        starts a gap behind the corner, and only rows above the corner are trimmed."""
        layout, edging = laid(ELL, border=BorderRules(("E3", "E2")), left_long={"E4": 40.0})
        pieces = by_label(layout)
        assert pieces["B2"].length_mm == pytest.approx(2000 - 5)
        trimmed = [by_label(layout)[piece.label] for piece in edging.trims[0].pieces]
        assert trimmed
        for piece in trimmed:
            assert shape(piece).bounds[3] > 1500
            assert shape(piece).bounds[2] == pytest.approx(2040)


class TestStops:
    def test_flush_ends_share_a_stop_and_ends_left_long_have_none(self):
        _, edging = laid(DECK, left_long={"E2": 50.0})
        (stop,) = edging.stops
        assert stop.edge == "E4"
        assert stop.rows == tuple(range(1, 11))
        assert {mark.corner for mark in stop.marks} == {"E3/E4", "E4/E1"}


class TestAlongTheJoists:
    """B2 lies along E2, its middle at x = 5930, 1445 mm long: stations 50 mm from its ends and two
    between them, 448 mm apart."""

    def test_blocking_across_the_bay_under_it(self):
        """Joists at 5500 and 6000: the one at 6000 reaches 19 mm under the board, which is enough.
        Without it, the last at 5500, blocks reach from its face at 5519 to the board's middle."""
        joists = Joists(Placement(turn_rad=-math.pi / 2), tuple(500.0 * k for k in range(13)))
        layout, _ = laid(DECK, border=BorderRules(("E1", "E2")), joists=joists)
        found = along_joists(layout, joists)
        assert {p.label for p in layout.pieces} - {p.label for p in found.across.pieces} == {"B2"}
        assert found.blocks == ()
        assert "one lies under it all along" in found.findings[0].what
        found = along_joists(layout, Joists(joists.frame, joists.lines_mm[:12]))
        assert len(found.blocks) == 4
        assert {block.joists for block in found.blocks} == {(11,)}
        assert all(block.length_mm == pytest.approx(5930 - 5519) for block in found.blocks)
        assert "4 pieces of blocking" in found.findings[0].todo

    def test_between_two_joists(self):
        """Joists at 5700 and 6150 leave the board 5860 to 6000 bare: blocks of 450 - 38 mm."""
        joists = Joists(Placement(turn_rad=-math.pi / 2), (5250.0, 5700.0, 6150.0))
        layout, _ = laid(DECK, border=BorderRules(("E2",)), joists=joists)
        found = along_joists(layout, joists)
        assert len(found.blocks) == 4
        assert all(block.length_mm == pytest.approx(412) for block in found.blocks)
        assert all(block.middle[0] == pytest.approx(5925) for block in found.blocks)
        ys = sorted(block.middle[1] for block in found.blocks)
        assert ys == pytest.approx([50, 50 + 1345 / 3, 50 + 2 * 1345 / 3, 1395])


@pytest.mark.parametrize(
    ("new", "says"),
    [
        ("[border]\nedges = []", ["border.edges", "at least one"]),
        ('[border]\nedges = ["E1", "E1"]', ["border", "names E1 twice"]),
        ('[border]\nedges = ["E1"]\ncourses = 0', ["border.courses"]),
        (
            '[border]\nedges = ["E1"]\ncorner_gap = "1 m"',
            ["corner_gap 1000 mm (39 3/8 in) is more than 50 mm (1 15/16 in)"],
        ),
        ('[border]\nedges = ["E1"]\ncorners = "round"', ["border.corners", "mitred", "butted"]),
        (
            '[border]\nedges = ["E1"]\ncorners = "butted"\ncorner_gap = "2 mm"',
            ["corner_gap is for corners"],
        ),
        ('[border]\nedges = ["E1"]\n[left_long]\nE1 = "50 mm"', ["left_long", "both name E1"]),
        ('[left_long]\nE1 = "0 mm"', ["left_long.E1", "more than zero"]),
        ('[[breakers]]\nat = "3 m"', ["breakers", "measured_from"]),
    ],
)
def test_a_mistake_in_the_job_is_answered_by_name(new, says):
    with pytest.raises(JobFileError) as caught:
        job_from_text(JOB.replace("[stock]", f"{new}\n[stock]", 1))
    for words in says:
        assert words in str(caught.value)
