"""What stands round a tile's window: check bars, the page's name, its neighbours, where to trim."""

from reportlab.pdfgen.canvas import Canvas

from shapecut.papers.pdf_pen import BOLD, PT_PER_MM, REGULAR, check_bar, fitted, latin
from shapecut.papers.tiling import Tile, Tiling

__all__ = ["draw_check_bars", "draw_margin", "draw_page_line"]

TITLE_SHARE = 0.4
"""A job's name takes no more than this share of the page's width at its foot."""


def draw_margin(canvas: Canvas, title: str, tiling: Tiling, page: int) -> None:
    """Draw everything round the window of a tile.

    Args:
        canvas: The tile's page, origin at its lower left corner.
        title: The job's name.
        tiling: All tiles.
        page: The page's number; the map is page 1.
    """
    tile = tiling.tiles[page - 2]
    _draw_trim_line(canvas, tiling, tile)
    _draw_neighbours(canvas, tiling, tile)
    draw_check_bars(canvas, tiling)
    place = f"column {tile.column}, row {tile.row}"
    draw_page_line(canvas, title, tiling, page, f"{place}  ·  scale 1:1, print at 100 %")


def draw_check_bars(canvas: Canvas, tiling: Tiling) -> None:
    """Draw a check bar along the lower margin and one up the left margin."""
    margins = tiling.margins
    check_bar(canvas, (margins.left, 11.5), upright=False)
    check_bar(canvas, (margins.left - 5.0, margins.bottom), upright=True)


def draw_page_line(canvas: Canvas, title: str, tiling: Tiling, page: int, words: str) -> None:
    """Write job, page and scale along the foot of a page."""
    margins = tiling.margins
    name = fitted(title, BOLD, 8, TITLE_SHARE * tiling.sheet.width_mm)
    line = f"{name}  ·  page {page} of {len(tiling.tiles) + 1}  ·  {words}"
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD, 8)
    canvas.drawString(margins.left * PT_PER_MM, 6.5 * PT_PER_MM, latin(line))


def _draw_trim_line(canvas: Canvas, tiling: Tiling, tile: Tile) -> None:
    """Draw the cell's border, the line to trim to where a page is laid onto its neighbour."""
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
