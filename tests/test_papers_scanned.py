"""Printed pages, scanned and measured by shapecut itself: cut lines are where the plan has them.

The pages are rendered at 300 dpi and distorted as a scanner does: turned by 0.2°, 0.1 % too large,
softened, with noise.  Half of the 0.2 mm allowed is that scale over the largest piece; what is
read back is without help from the check bars.
"""

from dataclasses import dataclass

import cv2
import numpy as np
import pypdfium2 as pdfium
import pytest

from shapecut.capture.cards import our_cards
from shapecut.capture.photo import Photo
from shapecut.layout.layout import Board, Layout
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.papers.paper import page_size_from_text
from shapecut.papers.tile_kind import TileKind
from shapecut.papers.tile_set import TileSet, Window
from shapecut.papers.tile_settings import TileSettings
from shapecut.papers.tiles import tile_set, tiles_pdf
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Region, Side
from shapecut.stages.measuring import measure_scans
from shapecut.trace.drawn import Drawn, ShownAs
from tests.outline_deviation import deviations_mm, rough_placement
from tests.scenes import rounded

DPI = 300.0
PX_PER_MM = DPI / 25.4

AROUND_MM = 2.5
"""What lies farther from a piece is covered with white paper on the scanner, half the gap."""

CROP_MM = 12.0
"""How much of the sheet is scanned round a piece."""

WITHIN_MM = 0.2


@dataclass(frozen=True)
class ScannedJob:
    """A small job and the paper it is printed on."""

    corners: tuple[Point, ...]
    radii: dict[int, float]
    board_mm: float
    direction_rad: float
    page: str

    def layout(self) -> Layout:
        curves = rounded(list(self.corners), self.radii)
        field = Region(tuple(Side(curve, f"E{n}") for n, curve in enumerate(curves, 1)))
        board = Board(self.board_mm, 20.0, 6.0)
        return lay_rows(field, board, LayoutRules(direction_rad=self.direction_rad))


JOBS = {
    "step": ScannedJob(
        ((0, 0), (140, 4), (138, 120), (90, 122), (70, 170), (2, 168)), {0: 30.0}, 80.0, 0.0, "A4"
    ),
    "tray": ScannedJob(((0, 0), (160, -6), (172, 150), (-8, 144)), {2: 45.0}, 152.0, 0.0, "Letter"),
    "corner": ScannedJob(((0, 0), (230, 8), (120, 190), (10, 150)), {}, 88.0, -0.2, "A3"),
}


def scanned(data: bytes, page: int) -> np.ndarray:
    """One page, counted from 1, as a scanner gives it: (h, w, 3) colours."""
    sheet = pdfium.PdfDocument(data)[page - 1]
    grey = sheet.render(scale=DPI / 72, grayscale=True).to_numpy()
    height, width = grey.shape[:2]
    off = cv2.getRotationMatrix2D((width / 2, height / 2), 0.2, 1.001)
    turned = cv2.warpAffine(grey, off, (width, height), flags=cv2.INTER_CUBIC, borderValue=255)
    soft = cv2.GaussianBlur(turned, (0, 0), 0.6).astype(float)
    noise = np.random.default_rng(page).normal(0.0, 2.5, soft.shape)
    seen = np.clip(15 + 0.9 * soft + noise, 0, 255).astype(np.uint8)
    return np.repeat(seen.reshape(height, width, 1), 3, axis=2)


def piece_outline(layout: Layout, label: str) -> Outline:
    piece = next(piece for piece in layout.pieces if piece.label == label)
    rings = (
        Ring(tuple(Edge(f"E{n}", side.curve) for n, side in enumerate(loop, 1)))
        for loop in piece.region.loops
    )
    outer, *holes = rings
    return Outline(outer, tuple(holes))


def uncovered(scan: np.ndarray, tiles: TileSet, window: Window, layout: Layout, label: str):
    """The part of the scan round one piece, all else covered."""
    turned = tiles.subjects[0].placement.inverse()
    piece = next(piece for piece in layout.pieces if piece.label == label)
    page = Placement((window.corner[0] - window.box.x0, window.corner[1] - window.box.y0))
    on_page = page.after(turned.after(piece.placement))
    contour = np.vstack([side.curve.flattened(0.05) for side in piece.region.outer])
    x, y = on_page.points_to_plane(contour).T
    corners = np.column_stack([x, tiles.sheet.height_mm - y]) * PX_PER_MM
    mask = np.zeros(scan.shape[:2], np.uint8)
    cv2.fillPoly(mask, [np.round(corners).astype(np.int32)], 255)
    reach = 2 * round(AROUND_MM * PX_PER_MM) + 1
    mask = cv2.dilate(mask, cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach)))
    covered = scan.copy()
    covered[mask == 0] = 244
    left, top, width, height = cv2.boundingRect(mask)
    border = round(CROP_MM * PX_PER_MM)
    rows = slice(max(top - border, 0), top + height + border)
    return covered[rows, max(left - border, 0) : left + width + border].copy()


@pytest.mark.parametrize("name", JOBS)
def test_cut_lines_of_scanned_pages_are_where_the_plan_has_them(name):
    job = JOBS[name]
    layout = job.layout()
    settings = TileSettings(page_size_from_text(job.page))
    tiles = tile_set(TileKind.PLAN, layout, title=name, settings=settings)
    data = tiles_pdf(TileKind.PLAN, layout, title=name, settings=settings)
    read = []
    for number, page in enumerate(tiles.pages, start=2):
        scan = scanned(data, number)
        for label in page.pieces:
            seen = uncovered(scan, tiles, page.windows[0], layout, label)
            photo = Photo(f"{name} {label}.png", seen, dpi=(DPI, DPI))
            found = measure_scans([photo], our_cards(), shown=ShownAs(Drawn.LINE)).outline
            planned = piece_outline(layout, label)
            off = deviations_mm(found, planned, rough_placement(found, planned))
            assert np.abs(off).max() < WITHIN_MM, label
            read.append(label)
    assert read == [piece.label for piece in layout.pieces]
