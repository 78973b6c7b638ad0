"""DXF: audited by ezdxf, read independently by GDAL, true in mm and in inches."""

import io
import math
import os
import subprocess
import sys
from collections import defaultdict
from pathlib import Path

import ezdxf
import pyogrio
import pytest
from ezdxf.math import bulge_to_arc

from shapecut.papers.drawing import (
    Drawing,
    Layer,
    Stroke,
    drawing_of_layout,
    drawing_of_piece,
)
from shapecut.papers.dxf import drawing_dxf
from shapecut.shape.curves import Arc, Line
from tests import plan_by_hand

MM_PER_UNIT = {"mm": 1.0, "in": 25.4}


def drawings() -> list[Drawing]:
    layout = plan_by_hand.layout()
    pieces = [drawing_of_piece(piece, layout.board.width_mm) for piece in layout.pieces]
    return [drawing_of_layout(layout, "boards"), *pieces]


def read_back(data: bytes):
    return ezdxf.read(io.StringIO(data.decode("utf-8")))


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("drawing", drawings(), ids=lambda drawing: drawing.title)
def test_audit_finds_nothing_and_units_are_stated(drawing, units):
    document = read_back(drawing_dxf(drawing, units=units))
    audit = document.audit()

    assert audit.errors == []
    assert audit.fixes == []
    assert document.dxfversion == "AC1024"
    assert document.header["$INSUNITS"] == {"in": 1, "mm": 4}[units]
    assert document.header["$MEASUREMENT"] == {"in": 0, "mm": 1}[units]


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("drawing", drawings(), ids=lambda drawing: drawing.title)
def test_gdal_reads_the_same_length_on_every_layer(drawing, units, tmp_path):
    # GDAL flattens bulges; at 0.05 degrees a step its chords are short by less than 1e-7.
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": 0.05})
    path = tmp_path / "drawing.dxf"
    path.write_bytes(drawing_dxf(drawing, units=units))
    read = defaultdict(float)
    meta, _, geometries, fields = pyogrio.raw.read(path, columns=["Layer", "SubClasses"])
    layers = dict(zip(meta["fields"], fields, strict=True))["Layer"]
    import shapely

    for layer, shape in zip(layers, shapely.from_wkb(geometries), strict=True):
        read[layer] += shape.length * MM_PER_UNIT[units]

    for layer in {stroke.layer for stroke in drawing.strokes}:
        drawn = sum(stroke.length for stroke in drawing.on(layer).strokes)
        assert read[layer.value] == pytest.approx(drawn, abs=0.01)
    labels = {text.text for text in drawing.texts}
    assert len(labels) > 0


def test_arcs_come_back_as_arcs_with_centre_and_radius():
    piece = plan_by_hand.layout().pieces[2]
    document = read_back(drawing_dxf(drawing_of_piece(piece, 140.0)))
    contour = document.modelspace().query('LWPOLYLINE[layer=="contour"]').first

    assert contour.closed
    points = contour.get_points("xyb")
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
        "from shapecut.papers.drawing import drawing_of_layout;"
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
