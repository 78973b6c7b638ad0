"""What stands round a page's windows: check bars, the page's name, seams and register marks."""

from reportlab.pdfgen.canvas import Canvas

from shapecut.papers.pdf_pen import (
    BOLD,
    PT_PER_MM,
    REGULAR,
    CheckBarDirection,
    check_bar,
    fitted,
    latin,
    register_mark,
)
from shapecut.papers.tile_set import Seam, TileSet

__all__ = ["draw_check_bars", "draw_margin", "draw_page_line"]

TITLE_SHARE = 0.3
"""A job's name takes no more than this share of the page's width at its foot."""

PIECES_SHARE = 0.35
"""The labels of the pieces on a page take no more than this share."""


def draw_margin(canvas: Canvas, pages: TileSet, number: int) -> None:
    """Draw everything round the windows of a page.

    Args:
        canvas: The page, origin at its lower left corner.
        pages: All of them.
        number: The page's; the map is page 1.
    """
    page = pages.pages[number - 2]
    for seam in page.seams:
        _draw_seam(canvas, pages, seam)
    draw_check_bars(canvas, pages)
    word = "piece" if len(page.pieces) == 1 else "pieces"
    labels = f"{word} {', '.join(page.pieces)}" if page.pieces else pages.name
    shown = fitted(labels, BOLD, 8, PIECES_SHARE * pages.usable.width_mm)
    draw_page_line(canvas, pages, number, f"{shown}  ·  scale 1:1, print at 100 %")


def draw_check_bars(canvas: Canvas, pages: TileSet) -> None:
    """Draw a check bar along the lower margin and one up the left margin."""
    margins, lying = pages.margins, pages.sheet.fed_level
    level: CheckBarDirection = "along" if lying else "across"
    upright: CheckBarDirection = "across" if lying else "along"
    check_bar(canvas, (margins.left, 11.5), upright=False, direction=level)
    check_bar(canvas, (margins.left - 5.0, margins.bottom), upright=True, direction=upright)


def draw_page_line(canvas: Canvas, pages: TileSet, number: int, words: str) -> None:
    """Write job, page and scale along the foot of a page."""
    name = fitted(pages.title, BOLD, 8, TITLE_SHARE * pages.usable.width_mm)
    line = f"{name}  ·  {pages.name}, page {number} of {len(pages.pages) + 1}  ·  {words}"
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD, 8)
    width = pages.usable.width_mm - pages.margins.left - 4.0
    canvas.drawString(pages.margins.left * PT_PER_MM, 6.5 * PT_PER_MM, fitted(line, BOLD, 8, width))


def _draw_seam(canvas: Canvas, pages: TileSet, seam: Seam) -> None:
    """Draw where to trim, the register marks, and which page joins there."""
    line = seam.line
    canvas.saveState()
    canvas.setStrokeGray(0.6)
    canvas.setLineWidth(0.1 * PT_PER_MM)
    canvas.setDash(1, 3)
    canvas.line(*(side * PT_PER_MM for side in (*line.start, *line.end)))
    canvas.restoreState()
    for name, at in seam.marks:
        register_mark(canvas, at, name)
    margins, usable = pages.margins, pages.usable
    middle = (
        (margins.left + usable.width_mm - margins.right) / 2,
        (margins.bottom + usable.height_mm - margins.top) / 2,
    )
    x, y = line.at(0.5)
    half = margins.overlap / 2
    if abs(line.direction()[0]) > 0.5:
        above = y > middle[1]
        place, turn = (x, y + half + 1.5 if above else y - half - 4.0), 0.0
    else:
        right = x > middle[0]
        place, turn = (x + half + 1.5 if right else x - half - 1.5, y), (270.0 if right else 90.0)
    canvas.saveState()
    canvas.translate(*(side * PT_PER_MM for side in place))
    canvas.rotate(turn)
    canvas.setFillGray(0.0)
    canvas.setFont(REGULAR, 7)
    joint = seam.marks[0][0].rstrip("ab")
    canvas.drawCentredString(0, 0, latin(f"joint {joint}: page {seam.page} joins here"))
    canvas.restoreState()
