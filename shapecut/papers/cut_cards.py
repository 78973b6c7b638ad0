"""Cut cards on paper: one piece a card, two or four cards a sheet."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from shapecut.layout.layout import Layout
from shapecut.papers.card_sketch import CardSketch, card_sketch
from shapecut.papers.card_words import CardWords, cards_in_order
from shapecut.papers.cut_card import CutCard
from shapecut.papers.paper import Paper, sheet_of
from shapecut.papers.pdf_pen import BOLD, PT_PER_MM, REGULAR, fitted, latin
from shapecut.shape.outline import Edge, Treatment
from shapecut.stock.cutplan import CutPlan

__all__ = ["cut_cards_pdf"]

ToPage = Callable[[Sequence[float]], tuple[float, float]]
"""From a sketch's frame to points of the page."""

LEAST_CARD_MM = (180.0, 125.0)
"""As many cards lie on a sheet as have at least this width and height."""

MARGIN_MM = 9.0
SKETCH_MM = 34.0
"""Height kept for the sketch."""

LINE_MM = 4.1
TEXT_PT = 8.0
MARK_PT = 6.5
COLUMN_GAP_MM = 6.0
MARKS_SHARE = 0.44
"""Share of a card's width that the list of marks takes."""


def cut_cards_pdf(
    layout: Layout,
    plan: CutPlan,
    *,
    title: str,
    paper: Paper,
    units: str = "mm",
    denominator: int = 16,
    edges: Sequence[Edge] = (),
    allowances: Mapping[Treatment, float] | None = None,
) -> bytes:
    """Print every piece's card, in the order in which the boards are sawn.

    Args:
        layout: The pieces.
        plan: The boards they are cut from.
        title: The job's name, on every card.
        paper: The sheets to print on; the cards need no scale.
        units: `mm` or `in`, which the marks are rounded in; both are printed.
        denominator: Inches are rounded to 1/denominator.
        edges: The outline's.
        allowances: How far boards reach past (+) or stay back from (-) edges, mm, by treatment.

    Returns:
        A PDF; equal input gives equal bytes.
    """
    written = CardWords.about(edges, allowances or {}, units=units, denominator=denominator)
    sheet = _Sheet.of(paper, title)
    for one in cards_in_order(layout, plan, written):
        sheet.draw(one.card, card_sketch(one.piece, one.card), one.heading, written)
    return sheet.finished()


@dataclass
class _Sheet:
    """The sheets being filled with cards, from the top left."""

    canvas: Canvas
    stream: BytesIO
    title: str
    columns: int
    rows: int
    card: tuple[float, float]
    filled: int = 0

    @classmethod
    def of(cls, paper: Paper, title: str) -> "_Sheet":
        sheet = sheet_of(paper)
        columns = max(1, int(sheet.width_mm // LEAST_CARD_MM[0]))
        rows = max(1, int(sheet.height_mm // LEAST_CARD_MM[1]))
        stream = BytesIO()
        size = (sheet.width_mm * PT_PER_MM, sheet.height_mm * PT_PER_MM)
        canvas = Canvas(stream, pagesize=size, invariant=1, pageCompression=1)
        canvas.setTitle(latin(f"{title}: cut cards"))
        canvas.setCreator("shapecut")
        card = (sheet.width_mm / columns, sheet.height_mm / rows)
        return cls(canvas, stream, title, columns, rows, card)

    def draw(
        self, card: CutCard, sketch: CardSketch, heading: Sequence[str], written: CardWords
    ) -> None:
        """Draw one piece's card, and further ones for what has no room on it."""
        width = self.card[0] - 2 * MARGIN_MM - COLUMN_GAP_MM
        marks = list(_wrapped(_mark_lines(card, written), MARKS_SHARE * width))
        words = [*map(written.cut, card.cuts), *written.notes(card)]
        cuts = list(_wrapped(words, (1 - MARKS_SHARE) * width))
        number = 1
        while True:
            top = self._begin(card, heading if number == 1 else (), number)
            if number == 1:
                _draw_sketch(self.canvas, card, sketch, (MARGIN_MM, top - SKETCH_MM), width)
                top -= SKETCH_MM + LINE_MM
            room = int((top - MARGIN_MM) / LINE_MM)
            self._text(marks[:room], (MARGIN_MM, top))
            self._text(cuts[:room], (MARGIN_MM + MARKS_SHARE * width + COLUMN_GAP_MM, top))
            self._end()
            marks, cuts, number = marks[room:], cuts[room:], number + 1
            if not marks and not cuts:
                return

    def _begin(self, card: CutCard, heading: Sequence[str], number: int) -> float:
        """Move to the next free card and write its head; returns how far up there is room."""
        column, row = self.filled % self.columns, self.filled // self.columns % self.rows
        if self.filled and not column and not row:
            self.canvas.showPage()
        width, height = self.card
        canvas = self.canvas
        canvas.saveState()
        canvas.translate(column * width * PT_PER_MM, (self.rows - 1 - row) * height * PT_PER_MM)
        canvas.setLineWidth(0.2)
        canvas.setStrokeGray(0.5)
        canvas.setDash(2, 3)
        canvas.rect(0, 0, width * PT_PER_MM, height * PT_PER_MM)
        canvas.setDash()
        canvas.setFillGray(0.0)
        top = height - MARGIN_MM - 5.0
        canvas.setFont(BOLD, 18)
        name = card.label if number == 1 else f"{card.label}, card {number}"
        canvas.drawString(MARGIN_MM * PT_PER_MM, top * PT_PER_MM, latin(name))
        canvas.setFont(REGULAR, TEXT_PT)
        canvas.drawRightString(
            (width - MARGIN_MM) * PT_PER_MM,
            top * PT_PER_MM,
            fitted(self.title, REGULAR, TEXT_PT, width / 2),
        )
        top -= 1.5 * LINE_MM
        self._text(heading, (MARGIN_MM, top))
        return top - LINE_MM * len(heading)

    def _text(self, lines: Sequence[str], at: tuple[float, float]) -> None:
        """Write lines downwards from a place, mm."""
        self.canvas.setFont(REGULAR, TEXT_PT)
        for place, line in enumerate(lines):
            y = at[1] - place * LINE_MM
            self.canvas.drawString(at[0] * PT_PER_MM, y * PT_PER_MM, latin(line))

    def _end(self) -> None:
        self.canvas.restoreState()
        self.filled += 1

    def finished(self) -> bytes:
        """The whole file."""
        self.canvas.showPage()
        self.canvas.save()
        return self.stream.getvalue()


def _mark_lines(card: CutCard, written: CardWords) -> Iterator[str]:
    for mark in card.marks:
        yield f"{mark.name}:  {written.mark(mark)}"


def _wrapped(lines: Sequence[str] | Iterator[str], width_mm: float) -> Iterator[str]:
    for line in lines:
        yield from simpleSplit(latin(line), REGULAR, TEXT_PT, width_mm * PT_PER_MM)


def _draw_sketch(
    canvas: Canvas, card: CutCard, sketch: CardSketch, at: tuple[float, float], width: float
) -> None:
    """Draw a sketch into a box `width` by `SKETCH_MM`, its lower left corner at a place, mm."""
    scale = min(width / sketch.length, 0.72 * SKETCH_MM / sketch.width)
    left, low = at[0], at[1] + (SKETCH_MM - scale * sketch.width) / 2

    def pt(point: Sequence[float]) -> tuple[float, float]:
        return ((left + scale * point[0]) * PT_PER_MM, (low + scale * point[1]) * PT_PER_MM)

    canvas.setLineWidth(0.25)
    canvas.setStrokeGray(0.45)
    for stroke in sketch.hatching:
        canvas.line(*pt(stroke[0]), *pt(stroke[1]))
    canvas.rect(
        *pt((0.0, 0.0)), *(scale * PT_PER_MM * side for side in (sketch.length, sketch.width))
    )
    canvas.setLineWidth(1.1)
    canvas.setStrokeGray(0.0)
    for chain in sketch.contour:
        path = canvas.beginPath()
        path.moveTo(*pt(chain[0]))
        for point in chain[1:]:
            path.lineTo(*pt(point))
        canvas.drawPath(path, stroke=1, fill=0)
    _draw_breaks(canvas, sketch, pt)
    for mark, point in zip(card.marks, sketch.marks, strict=True):
        if "." not in mark.name:
            _draw_mark(canvas, mark.name, pt(point), above=2 * point[1] > sketch.width)
    canvas.saveState()
    canvas.translate(*pt((0.0, sketch.width / 2)))
    canvas.rotate(90)
    canvas.drawCentredString(0, 4, "reference end")
    canvas.restoreState()


BREAK_MM = 1.4
"""Half the distance of the two slanted strokes that show a shortened stretch, on paper."""

DOT_MM = 0.55

CAP_HEIGHT = 0.72
"""Height of a capital of the standard fonts as a share of the font size."""


def _draw_breaks(canvas: Canvas, sketch: CardSketch, pt: ToPage) -> None:
    """White out a sliver of the board where it is shortened, between two slanted strokes."""
    reach = BREAK_MM * PT_PER_MM
    for along in sketch.breaks:
        (x, low), (_, high) = pt((along, -0.08 * sketch.width)), pt((along, 1.08 * sketch.width))
        path = canvas.beginPath()
        path.moveTo(x - 2 * reach, low)
        path.lineTo(x, high)
        path.lineTo(x + 2 * reach, high)
        path.lineTo(x, low)
        path.close()
        canvas.setFillGray(1.0)
        canvas.drawPath(path, stroke=0, fill=1)
        canvas.setLineWidth(0.4)
        canvas.line(x - 2 * reach, low, x, high)
        canvas.line(x, low, x + 2 * reach, high)
    canvas.setFillGray(0.0)


def _draw_mark(canvas: Canvas, name: str, at: tuple[float, float], *, above: bool) -> None:
    """A dot on the contour, and the mark's number above or below it on white."""
    x, y = at
    canvas.setFont(BOLD, MARK_PT)
    width, low = canvas.stringWidth(name), y + (3.0 if above else -3.0 - CAP_HEIGHT * MARK_PT)
    canvas.setFillGray(1.0)
    canvas.rect(x - width / 2 - 0.7, low - 0.7, width + 1.4, CAP_HEIGHT * MARK_PT + 1.4, 0, 1)
    canvas.setFillGray(0.0)
    canvas.circle(x, y, DOT_MM * PT_PER_MM, stroke=0, fill=1)
    canvas.drawCentredString(x, low, name)
