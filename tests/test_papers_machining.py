"""Machine files: operations on their layers, paths of the bit, boards as they are cut."""

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.papers.drawing import Layer, Stroke
from shapecut.papers.machining import (
    Machining,
    drawing_for_boards,
    drawing_for_piece,
    machining_findings,
)
from shapecut.papers.tool import Tool
from shapecut.papers.tool_path import narrow_places, tool_path
from shapecut.shape.curves import Line
from shapecut.shape.polygons import region_polygon
from shapecut.shape.region import Region, Side
from shapecut.shape.setting_out import SetPoint
from shapecut.stock.cutplan import Offcut
from shapecut.stock.turns import Turn
from tests import plan_by_hand
from tests.random_floors import random_floor, round_hole

WIDTH = plan_by_hand.BOARD.width_mm


def area(stroke: Stroke) -> float:
    return sum(curve.area_term() for curve in stroke.curves)


def straight(*corners) -> Region:
    ends = (*corners[1:], corners[0])
    return Region(tuple(Side(Line(a, b)) for a, b in zip(corners, ends, strict=True)))


def polygon(loops) -> shapely.Polygon:
    """What loops of a path enclose."""
    rings = [
        shapely.Polygon(np.vstack([side.curve.flattened(0.002)[:-1] for side in loop]))
        for loop in loops
    ]
    signs = [sum(side.curve.area_term() for side in loop) for loop in loops]
    outer = shapely.union_all([r for r, sign in zip(rings, signs, strict=True) if sign > 0])
    return outer.difference(
        shapely.union_all([r for r, sign in zip(rings, signs, strict=True) if sign < 0])
    )


# --- layers ---------------------------------------------------------------------------------------


def test_each_operation_has_its_layer():
    piece = plan_by_hand.layout().pieces[0]
    drilled = replace(piece.region, holes=(*piece.region.holes, round_hole((600.0, 70.0), 6.0)))
    points = (SetPoint("P1", piece.placement.to_plane((200.0, 30.0)), 0.1),)
    drawing = drawing_for_piece(replace(piece, region=drilled), WIDTH, Machining(points=points))

    outside, inside = drawing.on(Layer.CUT_OUTSIDE).strokes, drawing.on(Layer.CUT_INSIDE).strokes
    assert [stroke.closed for stroke in (*outside, *inside)] == [True, True]
    assert area(outside[0]) + area(inside[0]) == pytest.approx(piece.region.area, rel=1e-12)
    marked, opening = (stroke.curves[0] for stroke in drawing.on(Layer.DRILL).strokes)
    assert (*marked.centre, marked.radius) == pytest.approx((200.0, 30.0, 2.5))
    assert (*opening.centre, opening.radius) == pytest.approx((600.0, 70.0, 6.0))
    assert [text.text for text in drawing.on(Layer.ENGRAVE).texts] == ["1a"]
    (blank,) = drawing.on(Layer.BLANK).strokes
    assert blank.curves[0].start == (0.0, 0.0)  # the piece's origin is its blank's corner
    assert area(blank) == pytest.approx(piece.length_mm * WIDTH)
    assert "units mm" in drawing.on(Layer.REFERENCE).texts[0].text


def test_whole_boards_lie_as_they_are_cut():
    layout, plan = plan_by_hand.layout(), plan_by_hand.cut_plan()
    first, second = plan.boards
    offcut = Offcut("W3", (0.0, 2000.0), (30.0, 1990.0), ((1500.0, 1600.0),))
    turned = replace(second.cuts[0], turn=Turn.OVER_ITS_END)
    on_hand = replace(second, stock=replace(second.stock, on_hand=offcut), cuts=(turned,))
    points = (SetPoint("P1", layout.pieces[2].placement.to_plane((200.0, 30.0)), 0.1),)
    drawing = drawing_for_boards(
        layout, replace(plan, boards=(first, on_hand)), Machining(points=points)
    )

    assert len(drawing.on(Layer.CUT_OUTSIDE).strokes) == 3
    assert [text.text for text in drawing.on(Layer.ENGRAVE).texts] == ["1a", "2a", "3a"]
    assert len(drawing.on(Layer.BLANK).strokes) == 3  # a board, the offcut, the stretch to avoid
    lying = drawing.on(Layer.CUT_OUTSIDE).strokes[2]
    assert area(lying) == pytest.approx(layout.pieces[2].region.area)
    # Over its end: the point 200 mm from the piece's start lies 200 mm from the blank's other end.
    (drill,) = drawing.on(Layer.DRILL).strokes
    x, y = drill.curves[0].centre
    low = min(curve.start[1] for curve in drawing.on(Layer.BLANK).strokes[1].curves)
    assert x == pytest.approx(layout.pieces[2].length_mm - 200.0)
    assert y - low == pytest.approx(30.0)


def test_notes_say_units_and_what_the_cut_layers_are():
    piece = plan_by_hand.layout().pieces[1]
    (plain,) = drawing_for_piece(piece, WIDTH, Machining(units="in")).on(Layer.REFERENCE).texts
    led = drawing_for_piece(piece, WIDTH, Machining(Tool(6.0))).on(Layer.REFERENCE)

    assert "units in, cut layers are the finished contour" in plain.text
    assert "middle of a bit 6 mm (0.236 in) wide" in led.texts[0].text
    assert area(led.strokes[0]) == pytest.approx(piece.region.area)


# --- the bit --------------------------------------------------------------------------------------


@given(seed=st.integers(0, 3_000), diameter=st.sampled_from([3.0, 6.0, 12.7, 20.0]))
@settings(max_examples=25)
def test_the_path_is_the_piece_grown_by_the_radius(seed, diameter):
    tool = Tool(diameter)
    for piece in random_floor(seed).pieces[:6]:
        grown = region_polygon(piece.region, tolerance_mm=0.002).buffer(diameter / 2, quad_segs=256)
        path = polygon(tool_path(piece.region, tool))

        off_by = shapely.symmetric_difference(path, grown, grid_size=1e-6)
        assert off_by.area < 2e-5 * grown.area + 0.1
        assert path.hausdorff_distance(grown) < 0.05


def test_an_inside_corner_that_hardly_turns_does_not_take_the_path_away():
    """At 1330 the contour turns inwards by a quarter of a degree: its moved sides overlap there by
    0.03 mm, in a triangle no higher than a ten thousandth."""
    wedge = straight((0, 0), (2000, 0), (2000, 58), (1330, 47.6), (480, 38.2), (0, 0.5))
    path = polygon(tool_path(wedge, Tool(12.0)))
    grown = region_polygon(wedge).buffer(6.0, quad_segs=256)
    assert path.hausdorff_distance(grown) < 0.01


def test_outer_corners_are_rounded_and_inside_corners_stay_sharp():
    step = straight((0, 0), (100, 0), (100, 40), (50, 40), (50, 80), (0, 80))
    (path,) = tool_path(step, Tool(10.0))
    radii = [side.curve.radius for side in path if not isinstance(side.curve, Line)]

    assert radii == pytest.approx([5.0] * 5)
    assert any(math.dist(side.curve.start, (55.0, 45.0)) < 1e-6 for side in path)


def test_relief_touches_the_tip_of_an_inside_corner_and_changes_nothing_else():
    step = straight((0, 0), (100, 0), (100, 40), (50, 40), (50, 80), (0, 80))
    (plain,), (relieved,) = (tool_path(step, Tool(10.0, relieves)) for relieves in (False, True))
    starts = np.array([side.curve.start for side in relieved])
    nearest = np.hypot(*(starts - (50.0, 40.0)).T).min()

    assert nearest == pytest.approx(5.0)
    assert len(relieved) == len(plain) + 2
    assert sum(s.curve.area_term() for s in relieved) == pytest.approx(
        sum(s.curve.area_term() for s in plain)
    )


def test_a_slot_narrower_than_the_bit_is_found_and_its_place_said():
    slotted = straight((0, 0), (100, 0), (100, 60), (53, 60), (53, 20), (47, 20), (47, 60), (0, 60))

    assert narrow_places(slotted, Tool(5.0)) == ()
    ((x, y),) = narrow_places(slotted, Tool(8.0))
    assert 47 <= x <= 53
    assert 20 <= y <= 60


def test_findings_name_the_piece_and_a_kerf_too_narrow_for_the_bit():
    layout, plan = plan_by_hand.layout(), plan_by_hand.cut_plan()
    region = straight(
        (0, 0), (900, 0), (900, 140), (453, 140), (453, 60), (447, 60), (447, 140), (0, 140)
    )
    slotted = replace(layout, pieces=(replace(layout.pieces[0], region=region),))

    assert machining_findings(layout, plan, None) == ()
    assert machining_findings(layout, plan, Tool(3.0)) == ()
    narrow, slot = machining_findings(slotted, plan, Tool(8.0))
    assert "3 mm (0.118 in) apart" in narrow.what
    assert "stock.kerf" in narrow.todo
    assert slot.where == "piece 1a"


def test_an_opening_that_the_bit_does_not_enter_is_found():
    layout, plan = plan_by_hand.layout(), plan_by_hand.cut_plan()
    piece = layout.pieces[0]
    narrow = straight((300, 50), (300, 54), (350, 54), (350, 50)).outer
    holed = replace(layout, pieces=(replace(piece, region=replace(piece.region, holes=(narrow,))),))

    (found,) = machining_findings(holed, replace(plan, kerf_mm=6.0), Tool(6.0))
    assert "does not get in" in found.what
    drilled = replace(piece.region, holes=(round_hole((300.0, 52.0), 2.0),))
    holed = replace(layout, pieces=(replace(piece, region=drilled),))
    assert machining_findings(holed, replace(plan, kerf_mm=6.0), Tool(6.0)) == ()
