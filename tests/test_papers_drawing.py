"""Drawings: what the saw cuts, what the board has already, and labels that stay inside."""

import math
from dataclasses import replace
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shapecut.papers.drawing import Drawing, Layer, Stroke
from shapecut.papers.dxf import drawing_dxf
from shapecut.papers.label_place import Interior, label_rooms, place_label
from shapecut.papers.layout_drawing import drawing_of_board, drawing_of_layout
from shapecut.papers.svg import drawing_svg
from shapecut.shape.curves import Arc, Line
from shapecut.shape.region import Region, Side
from tests import plan_by_hand


def alone(piece) -> Drawing:
    """A piece as the plan draws it, by itself."""
    return drawing_of_layout(replace(plan_by_hand.layout(), pieces=(piece,)), "").on(
        Layer.CONTOUR, Layer.CUT, Layer.BOARD_EDGE, Layer.LABEL
    )


def length_on(drawing: Drawing, layer: Layer) -> float:
    return sum(stroke.length for stroke in drawing.on(layer).strokes)


@pytest.mark.parametrize("piece", plan_by_hand.layout().pieces, ids=lambda piece: piece.label)
def test_cuts_and_board_edges_together_make_up_the_contour(piece):
    drawing = alone(piece)

    parts = length_on(drawing, Layer.CUT) + length_on(drawing, Layer.BOARD_EDGE)

    assert parts == pytest.approx(length_on(drawing, Layer.CONTOUR), rel=1e-12)


def test_ends_bite_and_hole_are_cut_and_long_sides_are_not():
    first, _, third = (alone(piece) for piece in plan_by_hand.layout().pieces)
    slant = math.hypot(200.0, 430.0) * 140.0 / 430.0
    hole = 2 * math.pi * plan_by_hand.HOLE_RADIUS
    bite = math.pi * plan_by_hand.BITE_RADIUS

    assert length_on(first, Layer.CUT) == pytest.approx(140.0 + slant + hole)
    assert length_on(third, Layer.CUT) == pytest.approx(140.0 + slant + bite)
    # The bite parts the upper edge in two; the lower edge is one run.
    assert len(third.on(Layer.BOARD_EDGE).strokes) == 3


def test_a_run_of_cuts_is_not_broken_where_the_loop_begins():
    piece = plan_by_hand.layout().pieces[1]
    runs = alone(piece).on(Layer.CUT).strokes

    assert len(runs) == 2
    assert all(len(run.curves) == 1 and not run.closed for run in runs)


def test_every_piece_is_labelled_once_and_the_label_lies_in_its_piece():
    layout = plan_by_hand.layout()
    texts = drawing_of_layout(layout, "plan").on(Layer.LABEL).texts

    assert [text.text for text in texts] == ["1a", "2a", "3a"]
    for text, piece in zip(texts, layout.pieces, strict=True):
        x, y = piece.placement.to_local(text.at)
        assert 0 < x < piece.length_mm
        assert 0 < y < layout.board.width_mm


def test_a_label_keeps_off_the_hole():
    text = alone(plan_by_hand.layout().pieces[0]).texts[0]

    hole = plan_by_hand.FRAME.to_plane(plan_by_hand.HOLE)
    assert math.dist(text.at, hole) > plan_by_hand.HOLE_RADIUS + text.height_mm


def test_a_board_shows_its_pieces_where_they_are_cut():
    board = plan_by_hand.cut_plan().boards[0]
    drawing = drawing_of_board(board, plan_by_hand.layout())
    starts = [
        min(curve.start[0] for curve in stroke.curves)
        for stroke in drawing.on(Layer.CONTOUR).strokes
        if len(stroke.curves) > 2
    ]

    assert starts == pytest.approx([cut.start_mm for cut in board.cuts])


@given(
    st.lists(st.floats(20.0, 139.0), min_size=2, max_size=8), st.sampled_from(["1a", "12b", "104c"])
)
def test_a_label_never_touches_the_contour(heights, label):
    """Pieces with a jagged upper edge: the text with its clearance stays inside."""
    step = 90.0
    top = [
        point
        for index, height in enumerate(heights)
        for point in ((step * index, height), (step * (index + 1), height))
    ]
    corners = [(0.0, 0.0), (step * len(heights), 0.0), *reversed(top)]
    kept = [
        point
        for point, after in zip(corners, (*corners[1:], corners[0]), strict=True)
        if point != after
    ]
    region = Region(
        tuple(Side(Line(*ends)) for ends in zip(kept, (*kept[1:], kept[0]), strict=True))
    )

    placed = place_label(label_rooms(label, Interior.of(region), 50.0))

    assert placed is not None
    (x, y), size = placed
    half_width, half_height = 0.35 * size * len(label), 0.5 * size
    under = [
        height
        for index, height in enumerate(heights)
        if step * index < x + half_width and x - half_width < step * (index + 1)
    ]
    assert half_height < y < min(under) - half_height


def svg_arc(curve: Arc) -> str:
    stroke = Stroke((curve, Line(curve.end, curve.start)), Layer.CUT, closed=True)
    return drawing_svg(Drawing("arc", (stroke,)))


def test_svg_is_in_true_millimetres_and_keeps_arcs():
    drawing = drawing_of_layout(plan_by_hand.layout(), 'plan <&> "title"')
    root = ElementTree.fromstring(drawing_svg(drawing).encode())
    x0, y0, x1, y1 = drawing.bounds()
    box = [float(value) for value in root.attrib["viewBox"].split()]

    assert root.attrib["width"].endswith("mm")
    assert float(root.attrib["width"][:-2]) == pytest.approx(box[2])
    assert float(root.attrib["height"][:-2]) == pytest.approx(box[3])
    assert box == pytest.approx([x0 - 10, -y1 - 10, x1 - x0 + 20, y1 - y0 + 20], abs=1e-3)
    namespace = "{http://www.w3.org/2000/svg}"
    assert root.find(f"{namespace}title").text == 'plan <&> "title"'
    cuts = root.find(f"{namespace}g[@class='cut']/{namespace}path").attrib["d"]
    assert cuts.count("A") == 6  # two halves of the hole and the bite, each in two parts


@pytest.mark.parametrize(
    ("ccw", "flags"), [(True, "0 0"), (False, "0 1")], ids=["quarter", "three quarters"]
)
def test_svg_arc_flags_follow_the_turned_down_y_axis(ccw, flags):
    """A counter-clockwise arc in a y-up plane has sweep flag 0 in SVG (SVG 1.1, 8.3.8)."""
    arc = Arc((50.0, 0.0), (0.0, 50.0), (0.0, 0.0), ccw)

    assert f"A50 50 0 {flags} 0 -50" in svg_arc(arc)


def test_equal_drawings_give_equal_svg():
    first, second = (
        drawing_svg(drawing_of_layout(plan_by_hand.layout(), "plan")) for _ in range(2)
    )
    assert first == second


def test_control_characters_in_names_reach_no_file():
    layout = plan_by_hand.layout()
    outer = tuple(replace(side, source=f"{side.source}\n\x01") for side in layout.field.outer)
    odd = replace(layout, field=Region(outer, layout.field.holes))

    drawing = drawing_of_layout(odd, "two\nlines\x00")

    assert drawing.title == "two lines "
    assert "E1  " in {text.text for text in drawing.on(Layer.EDGE_NAME).texts}
    ElementTree.fromstring(drawing_svg(drawing).encode())


def test_every_edge_is_named_once_outside_the_field():
    layout = plan_by_hand.layout()
    texts = drawing_of_layout(layout, "plan").on(Layer.EDGE_NAME).texts

    assert sorted(text.text for text in texts) == ["E1", "E2", "E3", "E4", "E5", "E6", "H1", "H2"]
    below = next(text for text in texts if text.text == "E1")
    assert layout.frame.to_local(below.at)[1] < -below.height_mm / 2


def test_every_layer_has_a_look_and_a_colour():
    """What a writer has no look for would silently be missing from its files."""
    stroke = Line((0.0, 0.0), (10.0, 0.0))
    drawing = Drawing("all", tuple(Stroke((stroke,), layer) for layer in Layer))

    assert all(f'class="{layer.value}"' in drawing_svg(drawing) for layer in Layer)
    assert len(drawing_dxf(drawing).decode().split("LWPOLYLINE")) > len(Layer)
