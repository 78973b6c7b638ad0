"""Full-scale pages: true to scale, joined in one way only, every cut on paper."""

import re
import shutil
from collections import Counter, deque
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pypdfium2 as pdfium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.layout.joists import Joists
from shapecut.layout.layout import Layout, Piece
from shapecut.layout.supports import Supports
from shapecut.papers.card_words import CardWords, cards_in_order
from shapecut.papers.drawing import Drawing, Layer, Stroke, Text
from shapecut.papers.drilling import DrilledStrip, DrillHole
from shapecut.papers.layout_drawing import drawing_of_layout
from shapecut.papers.paper import Paper, page_size_from_text
from shapecut.papers.printer import Printer
from shapecut.papers.spans import Box, segments_of
from shapecut.papers.tile_kind import TileKind
from shapecut.papers.tile_set import TileSet
from shapecut.papers.tile_settings import TileSettings
from shapecut.papers.tiles import tile_set, tiles_pdf
from shapecut.papers.tiling import tile_drawing
from shapecut.shape.curves import Line
from shapecut.shape.placement import Placement
from shapecut.shape.region import Region, Side
from shapecut.shape.setting_out import SetPoint, SettingOut
from shapecut.stock.turns import Turn
from tests import plan_by_hand
from tests.printed_tiles import (
    check_bar_lengths,
    corner_by_pdfium,
    corner_by_poppler,
    printed_pages,
    register_marks,
)
from tests.random_floors import random_floor

SHEETS_MM = {
    Paper.A4: (210.0, 297.0),
    Paper.A3: (297.0, 420.0),
    Paper.LETTER: (215.9, 279.4),
    Paper.TABLOID: (279.4, 431.8),
}
"""ISO 216 and ASME Y14.1."""

CUT_TOLERANCE_MM = 0.15

INSIDE_MM = 5.0
"""Every cut lies at least so far inside a window, and every window inside its page."""

A4 = TileSettings(page_size_from_text("A4"))


def on(page: str, **changes) -> TileSettings:
    return TileSettings(page_size_from_text(page), **changes)


def printed(kind: TileKind = TileKind.PLAN, title: str = "Pond step", settings=A4) -> bytes:
    marked = SettingOut((SetPoint("P1", plan_by_hand.FRAME.to_plane((200.0, 210.0)), 0.1),))
    data = tiles_pdf(kind, plan_by_hand.layout(), title=title, settings=settings, marked=marked)
    assert data is not None
    return data


@pytest.fixture(scope="module")
def pages():
    return printed_pages(printed())


@pytest.fixture(scope="module")
def marks(pages):
    return [register_marks(page) for page in pages[1:]]


@pytest.mark.parametrize("paper", Paper)
def test_pages_are_whole_sheets_of_standard_paper(paper):
    for page in pdfium.PdfDocument(printed(settings=on(paper.value))):
        size = sorted(side * 25.4 / 72 for side in page.get_size())
        assert size == pytest.approx(SHEETS_MM[paper], abs=0.01)


@pytest.mark.parametrize(
    ("page", "width_mm"), [("roll 610 mm", 610.0), ("roll 36 in", 914.4), ("1200 mm x 700 mm", 700)]
)
def test_a_roll_or_a_large_sheet_takes_the_whole_plan_on_one_page(page, width_mm):
    document = pdfium.PdfDocument(printed(settings=on(page)))

    assert len(document) == 2  # the map, and the plan
    for sheet in document:
        assert width_mm in [pytest.approx(side * 25.4 / 72, abs=0.01) for side in sheet.get_size()]


@pytest.mark.parametrize("kind", [TileKind.PLAN, TileKind.CUTS])
def test_the_map_takes_little_of_a_roll(kind):
    sizes = [page.get_size() for page in pdfium.PdfDocument(printed(kind, settings=on("roll 1 m")))]
    (width, height), others = sizes[0], sizes[1:]

    assert min(width, height) * 25.4 / 72 < 300.01
    assert max(width, height) * 25.4 / 72 == pytest.approx(1000.0)
    assert all(1000.0 in [pytest.approx(side * 25.4 / 72) for side in size] for size in others)


def test_a_roll_runs_along_itself_however_short_a_page_is_cut():
    """A printer that stretches along the roll is made good along it, on wide pages as on long."""
    printer = Printer(bar_along_mm=104.0)
    size = page_size_from_text("roll 900 mm")
    (upright, level) = size.sheets(400.0, 300.0)

    assert printer.scales(upright) == (1.0, 1.04)
    assert printer.scales(level) == (1.04, 1.0)


@pytest.mark.parametrize("kind", TileKind)
def test_every_page_has_check_bars_of_100_mm_both_ways(kind):
    for page in printed_pages(printed(kind)):
        along, up = check_bar_lengths(page.ink)
        assert along == pytest.approx([100.0], abs=0.1)
        assert up == pytest.approx([100.0], abs=0.1)


@pytest.mark.parametrize("kind", TileKind)
def test_every_page_says_job_pieces_page_and_scale(kind):
    first, *others = printed_pages(printed(kind))
    for number, page in enumerate([first, *others], start=1):
        assert f"page {number} of {len(others) + 1}" in page.text
        assert "Pond step" in page.text
        assert "100 %" in page.text
    for page in others:
        assert "scale 1:1" in page.text
        assert any(f"{word} {label}" in page.text for word in ("piece", "pieces")
                   for label in ("1a", "2a", "3a"))  # fmt: skip


# --- joints ---------------------------------------------------------------------------------------


def test_each_register_mark_is_on_two_pages_and_each_pair_of_pages_shares_two(marks):
    owners = Counter(name for found in marks for name in found)

    assert set(owners.values()) == {2}
    for first in range(len(marks)):
        for second in range(first):
            shared = sorted(marks[first].keys() & marks[second].keys())
            assert len(shared) in (0, 2)
            # The two of one joint, so that pages cannot be joined shifted or turned round.
            assert not shared or {name[-1] for name in shared} == {"a", "b"}
            assert len({name[:-1] for name in shared}) <= 1


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


def stations(drawing: Drawing, spacing_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """(N, 2) points along cuts, a little off their ends, and unit normals."""
    points, normals = [], []
    for stroke in drawing.on(Layer.CUT).strokes:
        for curve in stroke.curves:
            margin = 2.0 / curve.length
            for fraction in np.arange(margin, 1 - margin, spacing_mm / curve.length):
                points.append(curve.at(fraction))
                along = curve.direction(fraction)
                normals.append((-along[1], along[0]))
    return np.array(points).reshape(-1, 2), np.array(normals).reshape(-1, 2)


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
    tiles = tile_set(TileKind.PLAN, plan_by_hand.layout(), title="", settings=A4)
    windows = [page.windows[0] for page in tiles.pages]
    # Where the pages' own marks are in the turned plan.
    planned = [
        {
            name: np.subtract(at, window.corner) + np.array([window.box.x0, window.box.y0])
            for seam in page.seams
            for name, at in seam.marks
        }
        for page, window in zip(tiles.pages, windows, strict=True)
    ]
    offsets = joined(marks)
    # One shift, no turn and no scale, lays the whole mosaic onto the plan.
    shifts = [
        place_planned - found[name] - offset
        for offset, found, page in zip(offsets, marks, planned, strict=True)
        for name, place_planned in page.items()
    ]
    shift = np.mean(shifts, axis=0)
    assert np.abs(shifts - shift).max() < CUT_TOLERANCE_MM
    points, normals = stations(tiles.subjects[0].drawing, 3.0)
    crosses = np.array([place for page in planned for place in page.values()])
    clear = np.abs(points[:, None] - crosses).max(axis=2).min(axis=1) > 7.0
    seen = ~clear
    for page, offset, window in zip(pages[1:], offsets, windows, strict=True):
        inner = window.box.grown(-1.0)
        here = (points >= (inner.x0, inner.y0)).all(axis=1)
        here &= (points <= (inner.x1, inner.y1)).all(axis=1) & clear
        if here.any():
            off = line_offsets(page, points[here] - shift - offset, normals[here])
            assert not np.isnan(off).any()
            assert np.abs(off).max() < CUT_TOLERANCE_MM
            seen |= here
    assert seen.all()
    assert clear.mean() > 0.9


# --- every cut on paper ---------------------------------------------------------------------------


def assert_all_cuts_on_paper(tiles: TileSet, subject: int, drawing: Drawing) -> None:
    """Every millimetre of a subject's cuts lies well inside one of its windows."""
    points, _ = stations(drawing, 1.0)
    covered = np.zeros(len(points), bool)
    usable = tiles.usable
    for page in tiles.pages:
        for window in page.windows:
            (x, y), box = window.corner, window.box
            assert min(x, y) >= INSIDE_MM
            assert x + box.width <= usable.width_mm - INSIDE_MM + 1e-6
            assert y + box.height <= usable.height_mm - INSIDE_MM + 1e-6
            if window.subject == subject:
                inner = box.grown(-INSIDE_MM)
                here = (points >= (inner.x0, inner.y0)) & (points <= (inner.x1, inner.y1))
                covered |= here.all(axis=1)
    assert covered.all()


def cut_mm(tiles: TileSet) -> float:
    """Length of all cuts drawn."""
    drawings = (subject.drawing.on(Layer.CUT) for subject in tiles.subjects)
    return sum(stroke.length for drawing in drawings for stroke in drawing.strokes)


def planned_cut_mm(floor) -> float:
    return sum(stroke.length for stroke in drawing_of_layout(floor, "").on(Layer.CUT).strokes)


FLOORS = st.builds(random_floor, st.integers(0, 10_000))
PAGES = st.sampled_from(["A4", "A3", "Letter", "Tabloid", "roll 610 mm", "500 mm x 700 mm"])


@given(floor=FLOORS, page=PAGES)
@settings(max_examples=8)
def test_every_millimetre_of_every_cut_of_the_plan_is_on_a_page(floor, page):
    tiles = tile_set(TileKind.PLAN, floor, title="", settings=on(page))

    assert_all_cuts_on_paper(tiles, 0, tiles.subjects[0].drawing)
    plan = drawing_of_layout(floor, "").on(Layer.CUT)
    drawn = tiles.subjects[0].drawing.on(Layer.CUT)
    assert sum(s.length for s in drawn.strokes) == pytest.approx(
        sum(s.length for s in plan.strokes)
    )


@given(floor=FLOORS, page=PAGES)
@settings(max_examples=8)
def test_every_millimetre_of_every_cut_of_the_pieces_is_on_a_page(floor, page):
    tiles = tile_set(TileKind.CUTS, floor, title="", settings=on(page))

    for number, subject in enumerate(tiles.subjects):
        assert_all_cuts_on_paper(tiles, number, subject.drawing)
    assert cut_mm(tiles) == pytest.approx(planned_cut_mm(floor))


@pytest.mark.parametrize("kind", [TileKind.PLAN, TileKind.CUTS])
def test_thirty_random_jobs_have_every_millimetre_of_every_cut_on_paper(kind):
    """Seven or eight on each kind of paper."""
    papers = [paper.value for paper in Paper]
    for seed in range(30):
        floor = random_floor(seed)
        tiles = tile_set(kind, floor, title="", settings=on(papers[seed % len(papers)]))
        for number, subject in enumerate(tiles.subjects):
            assert_all_cuts_on_paper(tiles, number, subject.drawing)
        assert cut_mm(tiles) == pytest.approx(planned_cut_mm(floor))


@given(floor=FLOORS, page=PAGES)
@settings(max_examples=8)
def test_windows_of_pieces_do_not_lie_on_one_another(floor, page):
    tiles = tile_set(TileKind.CUTS, floor, title="", settings=on(page))

    for sheet in tiles.pages:
        boxes = [
            Box(x, y, x + w.box.width, y + w.box.height)
            for w in sheet.windows
            for x, y in [w.corner]
        ]
        for number, box in enumerate(boxes):
            assert not any(box.meets(other) for other in boxes[:number])


@pytest.mark.parametrize("paper", ["A4", "roll 610 mm"])
def test_windows_of_pieces_show_their_cuts_to_scale(paper):
    """Where a window's corner stands on the page, its cuts are found within 0.15 mm."""
    settings = on(paper)
    layout = plan_by_hand.layout()
    tiles = tile_set(TileKind.CUTS, layout, title="", settings=settings)
    pages = printed_pages(tiles_pdf(TileKind.CUTS, layout, title="", settings=settings))
    found = 0
    for page, sheet in zip(pages[1:], tiles.pages, strict=True):
        for window in sheet.windows:
            points, normals = stations(tiles.subjects[window.subject].drawing, 2.0)
            inner = window.box.grown(-3.0)
            here = (points > (inner.x0, inner.y0)) & (points < (inner.x1, inner.y1))
            here = here.all(axis=1)
            places = points[here] + np.subtract(window.corner, (window.box.x0, window.box.y0))
            off = np.abs(line_offsets(page, places, normals[here]))
            assert np.quantile(off, 0.97) < CUT_TOLERANCE_MM
            assert np.median(off) < 0.03
            found += len(off)
    assert found > 500


@pytest.mark.parametrize("turn", Turn)
def test_windows_show_pieces_as_their_cut_cards_do(turn):
    """The same frame, the same reference end, the same side of the waste; the map as laid."""
    layout, plan = plan_by_hand.layout(), plan_by_hand.cut_plan()
    board = plan.boards[1]
    lying = replace(board, cuts=(replace(board.cuts[0], turn=turn),))
    plan = replace(plan, boards=(plan.boards[0], lying))
    tiles = tile_set(TileKind.CUTS, layout, title="", settings=A4, plan=plan)
    words = CardWords.about((), {}, units="mm", denominator=16)
    card = next(c for c in cards_in_order(layout, plan, words) if c.piece.label == "3a").card
    cuts = [s for s in tiles.subjects[2].drawing.on(Layer.CUT).strokes for s in s.curves]
    starts = {tuple(np.round(curve.start, 6)) for curve in cuts}

    assert starts <= {tuple(np.round(mark.exact, 6)) for mark in card.marks}
    planned = drawing_of_layout(layout, "").on(Layer.CUT)
    in_plan = np.array([c.at(0.5) for stroke in planned.strokes for c in stroke.curves])
    shown = np.array([tiles.subjects[2].placement.to_plane(curve.at(0.5)) for curve in cuts])
    assert np.abs(shown[:, None] - in_plan).max(axis=2).min(axis=1).max() < 1e-6
    said = [text.text for page in tiles.pages for w in page.windows if w.subject == 2
            for text in w.own if isinstance(text, Text)]  # fmt: skip
    assert any(str(turn) in words for words in said) == (turn is not Turn.AS_LAID)


def test_relief_holes_have_the_numbers_of_the_cut_card():
    layout, plan = plan_by_hand.layout(), plan_by_hand.cut_plan()
    board = plan.boards[1]
    turned = replace(board, cuts=(replace(board.cuts[0], turn=Turn.END_FOR_END),))
    plan = replace(plan, boards=(plan.boards[0], turned))
    notch = [(0, 0), (400, 0), (400, 60), (300, 60), (300, 140), (0, 140), (0, 0)]
    sides = tuple(Side(Line(*ends)) for ends in pairwise(notch))
    piece = replace(layout.pieces[2], region=Region(sides), length_mm=400.0)
    layout = replace(layout, pieces=(*layout.pieces[:2], piece))
    tiles = tile_set(TileKind.DRILLING, layout, title="", settings=A4, plan=plan)
    words = CardWords.about((), {}, units="mm", denominator=16)
    card = next(c for c in cards_in_order(layout, plan, words) if c.piece.label == "3a").card
    (relief,) = card.relief
    (subject,) = tiles.subjects

    assert f"R{relief.mark}" in [text.text for text in subject.drawing.texts]
    (x0, y0, x1, y1) = subject.drawing.on(Layer.DRILL).bounds()
    assert ((x0 + x1) / 2, (y0 + y1) / 2) == pytest.approx((relief.along_mm, relief.across_mm))


def rip(y: float) -> Layout:
    """One board ripped along its whole length at a height."""
    field = [(0, 0), (900, 0), (900, y), (0, y), (0, 0)]
    region = Region(tuple(Side(Line(*ends), "E1") for ends in pairwise(field)))
    piece = Piece("1a", 1, region, Placement(), 900.0)
    return Layout(plan_by_hand.BOARD, region, Placement(), (), (piece,))


@pytest.mark.parametrize("height", [35.0, 61.0, 75.0, 110.0])
def test_the_words_beside_a_datum_stand_clear_of_every_line(height):
    tiles = tile_set(TileKind.CUTS, rip(height), title="", settings=A4)
    lines = segments_of(tiles.subjects[0].drawing.strokes)
    for page in tiles.pages:
        for window in page.windows:
            turned = [item for item in window.own if isinstance(item, Text) and item.turn_rad]
            assert turned
            for text in turned:
                (x, y), half = text.at, 0.3 * text.height_mm * len(text.text)
                covered = Box(x - text.height_mm / 2, y - half, x + text.height_mm / 2, y + half)
                assert not covered.hits(lines).any()


def test_plain_middles_are_left_out_and_a_distance_is_stated_instead():
    """A piece 900 mm long on Letter paper, its two ends on one page."""
    text = " ".join(page.text for page in printed_pages(printed(TileKind.CUTS)))
    tiles = tile_set(TileKind.CUTS, plan_by_hand.layout(), title="", settings=A4)
    windows = [w.box for page in tiles.pages for w in page.windows if w.subject == 1]

    assert "2a: 10.0 mm (3/8 in) from the reference end" in text
    assert sum(box.width for box in windows) < 250.0
    assert len(windows) == 2


def test_drilling_templates_show_marked_points_with_their_drill():
    text = " ".join(page.text for page in printed_pages(printed(TileKind.DRILLING)))

    assert "P1" in text
    assert "ø 5.0 mm (3/16 in)" in text
    assert tiles_pdf(TileKind.DRILLING, plan_by_hand.layout(), title="", settings=A4) is None


def test_boards_of_a_fascia_are_drilled_by_templates_too():
    holes = tuple(DrillHole(f"F1-{n}", (x, 40.0), 4.0) for n, x in enumerate((50.0, 1150.0), 1))
    strip = DrilledStrip("F1", 1200.0, 120.0, holes)
    layout = plan_by_hand.layout()
    data = tiles_pdf(TileKind.DRILLING, layout, title="Pond", settings=A4, strips=(strip,))
    text = " ".join(page.text for page in printed_pages(data))

    assert "F1-1" in text
    assert "ø 4.0 mm (3/16 in)" in text
    assert re.search(r"F1: 11\d0\.0 mm \([\d /]+ in\)\s+from the left end of its face", text)
    assert "piece F1" in text


def test_a_roll_is_cut_to_the_length_that_the_pieces_need():
    tiles = tile_set(TileKind.CUTS, plan_by_hand.layout(), title="", settings=on("roll 610 mm"))

    assert len(tiles.pages) == 1
    for number, subject in enumerate(tiles.subjects):
        assert_all_cuts_on_paper(tiles, number, subject.drawing)
    assert tiles.sheet.area_mm2 < 610.0 * 610.0


def test_the_placing_guide_shows_joists_and_what_was_marked():
    layout = plan_by_hand.layout()
    across = Placement(layout.frame.origin, layout.frame.turn_rad + np.pi / 2)
    joists = Joists(across, (-700.0, -300.0), 45.0)
    guide = tile_set(
        TileKind.PLACING,
        layout,
        title="",
        settings=A4,
        marked=SettingOut((SetPoint("P1", (300.0, 200.0), 0.1),)),
        supports=Supports(joists, (), (), None),
    )
    drawing = guide.subjects[0].drawing

    assert len(drawing.on(Layer.JOIST).strokes) == 2
    assert [text.text for text in drawing.on(Layer.SETTING_OUT).texts] == ["P1"]
    plain = tile_set(TileKind.PLACING, layout, title="", settings=A4)
    assert len(guide.pages) == len(plain.pages)  # joists beside the floor take no paper
    assert any("joists" in words for words in guide.how_to)


# --- the printer ----------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", [TileKind.PLAN, TileKind.CUTS])
def test_a_printer_that_shrinks_is_made_good(kind):
    """What it makes of the corrected pages: 97.3 % along the sheet, 98.9 % across it."""
    pages = printed_pages(printed(kind, settings=on("A4", printer=Printer(97.3, 98.9))))
    for page in pages:
        width, height = page.size_mm
        x, y = (0.989, 0.973) if height > width else (0.973, 0.989)
        level, upright = check_bar_lengths(page.ink)
        assert x * level[0] == pytest.approx(100.0, abs=0.1)
        assert y * upright[0] == pytest.approx(100.0, abs=0.1)
    assert "97.3 mm of 100 mm along the sheet and 98.9 mm across it" in " ".join(
        pages[0].text.split()
    )


@pytest.mark.skipif(not shutil.which("pdftoppm"), reason="poppler's pdftoppm is not installed")
@pytest.mark.parametrize("paper", ["A4", "Letter", "A3", "Tabloid", "roll 610 mm"])
def test_two_renderers_agree_on_every_page_and_its_check_bars(paper):
    data = printed(settings=on(paper))
    for number in range(1, len(pdfium.PdfDocument(data)) + 1):
        sizes, bars = [], []
        for corner in (corner_by_pdfium, corner_by_poppler):
            size, ink = corner(data, number, dpi=600, side_mm=135.0)
            sizes.append(size)
            bars.append(np.concatenate(check_bar_lengths(ink, dpi=600)))

        assert sizes[0] == pytest.approx(sizes[1], abs=0.05)
        assert bars[0] == pytest.approx([100.0, 100.0], abs=0.05)
        assert bars[1] == pytest.approx(bars[0], abs=0.05)


@given(floor=FLOORS, along=st.floats(95, 105), across=st.floats(95, 105))
@settings(max_examples=5)
def test_corrected_pages_lose_no_cut(floor, along, across):
    settings = on("A4", printer=Printer(along, across))
    for kind in (TileKind.PLAN, TileKind.CUTS):
        tiles = tile_set(kind, floor, title="", settings=settings)
        for number, subject in enumerate(tiles.subjects):
            assert_all_cuts_on_paper(tiles, number, subject.drawing)


# --- as few pages as may be -----------------------------------------------------------------------


@given(floor=FLOORS, page=PAGES)
@settings(max_examples=15)
def test_all_pages_of_a_plan_are_joined_to_one_another(floor, page):
    needed = drawing_of_layout(floor, "").on(Layer.CUT, Layer.BOARD_EDGE)

    assert tile_drawing(needed, page_size_from_text(page)).parts == 1


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
    tiling = tile_drawing(Drawing("legs", legs), page_size_from_text("A4"))

    assert len(tiling.tiles) <= 9
    assert tiling.parts == 1


def test_a_slanted_strip_is_turned_to_lie_along_the_paper():
    strip = Stroke((Line((0.0, 0.0), (700.0, 700.0)),), Layer.CUT)
    tiling = tile_drawing(Drawing("strip", (strip,)), page_size_from_text("A4"))

    assert len(tiling.tiles) == 4  # 990 mm in cells of 256 mm


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

    assert box.hits(segments).tolist() == [True, True, False, False, True]


# --- keep and waste -------------------------------------------------------------------------------


@given(floor=FLOORS)
@settings(max_examples=10)
def test_hatching_lies_beside_cuts_and_on_no_piece(floor):
    import shapely

    from shapecut.papers.waste import layout_hatching
    from shapecut.shape.polygons import region_polygon

    pieces = shapely.union_all(
        [region_polygon(piece.region.placed(piece.placement)) for piece in floor.pieces]
    )
    hatching = shapely.MultiLineString(segments_of(layout_hatching(floor)).tolist())
    cuts = segments_of(drawing_of_layout(floor, "").on(Layer.CUT).strokes)

    assert hatching.length > 0
    assert hatching.intersection(pieces.buffer(-0.2)).length == pytest.approx(0.0, abs=1e-6)
    lines = shapely.MultiLineString(cuts.tolist())
    assert hatching.difference(lines.buffer(13.0)).length == pytest.approx(0.0, abs=1e-6)


# --- the file -------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", TileKind)
def test_equal_plans_give_equal_bytes(kind):
    assert printed(kind) == printed(kind)


@pytest.mark.parametrize(
    ("title", "shown"),
    [("Taras 木 ✓", "Taras ? ?"), ("A long name " * 20, "A long name A long name A")],
    ids=["beyond the standard fonts", "too long"],
)
def test_any_title_prints(title, shown):
    document = pdfium.PdfDocument(printed(title=title, settings=on("A3")))

    for page in document:
        text = page.get_textpage().get_text_range()
        assert shown in text
        assert f"of {len(document)}" in text


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("A5", "must be A4"),
        ("roll 40 mm", "check bars"),
        ("roll wide", "must be A4"),
        ("900 x 1200", "no unit"),
        ("90 m x 1 m", "no printer"),
    ],
)
def test_paper_that_is_none_is_refused(text, says):
    with pytest.raises(ValueError, match=says):
        page_size_from_text(text)
