"""Shapes with known answers: closed formulas, a drawn scan, and a silhouette of scikit-image's."""

import math

import numpy as np
import pytest
from skimage import data, filters, measure, transform

from shapecut.capture.cards import our_cards
from shapecut.shape.curves import Arc, Line
from shapecut.shape.naming import named_outline
from shapecut.shape.placement import Placement
from shapecut.shape.validity import check_outline
from shapecut.stages.measuring import measure_scans
from shapecut.survey.view import ScanView
from shapecut.trace.fit import fit_ring
from shapecut.trace.partition import Prices
from tests.drawn_scans import Scan, drawn_scan
from tests.outline_deviation import deviations_mm, rough_placement
from tests.scenes import outline_of, round_hole, rounded

OFF_MM = 0.03
"""How far a whole boundary may be off outward or inward: a third of a pixel at 300 dpi, of which
the drawing, which fills its own boundary pixels, takes an eighth."""


def scanned(outline, dpi=300.0):
    """The outline as measured from a scan of it at a known resolution, no card on the glass."""
    points = np.concatenate([edge.curve.flattened(1.0) for edge in outline.outer.edges])
    size_mm = points.max(axis=0) - points.min(axis=0) + 30.0
    mm_per_px = 25.4 / dpi
    size = tuple(round(side / mm_per_px) for side in size_mm)
    middle = (points.max(axis=0) + points.min(axis=0)) / 2
    view = ScanView(0, (mm_per_px, mm_per_px), tuple((np.array(size) - 1) / 2))
    scan = Scan(
        view.placed(Placement((float(middle[0]), float(middle[1])), 0.03)),
        size,
        stated_dpi=(dpi, dpi),
    )
    return measure_scans([drawn_scan(scan, "drawn.png", outline)], our_cards())


def perimeter(outline):
    return sum(edge.curve.length for edge in outline.edges)


def farthest_mm(found, outline):
    off = deviations_mm(found.outline, outline, rough_placement(found.outline, outline))
    return float(np.abs(off).max())


@pytest.mark.parametrize("radius", [20.0, 60.0, 100.0])
def test_a_circle_has_its_area_and_perimeter(radius):
    disc = [curve.reversed() for curve in round_hole((0.0, 0.0), radius)[::-1]]
    found = scanned(outline_of(disc)).outline
    assert [type(edge.curve) for edge in found.edges] == [Arc, Arc]
    assert found.area == pytest.approx(math.pi * radius**2, abs=2 * math.pi * radius * OFF_MM)
    assert perimeter(found) == pytest.approx(2 * math.pi * radius, abs=2 * math.pi * OFF_MM)


@pytest.mark.parametrize("side", [25.0, 60.0, 100.0])
def test_a_regular_hexagon_has_its_area_and_angles(side):
    corners = [
        (side * math.cos(k * math.pi / 3), side * math.sin(k * math.pi / 3)) for k in range(6)
    ]
    found = scanned(outline_of(rounded(corners))).outline
    assert [type(edge.curve) for edge in found.edges] == [Line] * 6
    assert found.area == pytest.approx(1.5 * math.sqrt(3) * side**2, abs=6 * side * OFF_MM)
    assert [edge.curve.length for edge in found.edges] == pytest.approx([side] * 6, abs=0.1)


@pytest.mark.parametrize(
    ("width", "height", "radius"), [(60, 40, 8), (150, 100, 25), (240, 160, 15)]
)
def test_a_rounded_rectangle_has_its_area_and_perimeter(width, height, radius):
    corners = [(0, 0), (width, 0), (width, height), (0, height)]
    true = outline_of(rounded(corners, dict.fromkeys(range(4), float(radius))))
    found = scanned(true).outline
    kinds = sorted(type(edge.curve).__name__ for edge in found.edges)
    assert kinds == ["Arc"] * 4 + ["Line"] * 4
    around = 2 * (width + height) - (8 - 2 * math.pi) * radius
    assert found.area == pytest.approx(
        width * height - (4 - math.pi) * radius**2, abs=around * OFF_MM
    )
    assert perimeter(found) == pytest.approx(around, abs=0.3)


def test_a_drawn_shape_scanned_at_300_dpi_is_within_a_tenth_of_a_millimetre():
    true = outline_of(
        rounded([(-120, -80), (110, -80), (130, 70), (20, 66), (18, 20), (-120, 24)], {0: 30.0}),
        round_hole((-60.0, -25.0), 22.0),
    )
    found = scanned(true)
    assert len(found.outline.edges) == len(true.edges)
    assert farthest_mm(found, true) < 0.1


def horse(length_mm, px_mm):
    """The silhouette at a size, softened as print is: a picture, 1 inside, 0 outside."""
    shape = np.pad(~data.horse().astype(bool), 10).astype(float)
    scale = length_mm / px_mm / data.horse().shape[1]
    size = tuple(round(side * scale) for side in shape.shape)
    return transform.resize(filters.gaussian(shape, 1.0), size, order=3)


def test_the_horse_has_the_area_and_perimeter_that_scikit_image_finds():
    """A ring of freeform curves and corners, from points of its contour half a millimetre fine.

    Area is compared with scikit-image's count of pixels, holes filled; perimeter with its Crofton
    estimate in four directions, which differs from the length of its own contour by 1.3 %.
    """
    px_mm = 0.5
    picture = horse(1000.0, px_mm)
    mask = picture > 0.5
    outer = max(measure.find_contours(picture, 0.5), key=len)[:-1, ::-1] * (px_mm, -px_mm)
    x, y = outer.T
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0:
        outer = outer[::-1]
    points = outer[::4]
    curves = fit_ring(points, np.full(len(points), 0.1), Prices(nodes=600)).curves
    outline = named_outline([(curve, 0.1) for curve in curves], [])
    check_outline(outline)
    assert any(edge.whole != edge.name for edge in outline.edges)
    filled = measure.regionprops(mask.astype(int))[0].area_filled * px_mm**2
    assert outline.area == pytest.approx(filled, rel=0.002)
    around = measure.perimeter_crofton(mask, 4) * px_mm
    assert perimeter(outline) == pytest.approx(around, rel=0.02)
