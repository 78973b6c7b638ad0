"""The laid-out plan at full scale over ordinary sheets of paper, as one PDF.

The first page is a map of the others.  Every page carries check bars of 100 mm along and up the
page, and register marks by which its neighbours are joined.
"""

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from shapecut.layout.layout import Layout, Piece
from shapecut.papers.drawing import Drawing, Layer, drawing_of_layout, readable_turn
from shapecut.papers.label_place import Band, Interior, Room, label_rooms, place_label
from shapecut.papers.paper import Paper, sheet_of
from shapecut.papers.pdf_pen import (
    PT_PER_MM,
    REGULAR,
    define_check_bar,
    latin,
    register_mark,
    stroke_paths,
)
from shapecut.papers.tile_map import draw_map
from shapecut.papers.tile_margin import draw_margin
from shapecut.papers.tiling import (
    Box,
    TileMargins,
    Tiling,
    clipped_parameters,
    tile_drawing,
)
from shapecut.shape.placement import Placement

__all__ = ["plan_tiling", "tiles_pdf"]

LABEL_MM = 9.0
"""Height of a piece's label on a tile, where there is room for it."""

LABEL_SHARE = 0.3
"""On a narrow board a label is no higher than this share of its width."""

CAP_HEIGHT = 0.72
"""Height of a capital of the standard fonts as a share of the font size."""

_PENS = {Layer.ROW: (0.15, 0.72), Layer.BOARD_EDGE: (0.2, 0.5), Layer.CUT: (0.3, 0.0)}
"""Line width in mm and grey level (0 black) of each layer on paper, in drawing order."""

_FORM = "plan"


def plan_tiling(drawing: Drawing, paper: Paper) -> Tiling:
    """Lay pages over the cuts and board edges of a laid-out plan."""
    needed = drawing.on(Layer.CUT, Layer.BOARD_EDGE)
    return tile_drawing(needed, sheet_of(paper), TileMargins())


def tiles_pdf(layout: Layout, *, title: str, paper: Paper) -> bytes:
    """Print a plan at full scale.

    Args:
        layout: The plan.
        title: The job's name, written on every page.
        paper: The sheets to print on, upright or turned, whichever needs fewer.

    Returns:
        A PDF: the page map, then the tiles row by row.  Equal input gives equal bytes.
    """
    drawing = drawing_of_layout(layout, title)
    tiling = plan_tiling(drawing, paper)
    sheet = tiling.sheet
    stream = BytesIO()
    canvas = Canvas(
        stream,
        pagesize=(sheet.width_mm * PT_PER_MM, sheet.height_mm * PT_PER_MM),
        invariant=1,
        pageCompression=1,
    )
    canvas.setTitle(latin(f"{title}: plan at full scale"))
    canvas.setCreator("shapecut")
    define_check_bar(canvas)
    _define_plan(canvas, drawing)
    draw_map(canvas, drawing, tiling)
    labels = [_Label.of(piece, layout.board.width_mm) for piece in layout.pieces]
    for page, tile in enumerate(tiling.tiles, start=2):
        window = tiling.window(tile)
        with _through(canvas, tiling, window):
            canvas.doForm(_FORM)
            for label in labels:
                _draw_label(canvas, label, window)
            for mark in tiling.marks(tile):
                register_mark(canvas, mark.at, mark.number)
        draw_margin(canvas, title, tiling, page)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _define_plan(canvas: Canvas, drawing: Drawing) -> None:
    """Put the strokes into the file once; every page shows its part of them."""
    x0, y0, x1, y1 = drawing.bounds()
    canvas.beginForm(_FORM, *(side * PT_PER_MM for side in (x0 - 1, y0 - 1, x1 + 1, y1 + 1)))
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for layer, (width_mm, grey) in _PENS.items():
        canvas.setLineWidth(width_mm * PT_PER_MM)
        canvas.setStrokeGray(grey)
        stroke_paths(canvas, drawing.on(layer).strokes)
    canvas.endForm()


@contextmanager
def _through(canvas: Canvas, tiling: Tiling, window: Box) -> Iterator[None]:
    """Draw in the plan's own millimetres, seen through the page's window."""
    margins = tiling.margins
    canvas.saveState()
    canvas.translate(
        (margins.left - window.x0) * PT_PER_MM, (margins.bottom - window.y0) * PT_PER_MM
    )
    clip = canvas.beginPath()
    corner_and_size = (window.x0, window.y0, window.x1 - window.x0, window.y1 - window.y0)
    clip.rect(*(side * PT_PER_MM for side in corner_and_size))
    canvas.clipPath(clip, stroke=0, fill=0)
    yield
    canvas.restoreState()


@dataclass(frozen=True)
class _Label:
    """What is the same on every page about a piece's label: where its text fits, and its reach."""

    text: str
    placement: Placement
    rooms: tuple[Room, ...]
    reach: Box

    @classmethod
    def of(cls, piece: Piece, width_mm: float) -> "_Label":
        corners = [(x, y) for x in (0.0, piece.length_mm) for y in (0.0, width_mm)]
        xs, ys = zip(*(piece.placement.to_plane(corner) for corner in corners), strict=True)
        height = min(LABEL_MM, LABEL_SHARE * width_mm)
        rooms = tuple(label_rooms(piece.label, Interior.of(piece.region), height))
        return cls(piece.label, piece.placement, rooms, Box(min(xs), min(ys), max(xs), max(ys)))


def _draw_label(canvas: Canvas, label: _Label, window: Box) -> None:
    """Write a piece's label where the page shows most of the piece, along its board."""
    if not label.reach.meets(window):
        return
    inner = window.grown(-LABEL_MM)
    placed = place_label(label.rooms, lambda bands: _seen(bands, label.placement, inner))
    if placed is None:
        return
    at, height = placed
    x, y = label.placement.to_plane(at)
    canvas.saveState()
    canvas.translate(x * PT_PER_MM, y * PT_PER_MM)
    canvas.rotate(math.degrees(readable_turn(label.placement.turn_rad)))
    canvas.setFillGray(0.35)
    canvas.setFont(REGULAR, height / CAP_HEIGHT * PT_PER_MM)
    canvas.drawCentredString(0, -height / 2 * PT_PER_MM, latin(label.text))
    canvas.restoreState()


def _seen(bands: Sequence[Band], placement: Placement, window: Box) -> list[Band]:
    """The parts of a piece's bands that a window in the plane shows."""
    ends = np.array([[(band.start, band.y), (band.end, band.y)] for band in bands])
    in_plane = placement.points_to_plane(ends.reshape(-1, 2)).reshape(-1, 2, 2)
    firsts, lasts = clipped_parameters(in_plane, window)
    return [
        Band(band.y, band.start + first * band.length, band.start + last * band.length)
        for band, first, last in zip(bands, firsts.tolist(), lasts.tolist(), strict=True)
        if first < last
    ]
