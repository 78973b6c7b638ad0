"""Crosses, lines and arrows drawn on a template, from the photograph to the drawing."""

import json
import math
from io import StringIO

import cv2
import ezdxf
import numpy as np
import pytest

from shapecut.capture.cards import our_cards
from shapecut.findings import Level
from shapecut.papers.drawing import Drawing, Layer
from shapecut.papers.dxf import drawing_dxf
from shapecut.papers.markup import Lengths
from shapecut.papers.setting_out import setting_out_section, with_setting_out
from shapecut.shape.outline_file import OutlineFile, outline_record, setting_out_record
from shapecut.shape.placement import Placement
from shapecut.shape.setting_out import SetArrow, SetLine, SetPoint, setting_out
from shapecut.stages.measuring import measure
from shapecut.trace.drawn import ShownAs
from shapecut.trace.stroke_figures import Kind, figure_of
from tests.marker_drawings import arrow, cross, letters, line, paints_of
from tests.outline_deviation import rough_placement
from tests.renderer import Paint, Scene, Shot, photographed
from tests.scenes import FLOORS, OUTLINES, laid_round, looks_round, phone_camera

BOARD = OUTLINES["notched step"]
SCREW, LIGHT = (-300.0, -100.0), (250.0, 150.0)
JOIST = ((-420.0, -200.0), (-150.0, -240.0))
BOARDS_RUN = ((0.0, -150.0), (300.0, -170.0))
LOGO = Paint(((20.0, -60.0), (120.0, -60.0), (120.0, 20.0), (20.0, 20.0)), (0.10, 0.06, 0.05))


def measured(*drawn, print_too=(), count=2, look=True):
    scene = Scene(
        BOARD,
        3.0,
        cards=laid_round(BOARD),
        paints=(*paints_of(*drawn), *print_too),
        floor=FLOORS["concrete"],
    )
    views = looks_round(phone_camera(2400, 1800), count=count, distance_mm=1450.0, tilt_deg=15.0)
    photos = [
        photographed(scene, Shot(view, oversampling=1), f"hall_{k + 1}.jpg")
        for k, view in enumerate(views)
    ]
    return measure(photos, our_cards(), thickness_mm=3.0, shown=ShownAs(setting_out=look))


def off_mm(found, measured_outline, place):
    """How far a found place is from where it was drawn."""
    drawn = rough_placement(measured_outline, BOARD).inverse().to_plane(place)
    return math.dist(found, drawn)


@pytest.fixture(scope="module")
def marked():
    drawn = (cross(SCREW), cross(LIGHT, turn_rad=0.6), line(*JOIST), arrow(*BOARDS_RUN))
    return measured(*drawn, letters("HTXELI", (-380.0, -20.0)), print_too=(LOGO,))


def test_crosses_lines_and_arrows_come_back_in_millimetres(marked):
    found, outline = marked.traced.setting_out, marked.outline
    assert [point.name for point in found.points] == ["P1", "P2"]
    for point, drawn in zip(found.points, (SCREW, LIGHT), strict=True):
        assert off_mm(point.at, outline, drawn) < max(0.15, 3 * point.u_mm)
        assert 0.01 < point.u_mm < 0.3
    (joist,), (run,) = found.lines, found.arrows
    # Ends are as blunt as the pen.
    for place, drawn in zip((joist.start, joist.end), JOIST, strict=True):
        assert off_mm(place, outline, drawn) < 2.0
    for place, drawn in zip((run.start, run.tip), BOARDS_RUN, strict=True):
        assert off_mm(place, outline, drawn) < 3.0


def test_print_and_letters_are_counted_and_left_out(marked):
    (finding,) = (f for f in marked.findings if f.where == "marks on the template")
    assert finding.level is Level.NOTE
    assert finding.what.startswith("6 dark patches") or finding.what.startswith("7 dark patches")


def test_nothing_is_looked_for_unless_asked():
    found = measured(cross(SCREW), count=1, look=False)
    assert found.traced.setting_out.points == ()


# --- figures -------------------------------------------------------------------------------------


def drawn_patch(*polylines, width=9):
    """Strokes on a grid of half millimetres."""
    grid = np.zeros((400, 400), np.uint8)
    for way in polylines:
        cv2.polylines(grid, [np.array(way, np.int32)], False, 1, width)
    return grid.astype(bool)


@pytest.mark.parametrize(
    ("ways", "kind"),
    [
        ([[(20, 30), (350, 200)]], Kind.LINE),
        ([[(100, 100), (200, 210)], [(105, 205), (210, 105)]], Kind.CROSS),
        ([[(30, 200), (330, 220)], [(280, 190), (330, 220), (275, 245)]], Kind.ARROW),
    ],
)
def test_a_patch_is_the_figure_it_draws(ways, kind):
    figure = figure_of(drawn_patch(*ways), 0.5)
    assert figure is not None
    assert figure.kind is kind


@pytest.mark.parametrize(
    "ways",
    [
        [[(20, 30), (80, 60)]],  # too short
        [[(50, 50), (300, 60), (300, 200)]],  # a corner
        [[(50, 50), (300, 60)], [(170, 55), (175, 250)]],  # a T
        [[(40, 40), (40, 300), (300, 300), (300, 40), (40, 40)]],  # a box
        [[(50 + 3 * k, int(200 + 80 * math.sin(k / 12))) for k in range(100)]],  # a wave
        [[(100, 100), (300, 100)], [(100, 160), (300, 160)], [(200, 60), (200, 260)]],
    ],
    ids=["short", "corner", "tee", "box", "wave", "double cross"],
)
def test_other_strokes_are_no_figure(ways):
    assert figure_of(drawn_patch(*ways), 0.5) is None


# --- papers --------------------------------------------------------------------------------------

MARKS = setting_out(
    [SetPoint("", (300.0, 40.0), 0.1), SetPoint("", (20.0, 60.0), 0.2)],
    [SetLine("", (500.0, 10.0), (100.0, 20.0), 0.1)],
    [SetArrow("", (50.0, 50.0), (250.0, 50.0), 0.1)],
)


def test_marks_are_numbered_from_left_to_right_and_again_when_turned():
    assert [point.at for point in MARKS.points] == [(20.0, 60.0), (300.0, 40.0)]
    assert MARKS.lines[0].start == (100.0, 20.0)
    turned = MARKS.placed(Placement(turn_rad=math.pi))
    assert [point.name for point in turned.points] == ["P1", "P2"]
    assert turned.points[0].at == pytest.approx((-300.0, -40.0))


def test_marks_stand_on_a_layer_of_their_own():
    drawing = with_setting_out(Drawing("hall", ()), MARKS, name_mm=12.0)
    document = ezdxf.read(StringIO(drawing_dxf(drawing).decode()))
    space = document.modelspace()
    assert {entity.dxf.layer for entity in space} == {Layer.SETTING_OUT.value}
    names = {entity.dxf.text for entity in space.query("TEXT")}
    assert names == {"P1", "P2", "L1", "A1"}
    assert len(space.query("LWPOLYLINE")) == 2 * 2 + 1 + 3


def test_the_outline_file_carries_them():
    record = outline_record(BOARD) | {"setting_out": setting_out_record(MARKS)}
    read = OutlineFile.model_validate(json.loads(json.dumps(record)))
    assert [mark.name for mark in read.setting_out] == ["P1", "P2", "L1", "A1"]


def test_the_report_lists_them():
    html = setting_out_section(MARKS, (-100.0, 10.0), Lengths("mm"))
    for words in ("P2", "400.0\xa0mm", "30.0\xa0mm", "arrow", "±0.40\N{NO-BREAK SPACE}mm"):
        assert words in html
    assert setting_out_section(setting_out([], [], []), (0.0, 0.0), Lengths("mm")) == ""
