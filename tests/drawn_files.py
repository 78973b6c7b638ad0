"""Outlines written as other programs would write them, and compared."""

import io
import math

import ezdxf
import pytest

from shapecut.papers.drawing import Drawing, Layer, Stroke
from shapecut.shape.outline import Outline

__all__ = ["as_drawing", "assert_same_shape", "dxf_bytes", "new_dxf", "svg_page"]


def as_drawing(outline: Outline) -> Drawing:
    """An outline as one of our own drawings."""
    strokes = [
        Stroke(tuple(edge.curve for edge in ring.edges), Layer.FIELD, closed=True)
        for ring in outline.rings
    ]
    return Drawing("outline", tuple(strokes))


def new_dxf(units: int = 4, release: str = "R2010"):
    """An empty DXF document in millimetres, and its model space."""
    document = ezdxf.new(release, units=units)
    return document, document.modelspace()


def dxf_bytes(document) -> bytes:
    """A document as its file."""
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode(document.output_encoding)


def svg_page(content: str, *, size_mm=(600, 400)) -> bytes:
    """An SVG file of a true size, one user unit a mm, y down."""
    width, height = size_mm
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}">{content}</svg>'
    ).encode()


def assert_same_shape(found: Outline, expected: Outline, *, relative: float) -> None:
    """Assert that two outlines have the same edges, whatever their names and order."""
    assert len(found.holes) == len(expected.holes)
    assert found.area == pytest.approx(expected.area, rel=relative)
    assert _measures(found) == [
        (kind, pytest.approx(length, rel=relative), pytest.approx(bend, rel=relative, abs=1e-9))
        for kind, length, bend in _measures(expected)
    ]


def _measures(outline: Outline) -> list[tuple[str, float, float]]:
    """Kind, length and radius of every edge, sorted by length."""
    return sorted(
        (
            (type(edge.curve).__name__, edge.curve.length, getattr(edge.curve, "radius", math.inf))
            for edge in outline.edges
        ),
        key=lambda measure: (measure[0], round(measure[1], 3), measure[2]),
    )
