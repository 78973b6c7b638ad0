"""DXF: audited by ezdxf, read independently by GDAL, true in mm and in inches."""

import io
import math
import os
import subprocess
import sys
from collections import defaultdict
from dataclasses import replace
from pathlib import Path

import ezdxf
import pyogrio
import pytest
import shapely
from ezdxf.math import bulge_to_arc

from shapecut.papers.drawing import Drawing, Layer, Stroke
from shapecut.papers.dxf import drawing_dxf
from shapecut.papers.layout_drawing import drawing_of_layout
from shapecut.papers.machining import Machining, drawing_for_boards, drawing_for_piece
from shapecut.shape.curves import Arc, Line
from shapecut.stock.turns import Turn
from tests import plan_by_hand
from tests.dxf_polylines import entity_closed, vertices_of
from tests.random_floors import round_hole

MM_PER_UNIT = {"mm": 1.0, "in": 25.4}
RELEASES = {"R2010": "AC1024", "R12": "AC1009"}


def floor():
    """The plan with a second, small opening that a drill makes."""
    layout = plan_by_hand.layout()
    first, *others = layout.pieces
    drilled = replace(first.region, holes=(*first.region.holes, round_hole((600.0, 70.0), 6.0)))
    return replace(layout, pieces=(replace(first, region=drilled), *others))


def turned_plan():
    """The plan by hand with two pieces turned on their boards."""
    plan = plan_by_hand.cut_plan()
    first, second = plan.boards
    one, two = first.cuts
    over = replace(two, turn=Turn.OVER_ITS_END)
    around = replace(second.cuts[0], turn=Turn.END_FOR_END)
    return replace(plan, boards=(replace(first, cuts=(one, over)), replace(second, cuts=(around,))))


def drawings(machining: Machining | None = None) -> list[Drawing]:
    layout, machining = floor(), machining or Machining()
    pieces = [drawing_for_piece(p, layout.board.width_mm, machining) for p in layout.pieces]
    boards = drawing_for_boards(layout, turned_plan(), machining)
    return [drawing_of_layout(layout, "boards"), boards, *pieces]


def read_back(data: bytes):
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


every_file = pytest.mark.parametrize(
    ("drawing", "units", "release"),
    [(d, u, r) for d in drawings() for u in MM_PER_UNIT for r in RELEASES],
    ids=lambda value: getattr(value, "title", value),
)


@every_file
def test_audit_finds_nothing_and_units_are_stated(drawing, units, release):
    document = read_back(drawing_dxf(drawing, units=units, release=release))
    audit = document.audit()

    assert audit.errors == []
    assert audit.fixes == []
    assert document.dxfversion == RELEASES[release]
    if release == "R2010":
        assert document.header["$INSUNITS"] == {"in": 1, "mm": 4}[units]
        assert document.header["$MEASUREMENT"] == {"in": 0, "mm": 1}[units]


@every_file
def test_gdal_reads_the_same_length_on_every_layer(drawing, units, release, tmp_path):
    # GDAL flattens bulges; at 0.05 degrees a step its chords are short by less than 1e-7.
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": 0.05})
    path = tmp_path / "drawing.dxf"
    path.write_bytes(drawing_dxf(drawing, units=units, release=release))
    read = defaultdict(float)
    meta, _, geometries, fields = pyogrio.raw.read(path, columns=["Layer", "SubClasses"])
    layers = dict(zip(meta["fields"], fields, strict=True))["Layer"]
    for layer, shape in zip(layers, shapely.from_wkb(geometries), strict=True):
        read[layer] += shape.length * MM_PER_UNIT[units]

    for layer in {stroke.layer for stroke in drawing.strokes}:
        drawn = sum(stroke.length for stroke in drawing.on(layer).strokes)
        assert read[layer.value] == pytest.approx(drawn, rel=1e-6)
    assert len(geometries) == len(drawing.items)


@every_file
def test_ezdxf_reads_the_same_length_of_every_entity_and_arcs_as_arcs(drawing, units, release):
    mm = MM_PER_UNIT[units]
    document = read_back(drawing_dxf(drawing, units=units, release=release))
    entities = [e for e in document.modelspace() if e.dxftype() != "TEXT"]

    assert len(entities) == len(drawing.strokes)
    for entity, stroke in zip(entities, drawing.strokes, strict=True):
        assert entity.dxf.layer == stroke.layer.value
        if entity.dxftype() == "CIRCLE":
            assert math.tau * entity.dxf.radius * mm == pytest.approx(stroke.length, rel=1e-9)
            continue
        kind = "LWPOLYLINE" if release == "R2010" else "POLYLINE"
        assert entity.dxftype() == kind
        length, arcs = bulged_length(vertices_of(entity), closed=entity_closed(entity))
        assert length * mm == pytest.approx(stroke.length, rel=1e-9)
        assert arcs >= sum(isinstance(curve, Arc) for curve in stroke.curves)


def bulged_length(vertices, *, closed: bool) -> tuple[float, int]:
    """Length along a polyline with bulges, and how many of its parts are arcs."""
    ends = vertices[1:] + vertices[:1] if closed else vertices[1:]
    length, arcs = 0.0, 0
    for (x0, y0, bulge), (x1, y1, _) in zip(vertices, ends):  # noqa: B905 - open ones are shorter
        chord, sweep = math.dist((x0, y0), (x1, y1)), 4 * math.atan(abs(bulge))
        arcs += bulge != 0.0
        length += chord * sweep / 2 / math.sin(sweep / 2) if bulge else chord
    return length, arcs


@pytest.mark.parametrize("release", RELEASES)
def test_arcs_come_back_as_arcs_with_centre_and_radius(release):
    drawing = drawings()[4]  # the piece with the bite
    document = read_back(drawing_dxf(drawing, release=release))
    contour = next(e for e in document.modelspace() if e.dxf.layer == "cut-outside")
    points = vertices_of(contour)

    assert entity_closed(contour)
    found = [
        bulge_to_arc(start[:2], end[:2], start[2])
        for start, end in zip(points, points[1:] + points[:1], strict=True)
        if start[2] != 0.0
    ]
    assert len(found) == 1
    centre, _, _, radius = found[0]
    assert tuple(centre) == pytest.approx((420.0, 140.0), abs=1e-9)
    assert radius == pytest.approx(80.0)


def test_an_arc_of_almost_a_full_turn_keeps_its_length():
    nearly = Arc((50.0, 0.0), (50 * math.cos(-0.01), 50 * math.sin(-0.01)), (0.0, 0.0), ccw=True)
    stroke = Stroke((nearly, Line(nearly.end, nearly.start)), Layer.CUT, closed=True)
    document = read_back(drawing_dxf(Drawing("ring", (stroke,))))
    bulges = [point[2] for point in document.modelspace()[0].get_points("xyb")]
    sweeps = [4 * math.atan(bulge) for bulge in bulges]

    assert sum(sweeps) == pytest.approx(nearly.sweep_rad)
    assert max(bulges) < 1.01


@pytest.mark.parametrize(("units", "mm"), MM_PER_UNIT.items())
def test_labels_are_texts_of_their_height_in_the_files_units(units, mm):
    drawing = drawings()[0]
    document = read_back(drawing_dxf(drawing, units=units))
    found = {
        entity.dxf.text: (
            entity.dxf.height * mm,
            entity.get_placement()[1].x * mm,
            entity.get_placement()[1].y * mm,
        )
        for entity in document.modelspace().query('TEXT[layer=="label"]')
    }

    expected = {
        text.text: pytest.approx((text.height_mm, *text.at))
        for text in drawing.on(Layer.LABEL).texts
    }
    assert found == expected


def test_header_extents_are_those_of_the_strokes():
    drawing = drawings()[1]
    header = read_back(drawing_dxf(drawing)).header

    low_high = (*header["$EXTMIN"][:2], *header["$EXTMAX"][:2])
    assert low_high == pytest.approx(drawing.bounds(), abs=1e-6)


def test_equal_drawings_give_equal_bytes():
    assert drawing_dxf(drawings()[0]) == drawing_dxf(drawings()[0])


def test_equal_drawings_give_equal_bytes_in_every_process():
    """Sets of texts are ordered by a seed that differs from process to process."""
    call = (
        "import sys; from tests import plan_by_hand;"
        "from shapecut.papers.layout_drawing import drawing_of_layout;"
        "from shapecut.papers.dxf import drawing_dxf;"
        "sys.stdout.buffer.write(drawing_dxf(drawing_of_layout(plan_by_hand.layout(), 'plan')))"
    )
    root = Path(__file__).parent.parent
    files = {
        subprocess.run(
            [sys.executable, "-c", call],
            cwd=root,
            env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONPATH": str(root)},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3", "4")
    }
    assert len(files) == 1


def test_writing_says_nothing_to_the_user(caplog):
    """A library's warning would end up between the lines of the command."""
    for release in RELEASES:
        drawing_dxf(drawings()[0], release=release)

    assert caplog.records == []
