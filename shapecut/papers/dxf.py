"""Write a drawing as DXF, the drawing interchange format, releases R2010 (AC1024) and R12 (AC1009).

Every layer keeps its name from `drawing.Layer`.  Chains become LWPOLYLINEs, in R12 POLYLINEs, with
arcs as bulges; holes to drill become CIRCLEs, texts become TEXT.  Lengths are in the units that the
header states ($INSUNITS, $MEASUREMENT); R12 has no variables for them.  Group codes and header
variables follow the DXF reference for release 2010.
"""

import logging
import math
from collections.abc import Iterator
from contextlib import contextmanager
from io import StringIO
from typing import Literal

from ezdxf import options  # type: ignore[attr-defined]  # public, not listed by the package
from ezdxf.document import Drawing as Document
from ezdxf.enums import TextEntityAlignment
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace
from ezdxf.lldxf.const import DXF12

from shapecut.papers.drawing import Drawing, Layer, Stroke, Text
from shapecut.shape.curves import Arc, Curve
from shapecut.shape.placement import Point
from shapecut.units import MM_PER_INCH

__all__ = ["drawing_dxf"]

_INSUNITS = {"in": 1, "mm": 4}
_MEASUREMENT = {"in": 0, "mm": 1}
_MM_PER_UNIT = {"in": MM_PER_INCH, "mm": 1.0}

_COLOURS = {
    Layer.CONTOUR: 7,
    Layer.WASTE: 9,
    Layer.CUT: 1,
    Layer.CUT_OUTSIDE: 7,
    Layer.CUT_INSIDE: 5,
    Layer.DRILL: 1,
    Layer.ENGRAVE: 140,
    Layer.BLANK: 9,
    Layer.REFERENCE: 8,
    Layer.BOARD_EDGE: 8,
    Layer.LABEL: 140,
    Layer.EDGE_NAME: 132,
    Layer.FIELD: 3,
    Layer.ROW: 9,
    Layer.JOIST: 5,
    Layer.BLOCKING: 30,
    Layer.FASTENER: 32,
    Layer.POINT: 200,
    Layer.SETTING_OUT: 6,
}
"""Colour numbers of the layers (group 62 of the DXF reference), seen on dark and light grounds;
7 is black or white by background."""


def drawing_dxf(
    drawing: Drawing,
    *,
    units: Literal["mm", "in"] = "mm",
    release: Literal["R2010", "R12"] = "R2010",
) -> bytes:
    """Write a drawing as a DXF file.

    Args:
        drawing: What to write.
        units: Units of the file's lengths, stated in its header.
        release: Of the format.

    Returns:
        The file; the same drawing always gives the same bytes.
    """
    with _fixed_metadata():
        with _quiet():
            document = new(release, units=_INSUNITS[units])
        document.header["$MEASUREMENT"] = _MEASUREMENT[units]
        _fill(document, drawing, 1.0 / _MM_PER_UNIT[units])
        # ezdxf registers the classes in use in the order of a set, which varies from run to run.
        for kind in sorted(document.entitydb.dxf_types_in_use()):
            document.classes.add_class(kind)
        stream = StringIO()
        document.write(stream)
    return stream.getvalue().encode(document.output_encoding, "dxfreplace")


def _fill(document: Document, drawing: Drawing, scale: float) -> None:
    for layer in Layer:
        if any(item.layer is layer for item in drawing.items):
            document.layers.add(layer.value, color=_COLOURS[layer])
    space = document.modelspace()
    for item in drawing.items:
        if isinstance(item, Stroke):
            _add_stroke(space, item, scale)
        else:
            _add_text(space, item, scale)
    x0, y0, x1, y1 = (scale * side for side in drawing.bounds())
    low, high = (x0, y0, 0.0), (x1, y1, 0.0)
    space.reset_extents(low, high)
    # The library copies these from the model space, but not where one of them is the origin.
    document.header["$EXTMIN"], document.header["$EXTMAX"] = low, high


def _add_stroke(space: Modelspace, stroke: Stroke, scale: float) -> None:
    layer = {"layer": stroke.layer.value}
    if stroke.layer is Layer.DRILL and isinstance(rim := stroke.curves[0], Arc) and stroke.closed:
        x, y = rim.centre
        space.add_circle((x * scale, y * scale), rim.radius * scale, dxfattribs=layer)
        return
    vertices = [
        (start[0] * scale, start[1] * scale, bulge)
        for curve in stroke.curves
        for start, bulge in _bulged(curve)
    ]
    if not stroke.closed:
        x, y = stroke.curves[-1].end
        vertices.append((x * scale, y * scale, 0.0))
    if space.dxfversion <= DXF12:
        space.add_polyline2d(vertices, format="xyb", close=stroke.closed, dxfattribs=layer)
    else:
        space.add_lwpolyline(vertices, format="xyb", close=stroke.closed, dxfattribs=layer)


def _bulged(curve: Curve) -> Iterator[tuple[Point, float]]:
    """Yield start and bulge of a curve, or of both its halves where an arc passes a half turn.

    Bulge is tan(sweep / 4), positive counter-clockwise (DXF reference, LWPOLYLINE, group 42); it
    grows without limit towards a full turn, hence the halves.
    """
    if not isinstance(curve, Arc):
        yield curve.start, 0.0
        return
    bulge_parts = 2 if abs(curve.sweep_rad) > math.pi + 1e-9 else 1
    for part in range(bulge_parts):
        yield curve.at(part / bulge_parts), math.tan(curve.sweep_rad / bulge_parts / 4)


def _add_text(space: Modelspace, text: Text, scale: float) -> None:
    entity = space.add_text(
        text.text,
        height=text.height_mm * scale,
        rotation=math.degrees(text.turn_rad),
        dxfattribs={"layer": text.layer.value},
    )
    x, y = text.at
    entity.set_placement((x * scale, y * scale), align=TextEntityAlignment.MIDDLE_CENTER)


@contextmanager
def _quiet() -> Iterator[None]:
    """Keep from the user's screen that R12 cannot state its units: a note in the file does."""
    logger = logging.getLogger("ezdxf")
    logger.addFilter(_refuse)
    try:
        yield
    finally:
        logger.removeFilter(_refuse)


def _refuse(record: logging.LogRecord) -> bool:
    return False


@contextmanager
def _fixed_metadata() -> Iterator[None]:
    """Keep the clock and random identifiers out of the file, so that equal input, equal bytes."""
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
