"""Cut cards: their numbers alone reproduce every piece, and the paper says what the values hold."""

import io
import math
import re
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pypdfium2
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shapecut.errors import ShapecutError
from shapecut.layout.layout import Piece
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.papers.card_sketch import card_sketch
from shapecut.papers.card_words import CardWords, cards_in_order
from shapecut.papers.cut_card import CardCut, CardMark, Compass, CutCard
from shapecut.papers.cut_cards import cut_cards_pdf
from shapecut.papers.marking_out import cut_card, rounding_step
from shapecut.papers.on_board import OnBoard, on_board
from shapecut.papers.paper import Paper
from shapecut.papers.plan_map import reference_end
from shapecut.shape.allowance import with_allowances
from shapecut.shape.curves import Arc, Line
from shapecut.shape.outline import Treatment
from shapecut.shape.placement import Placement
from shapecut.shape.polygons import region_polygon
from shapecut.shape.region import Region, Side
from shapecut.stock.cutplan import Cut
from shapecut.stock.turns import Turn
from shapecut.units import parse_length
from tests.plan_by_hand import BITE, BITE_RADIUS, BOARD, cut_plan, layout
from tests.strategies import boards, outlines

FLAT = dict.fromkeys(Treatment, 0.0)


def rebuilt(card: CutCard) -> shapely.Polygon:
    """The piece from nothing but what is on its card."""
    compasses = {cut.first: cut.compass for cut in card.cuts}
    loops = []
    for marks in card.loops:
        points = []
        for mark, after in zip(marks, (*marks[1:], marks[0]), strict=True):
            points.append((mark.along_mm, mark.across_mm))
            if compass := compasses.get(mark.name):
                ends = [
                    math.atan2(m.across_mm - compass.across_mm, m.along_mm - compass.along_mm)
                    for m in (mark, after)
                ]
                sweep = (ends[1] - ends[0]) % math.tau - (0 if compass.ccw else math.tau)
                for part in np.linspace(0, 1, 60)[1:-1]:
                    angle = ends[0] + part * sweep
                    points.append(
                        (
                            compass.along_mm + compass.radius_mm * math.cos(angle),
                            compass.across_mm + compass.radius_mm * math.sin(angle),
                        )
                    )
        loops.append(points)
    return shapely.Polygon(loops[0], loops[1:])


MARK = re.compile(r"(.+?) \(.+?\) along, (?:(?:lower|upper) edge|(.+?) \(.+?\) up)")
COMPASS = re.compile(
    r"radius (.+?) \(.+?\) about (.+?) \(.+?\) (along|before the reference end), "
    r"(.+?) \(.+?\) (up|below the lower edge)"
)


def as_printed(card: CutCard, words: CardWords) -> CutCard:
    """The card with nothing but the numbers that are read in the job's units on paper."""

    def mark(one: CardMark) -> CardMark:
        along, up = MARK.fullmatch(words.mark(one)).groups()
        across = parse_length(up) if up else one.across_mm  # on an edge of the board
        return replace(one, along_mm=parse_length(along), across_mm=across)

    def cut(one: CardCut) -> CardCut:
        if one.compass is None:
            return one
        radius, along, way, up, side = COMPASS.search(words.cut(one)).groups()
        centre = (
            parse_length(along) * (1 if way == "along" else -1),
            parse_length(up) * (1 if side == "up" else -1),
        )
        return replace(one, compass=Compass(*centre, parse_length(radius), one.compass.ccw))

    loops = tuple(tuple(map(mark, loop)) for loop in card.loops)
    return replace(card, loops=loops, cuts=tuple(map(cut, card.cuts)))


@given(outlines(), boards(), st.sampled_from([("mm", 16), ("in", 32), ("in", 16)]))
@settings(max_examples=60, deadline=None)
def test_the_numbers_of_a_card_reproduce_its_piece(outline, board, rounding):
    step = rounding_step(*rounding)
    try:
        layout = lay_rows(with_allowances(outline, FLAT), board, LayoutRules())
    except ShapecutError:
        assume(False)
    words = CardWords.about((), {}, units=rounding[0], denominator=rounding[1])
    for piece in layout.pieces:
        card = as_printed(cut_card(piece, board.width_mm, step_mm=step), words)
        true = region_polygon(piece.region, tolerance_mm=0.01)
        off = shapely.hausdorff_distance(rebuilt(card).exterior, true.exterior, densify=0.05)
        assert off < step


def printed(pdf: bytes) -> list[str]:
    """The text of every page."""
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return [page.get_textpage().get_text_bounded() for page in document]


def test_the_paper_says_what_the_card_holds():
    pdf = cut_cards_pdf(layout(), cut_plan(), title="Bench", paper=Paper.A4)
    page = " ".join(printed(pdf))
    assert "From board 1: 0.0 mm to 900.0 mm from its reference end; then 2a." in page
    assert "the last on this board" in page
    for piece in layout().pieces:
        card = cut_card(piece, BOARD.width_mm)
        for mark in card.marks:
            across = f"{mark.edge} edge" if mark.edge else f"{mark.across_mm:g} mm"
            assert f"{mark.name}: {mark.along_mm:g} mm" in page.replace("  ", " ")
            assert across in page
        for cut in card.cuts:
            assert f"{cut.first} to {cut.last} along {cut.edge}: {cut.angle}" in page


def test_angles_curves_and_the_side_to_keep():
    bench = layout()
    slanted, _, bitten = (cut_card(piece, BOARD.width_mm) for piece in bench.pieces)
    end = next(cut for cut in slanted.cuts if cut.edge == "E2")
    assert end.angle == f"{math.degrees(math.atan(200 / 430)):.1f}° off square"
    assert end.keep == "the side of the reference end"
    bite = next(cut for cut in bitten.cuts if cut.edge == "E4")
    assert bite.angle == "curve, hollow"
    assert bite.compass is not None
    assert (bite.compass.along_mm, bite.compass.across_mm) == (BITE, BOARD.width_mm)
    assert bite.compass.radius_mm == BITE_RADIUS


def test_a_round_hole_is_one_hole():
    card = cut_card(layout().pieces[0], BOARD.width_mm)
    assert len(card.loops) == 1
    (opening,) = card.round_holes
    assert (opening.along_mm, opening.across_mm, opening.diameter_mm) == (300.0, 70.0, 80.0)


def test_a_curve_too_short_to_mark_is_left_out():
    """A post straddles two boards, its middle 0.15 mm under the edge between them."""
    ends, centre = ((121.875, 59.85), (121.874, 60.0), (103.126, 60.0)), (112.5, 59.85)
    sides = (
        *(Side(Line(*line)) for line in pairwise([(0, 60), (0, 0), (300, 0), (300, 60), ends[1]])),
        Side(Arc(ends[1], ends[0], centre, ccw=False), "E5"),
        Side(Arc(ends[0], ends[2], centre, ccw=False), "E6"),
        Side(Line(ends[2], (0, 60))),
    )
    card = cut_card(Piece("8a", 8, Region(sides), Placement(), 300.0), 60.0)
    assert [cut.edge for cut in card.cuts if cut.compass] == ["E6"]
    places = [(mark.along_mm, mark.across_mm) for mark in card.marks]
    assert len(set(places)) == len(places)


def test_a_sliver_that_nobody_can_mark_is_no_cut():
    card = cut_card(polygon_piece([(0, 0.1), (400, 0.0), (400, 139.8), (0, 140)]), 140.0)
    assert [mark.edge for mark in card.marks] == ["lower", "lower", "upper", "upper"]
    assert [(cut.first, cut.last) for cut in card.cuts] == [("2", "3"), ("4", "1")]


def test_a_turned_piece_is_shown_as_it_lies_on_its_board():
    board = cut_plan().boards[1]
    cut = replace(board.cuts[0], turn=Turn.END_FOR_END)
    plan = replace(cut_plan(), boards=(replace(board, cuts=(cut,)),))
    length = layout().pieces[2].length_mm
    text = " ".join(printed(cut_cards_pdf(layout(), plan, title="Bench", paper=Paper.A4)))
    assert "shown as it lies there, end for end" in text
    # The bite, 340 to 500 mm from the piece's own start, from the board's reference end.
    assert f"radius 80 mm (3 1/8 in) about {round((length - BITE) * 2) / 2:g} mm" in text


@pytest.mark.parametrize(("turn", "at_start"), [
    (Turn.AS_LAID, True), (Turn.OVER_ITS_EDGE, True),
    (Turn.END_FOR_END, False), (Turn.OVER_ITS_END, False),
])  # fmt: skip
def test_the_place_in_the_plan_has_the_reference_end_where_the_card_measures_from(turn, at_start):
    piece = layout().pieces[1]
    lying = on_board(piece, replace(cut_plan().boards[0].cuts[1], turn=turn), BOARD.width_mm)
    (line,) = reference_end(lying).curves
    along = 0.0 if at_start else piece.length_mm
    ends = {piece.placement.to_plane((along, across)) for across in (0.0, BOARD.width_mm)}
    assert sorted((line.start, line.end)) == [pytest.approx(end) for end in sorted(ends)]


def test_cards_take_no_more_paper_than_they_need():
    """Three simple ones on a sheet, each with its place in the plan."""
    (page,) = printed(cut_cards_pdf(layout(), cut_plan(), title="Bench", paper=Paper.A4))
    assert page.count("in the plan; thick: reference end") == 3


def test_an_inside_corner_is_named_with_a_relief_hole_in_the_waste():
    notch = polygon_piece([(0, 0), (400, 0), (400, 60), (300, 60), (300, 140), (0, 140)])
    card = cut_card(notch, 140.0, relief_mm=10.0)
    (hole,) = card.relief
    assert card.inside == (hole.mark,)
    corner = next(mark for mark in card.marks if mark.name == hole.mark)
    assert (corner.along_mm, corner.across_mm) == (300.0, 60.0)
    assert (hole.along_mm, hole.across_mm) == (305.0, 65.0)


def test_many_marks_go_on_over_further_cards_and_none_is_lost():
    teeth = [point for k in range(40) for point in ((20.0 * k, 0.0), (20.0 * k + 10, 9.0))]
    saw = polygon_piece([*teeth, (800, 0), (800, 140), (0, 140)])
    bench = replace(layout(), pieces=(saw,))
    plan = replace(cut_plan(), boards=(replace(cut_plan().boards[1], cuts=(Cut("1a", 0, 800),)),))
    text = " ".join(printed(cut_cards_pdf(bench, plan, title="Comb", paper=Paper.LETTER)))
    assert all(f" {mark.name}:" in text.replace("\r\n", " ") for mark in cut_card(saw, 140).marks)
    assert "1a, card 2" in text


def polygon_piece(corners: list[tuple[float, float]]) -> Piece:
    """A piece with straight sides, in its own frame."""
    sides = zip(corners, (*corners[1:], corners[0]), strict=True)
    region = Region(tuple(Side(Line(*ends)) for ends in sides))
    return Piece("1a", 1, region, Placement(), max(x for x, _ in corners))


def test_what_lies_abreast_is_not_hatched_as_waste():
    """Two boards ripped from one: the sketch of each hatches only what is left between them."""
    low = polygon_piece([(0, 0), (600, 0), (600, 60), (0, 60)])
    high = replace(polygon_piece([(0, 80), (600, 80), (600, 140), (0, 140)]), label="2a")
    cuts = (Cut("1a", 0.0, 600.0), Cut("2a", 0.0, 600.0))
    plan = replace(cut_plan(), boards=(replace(cut_plan().boards[0], cuts=cuts),))
    words = CardWords.about((), {}, units="mm", denominator=16)
    for one in cards_in_order(replace(layout(), pieces=(low, high)), plan, words):
        sketch = card_sketch(one.lying, one.card)
        assert {other.label for other in sketch.others} == {"1a", "2a"} - {one.card.label}
        heights = np.vstack(sketch.hatching)[:, 1]
        assert (heights.min(), heights.max()) == pytest.approx((60.0, 80.0))


def test_slanted_ends_that_share_a_cut_are_no_waste_of_each_other():
    """The second piece's slanted end begins 100 mm before the first one's blank ends."""
    first = polygon_piece([(0, 0), (600, 0), (500, 140), (0, 140)])
    second = replace(polygon_piece([(100, 0), (700, 0), (700, 140), (0, 140)]), label="2a")
    cuts = (Cut("1a", 0.0, 600.0), Cut("2a", 503.0, 1203.0))
    plan = replace(cut_plan(), boards=(replace(cut_plan().boards[0], cuts=cuts),))
    words = CardWords.about((), {}, units="mm", denominator=16)
    for one in cards_in_order(replace(layout(), pieces=(first, second)), plan, words):
        strokes = card_sketch(one.lying, one.card).hatching
        assert sum(np.hypot(*np.diff(stroke, axis=0).T).sum() for stroke in strokes) < 100.0


def test_no_relief_hole_is_drilled_into_the_piece_that_lies_in_the_notch():
    notched = polygon_piece([(0, 0), (400, 0), (400, 60), (300, 60), (300, 140), (0, 140)])
    tongue = replace(polygon_piece([(303, 63), (900, 63), (900, 140), (303, 140)]), label="2a")
    assert cut_card(notched, 140.0).relief
    assert not cut_card(notched, 140.0, beside=[tongue]).relief
    far = replace(polygon_piece([(330, 63), (900, 63), (900, 140), (330, 140)]), label="2a")
    assert cut_card(notched, 140.0, beside=[far]).relief


@pytest.mark.parametrize(("opening", "holes"), [(0.0, 0), (8.0, 0), (60.0, 1)])
def test_a_slit_too_narrow_for_the_drill_has_no_relief_hole(opening, holes):
    """A wedge 100 mm deep, closed at its tip: 10 mm touch both sides only where it is wide."""
    slit = [(0, 0), (400, 0), (400, 140), (200 + opening / 2, 140), (200, 40)]
    piece = polygon_piece([*slit, (200 - opening / 2, 140), (0, 140)])
    assert len(cut_card(piece, 140.0, relief_mm=10.0).relief) == holes


def test_a_neighbour_that_ends_with_a_corner_on_the_blank_is_sketched():
    """The upper corner of the piece before lies on the line that this one's blank begins at."""
    before = replace(
        polygon_piece([(-900.0, 140.0), (-900.0, 0.0), (139.884, 0.0), (-7.3e-5, 140.0)]),
        label="2a",
    )
    piece = polygon_piece([(140.0, 0.0), (700.0, 0.0), (700.0, 140.0), (3.0, 140.0)])
    lying = OnBoard(piece, Turn.AS_LAID, 0.0, 140.0, beside=(before,))
    (other,) = card_sketch(lying, cut_card(piece, 140.0)).others
    assert other.label == "2a"


def test_a_neck_that_the_sketch_shortens_away_is_sketched_all_the_same():
    """Under its notch 2 mm are left; drawn shorter beside it, the lower side passes above that."""
    necked = polygon_piece(
        [(0, 31.59), (900, 35.26), (500, 60), (242.86, 60), (242.86, 32.7), (140.93, 32.7),
         (140.93, 60), (20.86, 60)]
    )  # fmt: skip
    lying = OnBoard(necked, Turn.AS_LAID, 0.0, 60.0)
    assert card_sketch(lying, cut_card(necked, 60.0)).hatching
