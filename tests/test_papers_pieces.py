"""Every piece of plans over random shapes: what is written is the piece, arcs and all."""

import io
import math

import ezdxf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.layout.layout import Board
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.papers.drawing import Layer
from shapecut.papers.dxf import drawing_dxf
from shapecut.papers.layout_drawing import drawing_of_layout
from shapecut.papers.machining import Machining, drawing_for_piece
from shapecut.shape.curves import Arc, Line
from shapecut.shape.region import Loop, Region, Side
from tests.dxf_polylines import entity_closed, vertices_of


@st.composite
def fields(draw) -> Region:
    """A slanted field with a round bite in its upper edge and a round hole.

    +----.    .----+
    |     `--'    /
    |  ( )       /
    +-----------+
    """
    width = draw(st.floats(500.0, 1500.0))
    height = draw(st.floats(300.0, 700.0))
    lean = draw(st.floats(-150.0, 150.0))
    bite = draw(st.floats(20.0, 90.0))
    hole = draw(st.floats(15.0, 60.0))
    middle, x, y = 0.45 * width, 0.2 * width, 0.35 * height
    outer: Loop = (
        Side(Line((0.0, 0.0), (width, 0.0)), "E1"),
        Side(Line((width, 0.0), (width + lean, height)), "E2"),
        Side(Line((width + lean, height), (middle + bite, height)), "E3"),
        Side(
            Arc((middle + bite, height), (middle - bite, height), (middle, height), ccw=False),
            "E4",
        ),
        Side(Line((middle - bite, height), (0.0, height)), "E5"),
        Side(Line((0.0, height), (0.0, 0.0)), "E6"),
    )
    left, right = (x - hole, y), (x + hole, y)
    ring: Loop = (
        Side(Arc(left, right, (x, y), ccw=False), "H1"),
        Side(Arc(right, left, (x, y), ccw=False), "H2"),
    )
    return Region(outer, (ring,))


def bulged_area(points: list[tuple[float, float, float]]) -> float:
    """Signed area of a closed polyline with bulges: chords, plus a segment for each bulge."""
    area = 0.0
    for (x0, y0, bulge), (x1, y1, _) in zip(points, (*points[1:], points[0]), strict=True):
        area += (x0 * y1 - x1 * y0) / 2
        sweep = 4 * math.atan(bulge)
        if bulge:
            radius = math.dist((x0, y0), (x1, y1)) / 2 / math.sin(abs(sweep) / 2)
            area += radius**2 / 2 * (sweep - math.sin(sweep))
    return area


@settings(max_examples=15, deadline=None)
@given(fields(), st.floats(0.0, math.pi), st.floats(60.0, 200.0), st.sampled_from(["R2010", "R12"]))
def test_closed_contours_in_the_dxf_have_the_area_of_their_piece(field, direction, width, release):
    layout = lay_rows(field, Board(width, 25.0, 4.0), LayoutRules(direction_rad=direction))

    for piece in layout.pieces:
        drawing = drawing_for_piece(piece, width, Machining())
        data = drawing_dxf(drawing, release=release)
        document = ezdxf.read(io.StringIO(data.decode()))
        contours = document.modelspace().query('LWPOLYLINE POLYLINE[layer? "cut-.*"]')
        area = sum(bulged_area(vertices_of(contour)) for contour in contours)
        drilled = document.modelspace().query('CIRCLE[layer=="drill"]')
        area -= sum(math.pi * circle.dxf.radius**2 for circle in drilled)

        assert all(map(entity_closed, contours))
        assert area == pytest.approx(piece.region.area, rel=1e-9)


@settings(max_examples=40, deadline=None)
@given(fields(), st.floats(0.0, math.pi), st.floats(60.0, 200.0))
def test_saw_cuts_of_all_pieces_are_the_outline_the_boards_do_not_bridge(field, direction, width):
    layout = lay_rows(field, Board(width, 25.0, 4.0), LayoutRules(direction_rad=direction))
    drawing = drawing_of_layout(layout, "plan")
    on = {
        layer: sum(stroke.length for stroke in drawing.on(layer).strokes)
        for layer in (Layer.CONTOUR, Layer.CUT, Layer.BOARD_EDGE, Layer.FIELD)
    }

    assert on[Layer.CUT] + on[Layer.BOARD_EDGE] == pytest.approx(on[Layer.CONTOUR])
    # Gaps swallow a little of the outline; nothing but the outline is ever cut.
    assert on[Layer.CUT] <= on[Layer.FIELD] + 1e-6


@settings(max_examples=40, deadline=None)
@given(fields(), st.floats(0.0, math.pi), st.floats(60.0, 200.0))
def test_every_label_is_there_once(field, direction, width):
    layout = lay_rows(field, Board(width, 25.0, 4.0), LayoutRules(direction_rad=direction))
    texts = drawing_of_layout(layout, "plan").on(Layer.LABEL).texts

    assert [text.text for text in texts] == [piece.label for piece in layout.pieces]
    assert all(text.height_mm > 0 for text in texts)
