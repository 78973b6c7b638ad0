"""The laid-out plan at full scale over ordinary sheets of paper, as one PDF.

The first page is a map of the others.  Every page carries check bars of 100 mm along and up the
page, and register marks by which its neighbours are joined.
"""

import math
from collections.abc import Iterator
from io import BytesIO

import numpy as np
from reportlab.pdfgen.canvas import Canvas

from shapecut.layout.layout import Layout, Piece
from shapecut.papers.drawing import Drawing, Layer, drawing_of_layout, readable_turn
from shapecut.papers.label_place import bands
from shapecut.papers.paper import Paper, sheet_of
from shapecut.papers.pdf_pen import (
    BOLD,
    PT_PER_MM,
    REGULAR,
    check_bar,
    latin,
    register_mark,
    stroke_paths,
)
from shapecut.papers.tile_map import draw_map
from shapecut.papers.tiling import (
    Box,
    Tile,
    TileMargins,
    Tiling,
    clipped_parameters,
    tile_drawing,
)

__all__ = ["plan_tiling", "tiles_pdf"]

LABEL_MM = 9.0
"""Height of a piece's label on a tile, where there is room for it."""

LABEL_FLATTENING_MM = 0.5
"""Greatest distance of chords from their arc where only a place for a label is looked for."""

_PENS = {Layer.ROW: (0.15, 0.72), Layer.BOARD_EDGE: (0.2, 0.5), Layer.CUT: (0.3, 0.0)}
"""Line width in mm and grey level (0 black) of each layer on paper, in drawing order."""

_FORM = "plan"


def plan_tiling(layout: Layout, paper: Paper, margins: TileMargins | None = None) -> Tiling:
    """Lay pages over a plan's cuts and board edges."""
    drawing = drawing_of_layout(layout, "").on(Layer.CUT, Layer.BOARD_EDGE)
    return tile_drawing(drawing, sheet_of(paper), margins or TileMargins())


def tiles_pdf(layout: Layout, *, title: str, paper: Paper) -> bytes:
    """Print a plan at full scale.

    Args:
        layout: The plan.
        title: The job's name, written on every page.
        paper: The sheets to print on, upright or turned, whichever needs fewer.

    Returns:
        A PDF: the page map, then the tiles row by row.  Equal input gives equal bytes.
    """
    tiling = plan_tiling(layout, paper)
    drawing = drawing_of_layout(layout, title)
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
    _define_plan(canvas, drawing)
    draw_map(canvas, drawing, tiling)
    for index, tile in enumerate(tiling.tiles):
        _draw_tile(canvas, layout, title, tiling, index, tile)
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


def _draw_tile(
    canvas: Canvas, layout: Layout, title: str, tiling: Tiling, index: int, tile: Tile
) -> None:
    margins, window = tiling.margins, tiling.window(tile)
    canvas.saveState()
    canvas.translate(
        (margins.left - window.x0) * PT_PER_MM, (margins.bottom - window.y0) * PT_PER_MM
    )
    clip = canvas.beginPath()
    clip.rect(*(side * PT_PER_MM for side in _origin_and_size(window)))
    canvas.clipPath(clip, stroke=0, fill=0)
    canvas.doForm(_FORM)
    for piece in layout.pieces:
        _draw_label(canvas, piece, layout.board.width_mm, window)
    for mark in tiling.marks(tile):
        register_mark(canvas, mark.at, mark.number)
    canvas.restoreState()
    _draw_frame(canvas, tiling, tile)
    total = len(tiling.tiles) + 1
    _draw_margin(
        canvas,
        tiling,
        f"{title}  ·  column {tile.column}, row {tile.row}  ·  page {index + 2} of {total}  ·  "
        f"scale 1:1, print at 100 %",
    )
    _draw_neighbours(canvas, tiling, tile)
    canvas.showPage()


def _origin_and_size(box: Box) -> tuple[float, float, float, float]:
    return (box.x0, box.y0, box.x1 - box.x0, box.y1 - box.y0)


def _draw_label(canvas: Canvas, piece: Piece, width_mm: float, window: Box) -> None:
    """Write the piece's label where the page shows most of the piece, along its board."""
    stretches = list(_shown_bands(piece, width_mm, window.grown(-LABEL_MM)))
    if not stretches:
        return
    start, end = max(stretches, key=lambda ends: math.dist(*ends))
    height = min(LABEL_MM, 0.3 * width_mm, 0.5 * math.dist(start, end))
    canvas.saveState()
    canvas.translate(*((a + b) / 2 * PT_PER_MM for a, b in zip(start, end, strict=True)))
    canvas.rotate(math.degrees(readable_turn(piece.placement.turn_rad)))
    canvas.setFillGray(0.35)
    canvas.setFont(REGULAR, height / 0.72 * PT_PER_MM)
    canvas.drawCentredString(0, -height / 2 * PT_PER_MM, latin(piece.label))
    canvas.restoreState()


def _shown_bands(
    piece: Piece, width_mm: float, window: Box
) -> Iterator[tuple[tuple[float, float], tuple[float, float]]]:
    """Yield the parts inside a window of the piece's bands, in the plane."""
    for band in bands(piece.region, width_mm, LABEL_FLATTENING_MM):
        ends = [piece.placement.to_plane((x, band.y)) for x in (band.start, band.end)]
        first, last = clipped_parameters(np.array([ends]), window)
        if first[0] < last[0]:
            (xa, ya), (xb, yb) = ends
            yield (
                (xa + first[0] * (xb - xa), ya + first[0] * (yb - ya)),
                (xa + last[0] * (xb - xa), ya + last[0] * (yb - ya)),
            )


def _draw_frame(canvas: Canvas, tiling: Tiling, tile: Tile) -> None:
    """Draw the cell's border, the line to trim to where a page is glued onto its neighbour."""
    margins, cell = tiling.margins, tile.cell
    half = margins.overlap / 2
    canvas.saveState()
    canvas.setStrokeGray(0.6)
    canvas.setLineWidth(0.1 * PT_PER_MM)
    canvas.setDash(1, 3)
    corner = (margins.left + half, margins.bottom + half)
    size = (cell.x1 - cell.x0, cell.y1 - cell.y0)
    canvas.rect(*(side * PT_PER_MM for side in (*corner, *size)), stroke=1, fill=0)
    canvas.restoreState()


def _draw_margin(canvas: Canvas, tiling: Tiling, line: str) -> None:
    margins = tiling.margins
    check_bar(canvas, (margins.left, 11.5), upright=False)
    check_bar(canvas, (margins.left - 5.0, margins.bottom), upright=True)
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD, 8)
    canvas.drawString(margins.left * PT_PER_MM, 6.5 * PT_PER_MM, latin(line))


def _draw_neighbours(canvas: Canvas, tiling: Tiling, tile: Tile) -> None:
    """Say at each side which page joins there."""
    margins, sheet = tiling.margins, tiling.sheet
    page_at = {(other.column, other.row): n for n, other in enumerate(tiling.tiles, start=2)}
    middle_x = (margins.left + sheet.width_mm - margins.right) / 2
    middle_y = (margins.bottom + sheet.height_mm - margins.top) / 2
    places = {
        (-1, 0): (margins.left - 1.5, middle_y, 90),
        (1, 0): (sheet.width_mm - margins.right + 1.5, middle_y, 270),
        (0, -1): (middle_x, sheet.height_mm - margins.top + 1.5, 0),
        (0, 1): (middle_x, margins.bottom - 4.0, 0),
    }
    canvas.setFont(REGULAR, 7)
    for (right, down), (x, y, turn) in places.items():
        page = page_at.get((tile.column + right, tile.row + down))
        if page is not None:
            canvas.saveState()
            canvas.translate(x * PT_PER_MM, y * PT_PER_MM)
            canvas.rotate(turn)
            canvas.drawCentredString(0, 0, f"page {page} joins here")
            canvas.restoreState()
