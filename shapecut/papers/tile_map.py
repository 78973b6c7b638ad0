"""The first of full-scale pages: which page goes where, and how to print and use them."""

from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from shapecut.papers.drawing import Layer
from shapecut.papers.pdf_pen import BOLD, PT_PER_MM, REGULAR, fitted, latin, stroke_paths
from shapecut.papers.spans import Box
from shapecut.papers.tile_margin import draw_check_bars, draw_page_line
from shapecut.papers.tile_set import TileSet
from shapecut.units import format_inches

__all__ = ["draw_map"]

PRINT = (
    "Print every page at 100 % (“actual size”), not fitted to the page. Measure both chequered "
    "bars: each must be 100 mm. If one is not, do not cut by these pages: state what they measure "
    "in job.toml, [papers] bar_along (along the sheet's long side, or along the roll) and "
    "bar_across, and make anew."
)

CAUTION = (
    "Saws and dust injure: guard fitted, work held down, eyes, ears and lungs protected, treated "
    "wood never burnt. Whether boards and supports will carry is for the local building "
    "code and licensed practice to decide, not for this print."
)

TEXT_PT, LEADING_PT = 9.0, 11.5

LEAST_MAP_MM = 30.0
"""A map lower than this is left out: the sheet has no room for it beside the instructions."""

MOST_MAP_MM = 250.0
"""A map is no wider and no higher, and the instructions no wider, however large the sheet."""


def draw_map(canvas: Canvas, pages: TileSet) -> None:
    """Draw the map on an empty page, its origin at the lower left corner."""
    usable, margins = pages.usable, pages.margins
    left, right = margins.left, usable.width_mm - margins.right
    top = usable.height_mm - margins.top - 6.0
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD, 16)
    heading = fitted(pages.title, BOLD, 16, right - left)
    canvas.drawString(left * PT_PER_MM, top * PT_PER_MM, heading)
    canvas.setFont(REGULAR, 10)
    canvas.drawString(
        left * PT_PER_MM,
        (top - 6.5) * PT_PER_MM,
        fitted(_size_line(pages), REGULAR, 10, right - left),
    )
    floor = _draw_text(canvas, pages, left, min(right, left + MOST_MAP_MM))
    ceiling = top - 12.0
    frame = Box(
        left, max(floor + 5.0, ceiling - MOST_MAP_MM), min(right, left + MOST_MAP_MM), ceiling
    )
    if frame.height > LEAST_MAP_MM:
        _draw_overview(canvas, pages, frame)
    draw_check_bars(canvas, pages)
    draw_page_line(canvas, pages, 1, "page map  ·  print at 100 %")


def _size_line(pages: TileSet) -> str:
    x0, y0, x1, y1 = pages.overview.on(Layer.CONTOUR).bounds()
    width, height = x1 - x0, y1 - y0
    count = len(pages.pages)
    return (
        f"{pages.name[0].upper()}{pages.name[1:]} at full scale: {width:.0f} × {height:.0f} mm "
        f"({format_inches(width)} × {format_inches(height)}), {count} "
        f"{'page' if count == 1 else 'pages'} after this map"
    )


def _paragraphs(pages: TileSet) -> list[tuple[str, str]]:
    printer = pages.printer
    words = [PRINT, *pages.how_to]
    if printer.scales(pages.sheet) != (1.0, 1.0):
        words.insert(
            1,
            f"These pages are drawn for a printer that makes {printer.bar_along_mm:g} mm of 100 mm "
            f"along the sheet and {printer.bar_across_mm:g} mm across it.",
        )
    return [*((REGULAR, f"{n}.  {text}") for n, text in enumerate(words, 1)), (BOLD, CAUTION)]


def _draw_text(canvas: Canvas, pages: TileSet, left: float, right: float) -> float:
    """Write the instructions up from the bottom; return the height they reach, mm."""
    width = (right - left) * PT_PER_MM
    lines = [
        (font, line)
        for font, text in _paragraphs(pages)
        for line in (*simpleSplit(latin(text), font, TEXT_PT, width), "")
    ][:-1]
    top = pages.margins.bottom * PT_PER_MM + LEADING_PT * len(lines)
    for index, (font, line) in enumerate(lines):
        canvas.setFont(font, TEXT_PT)
        canvas.drawString(left * PT_PER_MM, top - LEADING_PT * (index + 0.8), line)
    return float(top / PT_PER_MM)


def _draw_overview(canvas: Canvas, pages: TileSet, frame: Box) -> None:
    """Draw the plan small, with every page's windows and number over it, inside a frame."""
    prints = [(number, corners) for number, page in enumerate(pages.pages, start=2)
              for corners in pages.footprints(page)]  # fmt: skip
    x0, y0, x1, y1 = pages.overview.on(Layer.CONTOUR).bounds()
    xs = [x0, x1, *(x for _, corners in prints for x, _ in corners)]
    ys = [y0, y1, *(y for _, corners in prints for _, y in corners)]
    around = Box(min(xs), min(ys), max(xs), max(ys))
    scale = min(frame.width / around.width, frame.height / around.height, 1.0)
    canvas.saveState()
    canvas.translate(
        ((frame.x0 + frame.x1) / 2 - scale * (around.x0 + around.x1) / 2) * PT_PER_MM,
        ((frame.y0 + frame.y1) / 2 - scale * (around.y0 + around.y1) / 2) * PT_PER_MM,
    )
    canvas.scale(scale, scale)
    for number, corners in prints:
        _draw_footprint(canvas, number, corners, scale)
    for layer, width_mm, grey in ((Layer.CONTOUR, 0.15, 0.45), (Layer.CUT, 0.4, 0.0)):
        canvas.setStrokeGray(grey)
        canvas.setLineWidth(width_mm * PT_PER_MM / scale)
        stroke_paths(canvas, pages.overview.on(layer).strokes)
    canvas.restoreState()


def _draw_footprint(
    canvas: Canvas, number: int, corners: tuple[tuple[float, float], ...], scale: float
) -> None:
    """Draw one window's border with its page's number in it, readable upright."""
    canvas.setStrokeGray(0.55)
    canvas.setLineWidth(0.2 * PT_PER_MM / scale)
    path = canvas.beginPath()
    path.moveTo(*(side * PT_PER_MM for side in corners[0]))
    for corner in corners[1:]:
        path.lineTo(*(side * PT_PER_MM for side in corner))
    path.close()
    canvas.drawPath(path, stroke=1, fill=0)
    xs, ys = zip(*corners, strict=True)
    room = min(max(xs) - min(xs), max(ys) - min(ys)) * PT_PER_MM
    size = max(room / 2.2, 7 / scale)
    canvas.setFillGray(0.6)
    canvas.setFont(BOLD, size)
    x, y = (sum(side) / len(side) * PT_PER_MM for side in (xs, ys))
    canvas.drawCentredString(x, y - 0.36 * size, str(number))
