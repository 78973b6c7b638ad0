"""Printable sheets of our own cards: a vector PDF, every mark exactly at its stated place.

All drawing is in millimetres, y up.  Cards of all sizes fill the same block of a sheet, centred on
A4 and Letter alike, with at least 10 mm to the paper's edges.  A mark is one filled path: cells
painted one by one would show hairlines between them in many viewers.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO

import numpy as np
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

from shapecut.capture.card_sizes import CARD_SIZES, OWN_DICTIONARY, CardSize
from shapecut.capture.check_bars import draw_check_bar
from shapecut.capture.patterns import mark_cells
from shapecut.errors import UsageError
from shapecut.shape.placement import Point

__all__ = ["PAPERS_MM", "card_sheets_pdf"]

PAPERS_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
"""Width and height, portrait; ISO 216 and ANSI/ASME Y14.1 (8 1/2 x 11 in)."""

BLOCK_MM = (190.0, 258.0)
"""The block that the cards of one sheet, and a sheet's own check bars, fill together."""

_INK, _FAINT = 0.0, 0.55
_FINE_MM, _RING_MM = 0.15, 0.3

_HOW_TO = ("Print at 100 %,", "measure both bars,", "type in what you", "measured.")


@dataclass(frozen=True)
class _Face:
    """Where the words stand, mm.

    Attributes:
        number_at: Middle of the card number's feet, card frame; it stands again turned by 180°.
        number_mm: Type size of the number.
        text_mm: Type size of the instruction and the notes.
        text_at: Start of the instruction's first line, card frame.
        notes_at: Start of the lines to note the measured bars on, card frame.
        bars_on_card: False where they do not fit; bars, instruction (in one line) and notes then
            stand once on the sheet, in the sheet's frame with the block's lower left as origin.
    """

    number_at: Point
    number_mm: float
    text_mm: float
    text_at: Point
    notes_at: Point
    bars_on_card: bool = True


_FACES = {
    "small": _Face((0.0, 11.0), 13.0, 3.0, (14.0, 1.5), (126.0, 11.0), bars_on_card=False),
    "half": _Face((-20.0, 27.0), 24.0, 3.0, (8.0, 47.0), (8.0, 26.0)),
    "full": _Face((-48.0, 10.0), 34.0, 3.6, (12.0, 31.0), (50.0, 27.0)),
}


def card_sheets_pdf(
    *, size: str = "half", page: str = "A4", first: int | None = None, count: int = 6
) -> bytes:
    """Draw numbered cards, as many a sheet as fit.

    Args:
        size: `small`, `half` or `full` (see `card_sizes`).
        page: `A4` or `Letter`.
        first: Number of the first card; None for the size's first.
        count: How many cards.

    Returns:
        A PDF file; the same arguments give the same bytes.

    Raises:
        UsageError: If size, paper or numbers are not among those there are.
    """
    if size not in CARD_SIZES:
        raise UsageError(f'There is no card size "{size}": choose {", ".join(CARD_SIZES)}.')
    if page not in PAPERS_MM:
        raise UsageError(f'Cards are not made for "{page}" paper: choose {" or ".join(PAPERS_MM)}.')
    card_size = CARD_SIZES[size]
    cards = _chosen(card_size, first, count)
    data = BytesIO()
    width, height = PAPERS_MM[page]
    canvas = Canvas(data, pagesize=(width * mm, height * mm), invariant=1)
    canvas.setTitle(f"Reference cards {cards[0]} to {cards[-1]}, {size}, {page}")
    canvas.setCreator("shapecut")
    canvas.setViewerPreference("PrintScaling", "None")
    per_sheet = card_size.grid[0] * card_size.grid[1]
    for start in range(0, len(cards), per_sheet):
        canvas.scale(mm, mm)
        canvas.translate((width - BLOCK_MM[0]) / 2, (height - BLOCK_MM[1]) / 2)
        _draw_sheet(canvas, card_size, cards[start : start + per_sheet])
        canvas.showPage()
    canvas.save()
    return data.getvalue()


def _chosen(size: CardSize, first: int | None, count: int) -> range:
    lowest, highest = size.numbers[0], size.numbers[-1]
    start = lowest if first is None else first
    cards = range(start, start + count)
    if count < 1 or start < lowest or cards[-1] > highest:
        raise UsageError(
            f"{count} cards from number {start} on cannot be printed: {size.name} cards are "
            f"numbered {lowest} to {highest}."
        )
    return cards


def _draw_sheet(canvas: Canvas, size: CardSize, cards: Sequence[int]) -> None:
    """Draw one sheet's cards, row by row from the top; origin at the block's lower left."""
    columns = size.grid[0]
    right, top = BLOCK_MM
    left = right - columns * size.width_mm
    for place, card in enumerate(cards):
        row, column = divmod(place, columns)
        canvas.saveState()
        canvas.translate(left + (column + 0.5) * size.width_mm, top - (row + 0.5) * size.height_mm)
        _draw_card(canvas, size, card)
        canvas.restoreState()
    face = _FACES[size.name]
    if not face.bars_on_card:
        bottom = top - size.grid[1] * size.height_mm
        draw_check_bar(canvas, start=(left, bottom - 7.0), direction="across")
        draw_check_bar(canvas, start=(left - 7.0, bottom), direction="along")
        _draw_words(canvas, (" ".join(_HOW_TO),), face)


def _draw_card(canvas: Canvas, size: CardSize, card: int) -> None:
    """Draw one card round the origin."""
    face = _FACES[size.name]
    canvas.setStrokeGray(_FAINT)
    canvas.setLineWidth(_FINE_MM)
    canvas.rect(-size.width_mm / 2, -size.height_mm / 2, size.width_mm, size.height_mm)
    for number, centre in size.marks(card):
        _draw_mark(canvas, number, centre=centre, side_mm=size.mark_mm)
    for turn in (0, 180):
        canvas.saveState()
        canvas.rotate(turn)
        _draw_number(canvas, card, face)
        canvas.restoreState()
    _draw_centre(canvas)
    if face.bars_on_card:
        draw_check_bar(canvas, start=(-50.0, 0.0), direction="across", skip_middle=True)
        draw_check_bar(canvas, start=(0.0, -50.0), direction="along", skip_middle=True)
        _draw_words(canvas, _HOW_TO, face)


def _draw_mark(canvas: Canvas, number: int, *, centre: Point, side_mm: float) -> None:
    """Fill the runs of black cells of every row, as one path."""
    black = mark_cells(OWN_DICTIONARY, number)
    cell = side_mm / len(black)
    left, top = centre[0] - side_mm / 2, centre[1] + side_mm / 2
    path = canvas.beginPath()
    for row, cells in enumerate(black):
        ends = np.flatnonzero(np.diff(cells, prepend=False, append=False)).tolist()
        for start, end in zip(ends[::2], ends[1::2], strict=True):
            path.rect(left + start * cell, top - (row + 1) * cell, (end - start) * cell, cell)
    canvas.setFillGray(_INK)
    canvas.drawPath(path, stroke=0, fill=1)


def _draw_number(canvas: Canvas, card: int, face: _Face) -> None:
    x, y = face.number_at
    canvas.setFillGray(_INK)
    canvas.setFont("Helvetica-Bold", face.number_mm)
    canvas.drawCentredString(x, y, str(card))
    canvas.setFont("Helvetica", face.number_mm / 6)
    canvas.drawCentredString(x, y + 0.85 * face.number_mm, "card")


def _draw_centre(canvas: Canvas) -> None:
    """Draw the cross and ring that a tape is hooked on or held to."""
    canvas.setStrokeGray(_INK)
    canvas.setLineWidth(_RING_MM)
    canvas.circle(0.0, 0.0, 2.5, stroke=1, fill=0)
    canvas.setLineWidth(_FINE_MM)
    canvas.line(-4.0, 0.0, 4.0, 0.0)
    canvas.line(0.0, -4.0, 0.0, 4.0)


def _draw_words(canvas: Canvas, how_to: Sequence[str], face: _Face) -> None:
    """Write the instruction, and the lines to note what was measured."""
    size = face.text_mm
    canvas.setFillGray(_INK)
    canvas.setFont("Helvetica", size)
    x, y = face.text_at
    for line, words in enumerate(how_to):
        canvas.drawString(x, y - 1.4 * size * line, words)
    canvas.setStrokeGray(_FAINT)
    canvas.setLineWidth(_FINE_MM)
    x, y = face.notes_at
    for line, direction in enumerate(("across", "along")):
        feet = y - 2.2 * size * line
        canvas.drawString(x, feet, direction)
        canvas.line(x + 3.2 * size, feet, x + 7.2 * size, feet)
        canvas.drawString(x + 7.5 * size, feet, "mm")
