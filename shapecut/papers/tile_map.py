"""The first page of the tiles: which page goes where, and how to print and join them."""

from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from shapecut.papers.drawing import Drawing, Layer
from shapecut.papers.pdf_pen import BOLD, PT_PER_MM, REGULAR, fitted, latin, stroke_paths
from shapecut.papers.tile_margin import draw_check_bars, draw_page_line
from shapecut.papers.tiling import Box, Tiling
from shapecut.units import format_inches

__all__ = ["draw_map"]

HOW_TO = (
    "Print every page at 100 % (“actual size”), not fitted to the page. Measure both "
    "chequered bars: each must be 100 mm. If one is not, do not cut by these pages.",
    "Lay neighbouring pages so that crosses of the same number lie exactly on one another; hold a "
    "page against the light if need be. Trim along the dotted line and tape.",
    "Black lines are saw cuts; the allowance is already in them. Grey lines are the boards' own "
    "edges, the faintest those of the boards before they are cut.",
    "Check one long dimension of the taped sheet with a tape measure before the first cut.",
)

CAUTION = (
    "Saws and dust injure: guard fitted, work held down, eyes, ears and lungs protected, treated "
    "wood never burnt. Whether boards and supports will carry is for the local building "
    "code and licensed practice to decide, not for this print."
)

TEXT_PT, LEADING_PT = 9.0, 11.5


def draw_map(canvas: Canvas, drawing: Drawing, tiling: Tiling) -> None:
    """Draw the map of all pages on a page of its own.

    Args:
        canvas: At the start of an empty page of the tiling's sheet.
        drawing: The whole plan.
        tiling: The pages over it.
    """
    sheet, margins = tiling.sheet, tiling.margins
    left, right = margins.left, sheet.width_mm - margins.right
    top = sheet.height_mm - margins.top - 6.0
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD, 16)
    heading = fitted(drawing.title, BOLD, 16, right - left)
    canvas.drawString(left * PT_PER_MM, top * PT_PER_MM, heading)
    canvas.setFont(REGULAR, 10)
    canvas.drawString(left * PT_PER_MM, (top - 6.5) * PT_PER_MM, latin(_size_line(drawing, tiling)))
    floor = _draw_text(canvas, left, right, margins.bottom)
    _draw_overview(canvas, drawing, tiling, Box(left, floor + 5.0, right, top - 12.0))
    draw_check_bars(canvas, tiling)
    draw_page_line(canvas, drawing.title, tiling, 1, "page map  ·  print at 100 %")
    canvas.showPage()


def _size_line(drawing: Drawing, tiling: Tiling) -> str:
    x0, y0, x1, y1 = drawing.on(Layer.CONTOUR).bounds()
    width, height = x1 - x0, y1 - y0
    return (
        f"Plan at full scale: {width:.0f} × {height:.0f} mm "
        f"({format_inches(width)} × {format_inches(height)}) on {len(tiling.tiles)} pages after "
        "this map"
    )


def _draw_text(canvas: Canvas, left: float, right: float, bottom: float) -> float:
    """Write the instructions up from the bottom; return the height they reach, mm."""
    width = (right - left) * PT_PER_MM
    paragraphs = [(REGULAR, f"{n}.  {text}") for n, text in enumerate(HOW_TO, start=1)]
    paragraphs.append((BOLD, CAUTION))
    lines = [
        (font, line)
        for font, text in paragraphs
        for line in (*simpleSplit(latin(text), font, TEXT_PT, width), "")
    ][:-1]
    top = bottom * PT_PER_MM + LEADING_PT * len(lines)
    for index, (font, line) in enumerate(lines):
        canvas.setFont(font, TEXT_PT)
        canvas.drawString(left * PT_PER_MM, top - LEADING_PT * (index + 0.8), line)
    return float(top / PT_PER_MM)


def _draw_overview(canvas: Canvas, drawing: Drawing, tiling: Tiling, frame: Box) -> None:
    """Draw the plan small, with every page's cell and number over it, inside a frame on paper."""
    cells = [tile.cell for tile in tiling.tiles]
    x0, y0 = min(cell.x0 for cell in cells), min(cell.y0 for cell in cells)
    x1, y1 = max(cell.x1 for cell in cells), max(cell.y1 for cell in cells)
    scale = min((frame.x1 - frame.x0) / (x1 - x0), (frame.y1 - frame.y0) / (y1 - y0), 1.0)
    canvas.saveState()
    canvas.translate(
        ((frame.x0 + frame.x1) / 2 - scale * (x0 + x1) / 2) * PT_PER_MM,
        ((frame.y0 + frame.y1) / 2 - scale * (y0 + y1) / 2) * PT_PER_MM,
    )
    canvas.scale(scale, scale)
    canvas.setFillGray(0.0)
    for cell, page in zip(cells, range(2, len(cells) + 2), strict=True):
        canvas.setStrokeGray(0.55)
        canvas.setLineWidth(0.2 * PT_PER_MM / scale)
        corner = (cell.x0 * PT_PER_MM, cell.y0 * PT_PER_MM)
        width, height = (cell.x1 - cell.x0) * PT_PER_MM, (cell.y1 - cell.y0) * PT_PER_MM
        canvas.rect(*corner, width, height)
        canvas.setFillGray(0.6)
        canvas.setFont(BOLD, min(width, height) / 2.2)
        canvas.drawCentredString(
            corner[0] + width / 2, corner[1] + height / 2 - min(width, height) / 6, str(page)
        )
    for layer, width_mm, grey in ((Layer.CONTOUR, 0.15, 0.45), (Layer.CUT, 0.4, 0.0)):
        canvas.setStrokeGray(grey)
        canvas.setLineWidth(width_mm * PT_PER_MM / scale)
        stroke_paths(canvas, drawing.on(layer).strokes)
    canvas.restoreState()
