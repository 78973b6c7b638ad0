"""Cut cards on paper: one piece a card, each as high as it needs, one below the other."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO

from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from shapecut.layout.layout import Layout
from shapecut.layout.left_long import Trim
from shapecut.papers.card_drawing import SKETCH_MM, define_plan_map, draw_place, draw_sketch
from shapecut.papers.card_sketch import card_sketch
from shapecut.papers.card_words import CardWords, WrittenCard, cards_in_order
from shapecut.papers.cut_card import CutCard
from shapecut.papers.paper import Paper, Sheet, sheet_of
from shapecut.papers.pdf_pen import BOLD, PT_PER_MM, REGULAR, fitted, latin
from shapecut.papers.plan_map import PlanMap, plan_map
from shapecut.shape.outline import Edge, Treatment
from shapecut.stock.cutplan import CutPlan

__all__ = ["cut_cards_pdf"]

LEAST_CARD_MM = 180.0
"""As many columns of cards lie on a sheet as are at least so wide."""

MARGIN_MM, EDGE_MM = 9.0, 6.0
"""Room at a card's sides, and at its upper and lower edge."""

HEAD_MM = 11.5
"""From a card's upper edge to the first line under its name."""

LINE_MM = 4.1
TEXT_PT = 8.0
COLUMN_GAP_MM = 6.0
MARKS_SHARE = 0.44
"""Share of a card's width that the list of marks takes."""

PLACE_SHARE = 0.22
"""Share of a card's width that the place in the plan takes."""


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
    trims: Sequence[Trim] = (),
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
        trims: Where boards are left long and trimmed once they are laid.

    Returns:
        A PDF; equal input gives equal bytes.
    """
    written = CardWords.about(
        edges, allowances or {}, units=units, denominator=denominator, trims=trims
    )
    sheets = _Sheets.of(sheet_of(paper), title, plan_map(layout))
    for one in cards_in_order(layout, plan, written):
        sheets.draw(one, written)
    return sheets.finished()


@dataclass
class _Sheets:
    """The sheets being filled with cards, column by column from the top left."""

    canvas: Canvas
    stream: BytesIO
    title: str
    plan: PlanMap
    sheet: Sheet
    columns: int
    column: int = 0
    used_mm: float = 0.0

    @classmethod
    def of(cls, sheet: Sheet, title: str, plan: PlanMap) -> "_Sheets":
        stream = BytesIO()
        size = (sheet.width_mm * PT_PER_MM, sheet.height_mm * PT_PER_MM)
        canvas = Canvas(stream, pagesize=size, invariant=1, pageCompression=1)
        canvas.setTitle(latin(f"{title}: cut cards"))
        canvas.setCreator("shapecut")
        define_plan_map(canvas, plan)
        columns = max(1, int(sheet.width_mm // LEAST_CARD_MM))
        return cls(canvas, stream, title, plan, sheet, columns)

    @property
    def width(self) -> float:
        """Of a card, mm."""
        return self.sheet.width_mm / self.columns

    def draw(self, one: WrittenCard, written: CardWords) -> None:
        """Draw one piece's card, and further ones for what has no room on it."""
        width = self.width - 2 * MARGIN_MM - COLUMN_GAP_MM
        marks = list(_wrapped(_mark_lines(one.card, written), MARKS_SHARE * width))
        words = [*map(written.cut, one.card.cuts), *written.notes(one.card)]
        cuts = list(_wrapped(words, (1 - MARKS_SHARE) * width))
        head = EDGE_MM + HEAD_MM + LINE_MM * len(one.heading) + SKETCH_MM + LINE_MM
        number = 1
        while True:
            height = head + LINE_MM * max(len(marks), len(cuts)) + EDGE_MM
            top = self._begin(one, height, number)
            if number == 1:
                self._pictures(one, top - SKETCH_MM)
                top -= SKETCH_MM + LINE_MM
            room = int((top - EDGE_MM + LINE_MM / 2) / LINE_MM)
            self._text(marks[:room], (MARGIN_MM, top))
            self._text(cuts[:room], (MARGIN_MM + MARKS_SHARE * width + COLUMN_GAP_MM, top))
            self.canvas.restoreState()
            marks, cuts, number = marks[room:], cuts[room:], number + 1
            if not marks and not cuts:
                return
            head = EDGE_MM + HEAD_MM

    def _pictures(self, one: WrittenCard, low: float) -> None:
        """The sketch, and the place in the plan on its right."""
        width = self.width - 2 * MARGIN_MM
        place = PLACE_SHARE * width
        sketch = card_sketch(one.lying, one.card)
        room = width - place - COLUMN_GAP_MM
        draw_sketch(self.canvas, one.card, sketch, (MARGIN_MM, low), room)
        at = (MARGIN_MM + width - place, low)
        draw_place(self.canvas, self.plan, one.lying, at, place)

    def _begin(self, one: WrittenCard, height: float, number: int) -> float:
        """Move to a card so high, or as high as there is room, and write its head.

        Returns:
            How far up in it there is room for more.
        """
        height = min(height, self.sheet.height_mm)
        if self.used_mm + height > self.sheet.height_mm:
            self._next_column()
        width, canvas = self.width, self.canvas
        canvas.saveState()
        low = self.sheet.height_mm - self.used_mm - height
        canvas.translate(self.column * width * PT_PER_MM, low * PT_PER_MM)
        self.used_mm += height
        canvas.setLineWidth(0.2)
        canvas.setStrokeGray(0.5)
        canvas.setDash(2, 3)
        canvas.rect(0, 0, width * PT_PER_MM, height * PT_PER_MM)
        canvas.setDash()
        canvas.setFillGray(0.0)
        top = height - EDGE_MM - 5.0
        canvas.setFont(BOLD, 18)
        name = one.card.label if number == 1 else f"{one.card.label}, card {number}"
        canvas.drawString(MARGIN_MM * PT_PER_MM, top * PT_PER_MM, latin(name))
        canvas.setFont(REGULAR, TEXT_PT)
        canvas.drawRightString(
            (width - MARGIN_MM) * PT_PER_MM,
            top * PT_PER_MM,
            fitted(self.title, REGULAR, TEXT_PT, width / 2),
        )
        top -= 1.5 * LINE_MM
        heading = one.heading if number == 1 else ()
        self._text(heading, (MARGIN_MM, top))
        return top - LINE_MM * len(heading)

    def _next_column(self) -> None:
        self.column, self.used_mm = self.column + 1, 0.0
        if self.column == self.columns:
            self.column = 0
            self.canvas.showPage()

    def _text(self, lines: Sequence[str], at: tuple[float, float]) -> None:
        """Write lines downwards from a place, mm."""
        self.canvas.setFont(REGULAR, TEXT_PT)
        for place, line in enumerate(lines):
            y = at[1] - place * LINE_MM
            self.canvas.drawString(at[0] * PT_PER_MM, y * PT_PER_MM, latin(line))

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
