"""Outlines at the edge of what is a shape: slivers, needles, touching holes, flat arcs, crowds.

Each is laid with boards, or refused with a sentence.  What is laid keeps the laws: every piece in
its row's strip and in the field, no two upon each other, and together all that the strips hold.
"""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.drawings.outline_import import imported_outline
from shapecut.errors import ShapecutError
from shapecut.layout.layout import Board
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.shape.allowance import with_allowances
from shapecut.shape.bulge import bulged
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.polygons import region_polygon
from shapecut.shape.validity import check_outline, oriented
from tests.strategies import turns

BOARD = Board(140.0, 28.0, 5.0)

REACH = {
    Treatment.WALL: -6.0,
    Treatment.COVERED: 0.0,
    Treatment.EXPOSED: 2.0,
    Treatment.OVERHANG: 25.0,
    Treatment.BUTT: -5.0,
}
SLIVER_MM = 0.01

law = settings(max_examples=60, deadline=None)

lengths = st.floats(math.log(20.0), math.log(30_000.0)).map(math.exp)
"""From 20 mm to 30 m, as many of one size as of another."""

tiny = st.floats(-9.0, 0.0).map(lambda power: 10**power)
"""From 1e-9 to 1, as many of one size as of another."""

treatments = st.sampled_from(list(Treatment))


def ring(points, treatment=Treatment.COVERED, bulges=None, first=1):
    """Edges through points; those with a bulge are arcs."""
    bent = bulges or [0.0] * len(points)
    ends = zip(points, [*points[1:], points[0]], bent, strict=True)
    curves = (bulged(start, end, bulge) for start, end, bulge in ends)
    return Ring(tuple(Edge(f"E{k}", c, None, treatment) for k, c in enumerate(curves, first)))


def box(x0, y0, x1, y1):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]


def laid(outline, turn_rad=0.0):
    """The layout, its laws checked; None where it is refused with a sentence."""
    outline = oriented(outline)
    try:
        check_outline(outline)
        field = with_allowances(outline, REACH)
        layout = lay_rows(field, BOARD, LayoutRules(turn_rad, smallest_rip_mm=40.0))
    except ShapecutError:
        return None
    whole = region_polygon(field.placed(layout.frame.inverse()))
    pieces = [
        region_polygon(piece.region.placed(piece.placement).placed(layout.frame.inverse()))
        for piece in layout.pieces
    ]
    # Flattened arcs and pieces too small to be one leave this much open.
    open_mm2 = 0.02 * whole.length + 1.0
    assert shapely.union_all(pieces).area == pytest.approx(sum(p.area for p in pieces), abs=1.0)
    left, _, right, _ = whole.bounds
    strips = [shapely.box(left, *row.across_mm[:1], right, row.across_mm[1]) for row in layout.rows]
    wanted = sum(whole.intersection(strip).area for strip in strips)
    assert sum(piece.area for piece in pieces) == pytest.approx(wanted, abs=open_mm2)
    return layout


@law
@given(lengths, lengths, turns, treatments)
def test_rectangles_from_20_mm_to_30_m(width, depth, turn, treatment):
    laid(Outline(ring(box(0, 0, width, depth), treatment)), turn)


@law
@given(st.floats(500, 5000), st.floats(300, 3000), tiny, turns, treatments)
def test_near_parallel_edges(width, depth, tilt, turn, treatment):
    """Two edges that go straight on but for a hair, and two that are parallel but for one."""
    points = [(0, 0), (width / 2, -tilt), (width, 0), (width, depth + tilt), (0, depth)]
    laid(Outline(ring(points, treatment)), turn)


@law
@given(st.floats(500, 5000), st.floats(0.001, 1.0), turns, treatments)
def test_slivers(width, thin, turn, treatment):
    """A tongue and a cleft, both 0.001 to 1 mm wide."""
    points = [
        (0, 0), (width, 0), (width, 300), (width + 200, 300), (width + 200, 300 + thin),
        (width, 300 + thin), (width, 600), (width / 2 + thin, 600), (width / 2, 200),
        (width / 2 - thin, 600), (0, 600),
    ]  # fmt: skip
    laid(Outline(ring(points, treatment)), turn)


def test_a_place_of_a_hundredth_of_a_millimetre_is_told_of():
    layout = laid(Outline(ring(box(0, 0, 2000, SLIVER_MM))))
    assert layout is None or layout.findings


@law
@given(st.floats(-1.0, 1.0).map(lambda v: v**5), turns, treatments)
def test_touching_holes(apart, turn, treatment):
    """Two posts side by side that touch, overlap by a hair, or leave a hair between them."""
    posts = box(300, 300, 400, 400), box(400 + apart, 300, 500, 400)
    holes = tuple(ring(post, treatment, first=5 + 4 * k) for k, post in enumerate(posts))
    laid(Outline(ring(box(0, 0, 1500, 900), treatment), holes), turn)


@law
@given(tiny, st.sampled_from([-1, 1]), turns, treatments)
def test_arcs_of_nearly_no_sweep(bend, sign, turn, treatment):
    bulges = [sign * bend * 0.1, 0.0, -sign * bend * 0.1, 0.0]
    laid(Outline(ring(box(0, 0, 2400, 1100), treatment, bulges)), turn)


def teeth(count, side_mm=3000.0, deep_mm=4.0):
    """A list of points: a square with teeth all round."""
    each, rows = count // 4, ["x mm,y mm"]
    for x, y, dx, dy in ((0, 0, 1, 0), (1, 0, 0, 1), (1, 1, -1, 0), (0, 1, 0, -1)):
        for k in range(each):
            along, out = side_mm * k / each, deep_mm * (k % 2)
            rows.append(
                f"{x * side_mm + dx * along + dy * out},{y * side_mm + dy * along - dx * out}"
            )
    return "\n".join(rows).encode()


def test_ten_thousand_corners():
    """How long that takes is in `tests/benchmarks/stages.py`; it once grew with the square."""
    outline = imported_outline(teeth(10_000), "teeth.csv").outline
    assert len(outline.edges) == 10_000
    assert laid(outline) is not None
