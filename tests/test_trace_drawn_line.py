"""Closed lines drawn on paper, traced in scans and in photographs whose geometry is known."""

import numpy as np
import pytest
import shapely

from shapecut.errors import TraceError
from shapecut.findings import Level
from shapecut.shape.outline import Outline
from shapecut.trace.drawn import Drawn, LineSide, ShownAs
from shapecut.trace.trace import trace_template
from tests.line_drawings import line_scan, strokes_along
from tests.scenes import outline_of, rounded

#    ________
#   |        /      lines, a slanted side and a rounded corner
#   (______/
SHAPE = outline_of(rounded([(-80, -50), (60, -50), (85, 55), (-80, 55)], {0: 40.0}))
KINDS = ["Arc", "Line", "Line", "Line", "Line"]
SIZE_MM = (210.0, 160.0)
OUTWARD = {LineSide.CENTRE: 0.0, LineSide.INNER: -0.5, LineSide.OUTER: 0.5}
"""Where the side lies, in widths of the line from its middle."""


def polygon(outline: Outline) -> shapely.Polygon:
    points = [edge.curve.flattened(0.005)[:-1] for edge in outline.outer.edges]
    return shapely.Polygon(np.concatenate(points))


def farthest_mm(found: Outline, drawn: Outline, grown_mm: float = 0.0) -> float:
    """Greatest distance, both ways, from the drawn outline moved outward."""
    moved = polygon(drawn).buffer(grown_mm, join_style="mitre", quad_segs=500)
    a, b = (shapely.segmentize(p.boundary, 1.0) for p in (polygon(found), moved))
    return shapely.hausdorff_distance(a, b)


def kinds(outline: Outline) -> list[str]:
    return sorted(type(edge.curve).__name__ for edge in outline.outer.edges)


def traced_scan(quads, side=LineSide.CENTRE, *, dpi=300.0, **scan):
    photo, survey = line_scan(quads, dpi=dpi, size_mm=SIZE_MM, **scan)
    return trace_template([photo], survey, shown=ShownAs(Drawn.LINE, side))


@pytest.mark.parametrize("width_mm", [0.5, 4.0], ids=["pencil", "marker"])
@pytest.mark.parametrize(
    ("dpi", "side"), [(100.0, "centre"), (300.0, "inner"), (300.0, "outer"), (600.0, "centre")]
)
def test_a_scanned_line_comes_back_to_a_third_of_a_pixel(dpi, width_mm, side):
    """With corners drawn over by 4 mm."""
    quads = strokes_along(SHAPE, width_mm=width_mm, over_mm=4.0)
    found = traced_scan(quads, LineSide(side), dpi=dpi).outline
    assert kinds(found) == KINDS
    assert farthest_mm(found, SHAPE, OUTWARD[LineSide(side)] * width_mm) < 25.4 / dpi / 3


def test_the_uncertainty_of_a_thin_lines_side_covers_what_blur_adds_to_it():
    quads = strokes_along(SHAPE, width_mm=0.2)
    middle, outer = (
        traced_scan(quads, side, dpi=150.0).outline for side in (LineSide.CENTRE, LineSide.OUTER)
    )
    off = farthest_mm(outer, SHAPE, 0.1)
    assert off < 3 * max(edge.u_mm for edge in outer.edges)
    assert min(edge.u_mm for edge in outer.edges) > max(edge.u_mm for edge in middle.edges)


def test_signs_and_lines_inside_do_not_matter_but_a_closed_line_is_a_hole():
    joist = outline_of(rounded([(-20, -49), (-19, -49), (-19, 54), (-20, 54)]))
    post = outline_of(rounded([(15, -20), (45, -20), (45, 15), (15, 15)]))
    letter = outline_of(rounded([(-60, 20), (-52, 20), (-52, 28), (-60, 28)]))
    quads = np.concatenate(
        [strokes_along(outline, width_mm=1.0) for outline in (SHAPE, joist, post, letter)]
    )
    found = traced_scan(quads).outline
    assert kinds(found) == KINDS
    assert farthest_mm(found, SHAPE) < 0.05
    (hole,) = found.holes
    assert sum(edge.curve.length for edge in hole.edges) == pytest.approx(130.0, abs=0.3)


# --- breaks --------------------------------------------------------------------------------------


@pytest.mark.parametrize("width_mm", [0.5, 4.0], ids=["pencil", "marker"])
def test_a_small_break_is_bridged_and_named(width_mm):
    quads = strokes_along(SHAPE, width_mm=width_mm, breaks=[("E3", 0.5, 8.0)])
    found = traced_scan(quads)
    assert kinds(found.outline) == KINDS
    assert farthest_mm(found.outline, SHAPE) < 0.05
    (finding,) = found.findings
    assert finding.level is Level.CHECK
    assert finding.where.startswith("scan.png, near pixel (12")
    assert "a break of about 8 mm" in finding.what


def test_a_wide_break_is_refused_by_its_place_and_width():
    quads = strokes_along(SHAPE, width_mm=1.0, breaks=[("E3", 0.5, 40.0)])
    with pytest.raises(TraceError, match=r"scan\.png, near pixel \(12\d\d, \d+\).* about 40 mm"):
        traced_scan(quads)


def test_a_sheet_without_a_closed_line_is_refused():
    two_sides = strokes_along(SHAPE, width_mm=1.0)[:2]
    with pytest.raises(TraceError, match="No closed line stands out"):
        traced_scan(two_sides)
