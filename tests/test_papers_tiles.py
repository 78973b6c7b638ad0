"""Tiles: printed pages are true to scale and go together by their register marks."""

from collections import deque

import numpy as np
import pypdfium2 as pdfium
import pytest

from shapecut.papers.drawing import Drawing, Layer, Stroke, drawing_of_layout
from shapecut.papers.paper import Paper, sheet_of
from shapecut.papers.tiles import plan_tiling, tiles_pdf
from shapecut.papers.tiling import Box, TileMargins, hits, tile_drawing
from shapecut.shape.curves import Line
from tests import plan_by_hand
from tests.printed_tiles import check_bar_lengths, printed_pages, register_marks

SHEETS_MM = {
    Paper.A4: (210.0, 297.0),
    Paper.A3: (297.0, 420.0),
    Paper.LETTER: (215.9, 279.4),
    Paper.TABLOID: (279.4, 431.8),
}
"""ISO 216 and ASME Y14.1."""

CUT_TOLERANCE_MM = 0.15


@pytest.fixture(scope="module")
def pages():
    return printed_pages(tiles_pdf(plan_by_hand.layout(), title="Pond step", paper=Paper.A4))


@pytest.fixture(scope="module")
def marks(pages):
    return [register_marks(page) for page in pages[1:]]


@pytest.mark.parametrize("paper", Paper)
def test_pages_are_whole_sheets_of_standard_paper(paper):
    document = pdfium.PdfDocument(tiles_pdf(plan_by_hand.layout(), title="Pond", paper=paper))

    for page in document:
        size = sorted(side * 25.4 / 72 for side in page.get_size())
        assert size == pytest.approx(SHEETS_MM[paper], abs=0.01)


def test_every_page_has_check_bars_of_100_mm_both_ways(pages):
    for page in pages:
        along, up = check_bar_lengths(page)
        assert along == pytest.approx([100.0], abs=0.1)
        assert up == pytest.approx([100.0], abs=0.1)


def test_every_page_says_what_it_is(pages):
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of {len(pages)}" in page.text
        assert "Pond step" in page.text
        assert "100 %" in page.text
    assert all("scale 1:1" in page.text for page in pages[1:])


def test_marks_are_shared_by_neighbours_and_never_ambiguous(marks):
    for found in marks:
        assert len(found) == 4
    for first in range(len(marks)):
        for second in range(first):
            # Two pages meet along a side, at a corner, or not at all.
            assert len(marks[first].keys() & marks[second].keys()) in (0, 1, 2)


def joined(marks) -> list[np.ndarray]:
    """Offset of each page in the mosaic of the first one, laid mark on mark."""
    offsets = {0: np.zeros(2)}
    waiting = deque([0])
    while waiting:
        page = waiting.popleft()
        for other in range(len(marks)):
            shared = sorted(marks[page].keys() & marks[other].keys())
            if other in offsets or len(shared) < 2:
                continue
            gaps = [np.subtract(marks[page][n], marks[other][n]) for n in shared]
            assert np.ptp(gaps, axis=0) == pytest.approx([0.0, 0.0], abs=0.05)
            offsets[other] = offsets[page] + np.mean(gaps, axis=0)
            waiting.append(other)
    return [offsets[index] for index in range(len(marks))]


def stations(layer: Layer, spacing_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """(N, 2) plan points along a layer's strokes, a little off their ends, and unit normals."""
    points, normals = [], []
    drawing = drawing_of_layout(plan_by_hand.layout(), "").on(layer)
    for stroke in drawing.strokes:
        for curve in stroke.curves:
            margin = 2.0 / curve.length
            for fraction in np.arange(margin, 1 - margin, spacing_mm / curve.length):
                points.append(curve.at(fraction))
                along = curve.direction(fraction)
                normals.append((-along[1], along[0]))
    return np.array(points), np.array(normals)


def line_offsets(page, places, normals) -> np.ndarray:
    """How far the ink of a line lies from each place, along its normal; NaN where none is near."""
    steps = np.arange(-0.5, 0.501, 0.02)
    ink = np.array([page.ink_at(places + step * normals) for step in steps])
    # Only cuts are black; the grey of trim lines and board edges that cross them is left out.
    ink[ink < 0.6] = 0.0
    with np.errstate(invalid="ignore"):
        return (steps[:, None] * ink).sum(axis=0) / ink.sum(axis=0)


def test_joined_tiles_reproduce_every_cut_line(pages, marks):
    """Every cut, sampled every 3 mm, is found on a page within 0.15 mm of its planned place."""
    tiling = plan_tiling(drawing_of_layout(plan_by_hand.layout(), ""), Paper.A4)
    planned = {mark.number: mark.at for tile in tiling.tiles for mark in tiling.marks(tile)}
    offsets = joined(marks)
    # One shift, no turn and no scale, lays the whole mosaic onto the plan.
    shifts = [
        np.subtract(planned[number], place) - offset
        for offset, found in zip(offsets, marks, strict=True)
        for number, place in found.items()
    ]
    shift = np.mean(shifts, axis=0)
    assert np.abs(shifts - shift).max() < CUT_TOLERANCE_MM
    points, normals = stations(Layer.CUT, 3.0)
    seen = np.zeros(len(points), bool)
    for page, offset, found in zip(pages[1:], offsets, marks, strict=True):
        corners = np.array(list(found.values()))
        places = points - shift - offset
        # Off the marks' own lines, which may cross a cut.
        here = ((places > corners.min(axis=0)) & (places < corners.max(axis=0))).all(axis=1)
        clear = np.abs(places[:, None] - corners).max(axis=2).min(axis=1) > 7.0
        use = here & clear
        if not use.any():
            continue
        off = line_offsets(page, places[use], normals[use])
        assert not np.isnan(off).any()
        assert np.abs(off).max() < CUT_TOLERANCE_MM
        seen |= use
    near_mark = np.array(
        [min(max(abs(p[0] - x), abs(p[1] - y)) for x, y in planned.values()) < 7.2 for p in points]
    )
    assert (seen | near_mark).all()
    assert near_mark.mean() < 0.1


def test_pages_that_hold_nothing_are_left_out():
    """Two legs of a metre, at right angles:

    |
    |   nothing here
    +----------------
    """
    legs = (
        Stroke((Line((0.0, 0.0), (1000.0, 0.0)),), Layer.CUT),
        Stroke((Line((0.0, 0.0), (0.0, 1000.0)),), Layer.CUT),
    )
    tiling = tile_drawing(Drawing("legs", legs), sheet_of(Paper.A4), TileMargins())

    assert len(tiling.tiles) == tiling.columns + tiling.rows - 1
    for along in np.linspace(0.0, 1000.0, 500):
        for x, y in ((along, 0.0), (0.0, along)):
            assert any(
                tile.cell.x0 <= x <= tile.cell.x1 and tile.cell.y0 <= y <= tile.cell.y1
                for tile in tiling.tiles
            )


def test_a_segment_hits_a_box_only_where_it_passes_through_it():
    box = Box(0.0, 0.0, 10.0, 10.0)
    segments = np.array(
        [
            [(-5.0, 5.0), (15.0, 5.0)],  # straight through
            [(2.0, 2.0), (3.0, 3.0)],  # inside
            [(-5.0, 8.0), (3.0, 16.0)],  # past the corner
            [(5.0, 11.0), (9.0, 11.0)],  # level, above
            [(10.0, -5.0), (10.0, 15.0)],  # along a side
        ]
    )

    assert hits(segments, box).tolist() == [True, True, False, False, True]


def test_equal_plans_give_equal_bytes():
    first, second = (
        tiles_pdf(plan_by_hand.layout(), title="Pond", paper=Paper.LETTER) for _ in range(2)
    )
    assert first == second


@pytest.mark.parametrize(
    ("title", "shown"),
    [("Taras 木 ✓", "Taras ? ?"), ("A long name " * 20, "A long name A long name A")],
    ids=["beyond the standard fonts", "too long"],
)
def test_any_title_prints(title, shown):
    document = pdfium.PdfDocument(tiles_pdf(plan_by_hand.layout(), title=title, paper=Paper.A3))

    for page in document:
        text = page.get_textpage().get_text_range()
        assert shown in text
        assert f"of {len(document)}" in text
