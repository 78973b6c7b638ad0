"""Print a set of full-scale pages as one PDF: the map of the pages, then the pages."""

import math
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from shapecut.papers.drawing import Drawing, Layer, Text
from shapecut.papers.paper import Sheet
from shapecut.papers.pdf_pen import (
    PT_PER_MM,
    REGULAR,
    define_check_bars,
    define_register_mark,
    latin,
    stroke_paths,
)
from shapecut.papers.tile_map import draw_map
from shapecut.papers.tile_margin import draw_margin
from shapecut.papers.tile_set import TileSet, Window

__all__ = ["tile_set_pdf"]

CAP_HEIGHT = 0.72
"""Height of a capital of the standard fonts as a share of the font size."""

_PENS = {
    Layer.WASTE: (0.1, 0.55, ()),
    Layer.ROW: (0.15, 0.72, ()),
    Layer.JOIST: (0.15, 0.6, (9.0, 3.0)),
    Layer.SETTING_OUT: (0.2, 0.3, ()),
    Layer.FASTENER: (0.2, 0.2, ()),
    Layer.POINT: (0.25, 0.0, ()),
    Layer.FIELD: (0.25, 0.35, (4.0, 2.0)),
    Layer.REFERENCE: (0.15, 0.35, (3.0, 1.5)),
    Layer.BOARD_EDGE: (0.25, 0.5, ()),
    Layer.CUT: (0.3, 0.0, ()),
    Layer.DRILL: (0.2, 0.0, ()),
}
"""Line width in mm, grey level (0 black) and dashes in mm of each layer, in drawing order."""

_TEXT_GREY = {Layer.LABEL: 0.35, Layer.EDGE_NAME: 0.75}


def tile_set_pdf(pages: TileSet) -> bytes:
    """Print a set of pages; equal input gives equal bytes."""
    stream = BytesIO()
    canvas = Canvas(stream, pagesize=_size_pt(pages.sheet), invariant=1, pageCompression=1)
    canvas.setTitle(latin(f"{pages.title}: {pages.name} at full scale"))
    canvas.setCreator("shapecut")
    define_check_bars(canvas)
    define_register_mark(canvas)
    for number, subject in enumerate(pages.subjects):
        _define(canvas, _form(number), subject.drawing)
    front = pages.front
    canvas.setPageSize(_size_pt(front.sheet))
    with _corrected(canvas, front):
        draw_map(canvas, front)
    canvas.showPage()
    canvas.setPageSize(_size_pt(pages.sheet))
    for number, page in enumerate(pages.pages, start=2):
        with _corrected(canvas, pages):
            for window in page.windows:
                _draw_window(canvas, pages, window)
            draw_margin(canvas, pages, number)
        canvas.showPage()
    canvas.save()
    return stream.getvalue()


def _size_pt(sheet: Sheet) -> tuple[float, float]:
    return (sheet.width_mm * PT_PER_MM, sheet.height_mm * PT_PER_MM)


def _form(subject: int) -> str:
    return f"subject-{subject}"


@contextmanager
def _corrected(canvas: Canvas, pages: TileSet) -> Iterator[None]:
    """Draw so that the printer makes true millimetres of it, in the middle of the sheet."""
    x, y = pages.printer.scales(pages.sheet)
    usable = pages.usable
    canvas.saveState()
    canvas.translate(pages.sheet.width_mm / 2 * PT_PER_MM, pages.sheet.height_mm / 2 * PT_PER_MM)
    canvas.scale(1 / x, 1 / y)
    canvas.translate(-usable.width_mm / 2 * PT_PER_MM, -usable.height_mm / 2 * PT_PER_MM)
    yield
    canvas.restoreState()


def _define(canvas: Canvas, name: str, drawing: Drawing) -> None:
    """Put a drawing into the file once; every page shows its part of it."""
    x0, y0, x1, y1 = drawing.bounds()
    canvas.beginForm(name, *(side * PT_PER_MM for side in (x0 - 1, y0 - 1, x1 + 1, y1 + 1)))
    _draw_items(canvas, drawing)
    canvas.endForm()


def _draw_items(canvas: Canvas, drawing: Drawing) -> None:
    canvas.setLineCap(1)
    canvas.setLineJoin(1)
    for layer, (width_mm, grey, dashes) in _PENS.items():
        strokes = drawing.on(layer).strokes
        if strokes:
            canvas.setLineWidth(width_mm * PT_PER_MM)
            canvas.setStrokeGray(grey)
            canvas.setDash([dash * PT_PER_MM for dash in dashes])
            stroke_paths(canvas, strokes)
    canvas.setDash([])
    for text in drawing.texts:
        if text.layer is not Layer.LABEL:
            _draw_text(canvas, text)


def _draw_window(canvas: Canvas, pages: TileSet, window: Window) -> None:
    subject = pages.subjects[window.subject]
    box = window.box
    canvas.saveState()
    canvas.translate(
        (window.corner[0] - box.x0) * PT_PER_MM, (window.corner[1] - box.y0) * PT_PER_MM
    )
    clip = canvas.beginPath()
    clip.rect(*(side * PT_PER_MM for side in (box.x0, box.y0, box.width, box.height)))
    canvas.setLineWidth(0.1 * PT_PER_MM)
    canvas.setStrokeGray(0.7)
    canvas.clipPath(clip, stroke=int(window.framed), fill=0)
    canvas.doForm(_form(window.subject))
    _draw_items(canvas, Drawing("", window.own))
    for label in subject.labels:
        if text := label.seen_in(box):
            _draw_text(canvas, text)
    canvas.restoreState()


def _draw_text(canvas: Canvas, text: Text) -> None:
    x, y = text.at
    canvas.saveState()
    canvas.translate(x * PT_PER_MM, y * PT_PER_MM)
    canvas.rotate(math.degrees(text.turn_rad))
    canvas.setFillGray(_TEXT_GREY.get(text.layer, 0.0))
    canvas.setFont(REGULAR, text.height_mm / CAP_HEIGHT * PT_PER_MM)
    canvas.drawCentredString(0, -text.height_mm / 2 * PT_PER_MM, latin(text.text))
    canvas.restoreState()
