"""What is drawn on a cut card: the sketch with its marks, and the piece's place in the plan."""

from collections.abc import Callable, Sequence

from reportlab.pdfgen.canvas import Canvas

from shapecut.papers.card_sketch import CardSketch
from shapecut.papers.cut_card import CutCard
from shapecut.papers.drawing import Stroke
from shapecut.papers.on_board import OnBoard
from shapecut.papers.pdf_pen import BOLD, PT_PER_MM, REGULAR, stroke_paths
from shapecut.papers.plan_map import PlanMap, reference_end

__all__ = ["SKETCH_MM", "define_plan_map", "draw_place", "draw_sketch"]

ToPage = Callable[[Sequence[float]], tuple[float, float]]
"""From a sketch's frame to points of the page."""

SKETCH_MM = 30.0
"""Height kept for the sketch and the place in the plan."""

MARK_PT = 6.5

CAPTION_PT = 5.5

CAPTION_MM = 4.0

FLATTENING_MM = 1.0
"""Greatest distance of chords from their arc in the place in the plan."""

_PLAN_MAP = "plan-map"


def define_plan_map(canvas: Canvas, plan: PlanMap) -> None:
    """Put all pieces of a plan into the file once, for `draw_place` to show on every card."""
    x0, y0, x1, y1 = (side * PT_PER_MM for side in plan.bounds)
    around = 0.02 * max(x1 - x0, y1 - y0)
    canvas.beginForm(_PLAN_MAP, x0 - around, y0 - around, x1 + around, y1 + around)
    canvas.setLineWidth(around / 8)
    canvas.setStrokeGray(0.5)
    stroke_paths(canvas, plan.pieces.values())
    canvas.endForm()


def draw_place(
    canvas: Canvas, plan: PlanMap, lying: OnBoard, at: tuple[float, float], width: float
) -> None:
    """Draw where a piece belongs into a box `width` by `SKETCH_MM`.

    Args:
        canvas: A page; `define_plan_map` was called before.
        plan: The map.
        lying: The piece; its reference end is drawn thick.
        at: Lower left corner of the box, mm.
        width: Of the box, mm.
    """
    x0, y0, x1, y1 = plan.bounds
    height = SKETCH_MM - CAPTION_MM
    scale = min(width / (x1 - x0), height / (y1 - y0))
    canvas.saveState()
    canvas.translate((at[0] + width / 2) * PT_PER_MM, (at[1] + CAPTION_MM + height / 2) * PT_PER_MM)
    canvas.scale(scale, scale)
    canvas.translate(-(x0 + x1) / 2 * PT_PER_MM, -(y0 + y1) / 2 * PT_PER_MM)
    canvas.setFillGray(0.75)
    _fill(canvas, plan.pieces[lying.piece.label])
    canvas.doForm(_PLAN_MAP)
    canvas.setStrokeGray(0.0)
    canvas.setLineCap(0)
    canvas.setLineWidth(2.0 / scale)
    stroke_paths(canvas, [reference_end(lying)])
    canvas.restoreState()
    canvas.setFont(REGULAR, CAPTION_PT)
    canvas.setFillGray(0.0)
    middle = (at[0] + width / 2) * PT_PER_MM
    canvas.drawCentredString(middle, (at[1] + 1.0) * PT_PER_MM, "in the plan; thick: reference end")


def _fill(canvas: Canvas, stroke: Stroke) -> None:
    path = canvas.beginPath()
    path.moveTo(*(side * PT_PER_MM for side in stroke.curves[0].start))
    for curve in stroke.curves:
        for x, y in curve.flattened(FLATTENING_MM)[1:].tolist():
            path.lineTo(x * PT_PER_MM, y * PT_PER_MM)
    canvas.drawPath(path, stroke=0, fill=1)


def draw_sketch(
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
    for other in sketch.others:
        _stroke(canvas, [pt(point) for point in other.contour])
        canvas.setFont(REGULAR, MARK_PT)
        canvas.setFillGray(0.45)
        x, y = pt(other.at)
        canvas.drawCentredString(x, y - CAP_HEIGHT * MARK_PT / 2, other.label)
    canvas.setFillGray(0.0)
    canvas.setLineWidth(1.1)
    canvas.setStrokeGray(0.0)
    for chain in sketch.contour:
        _stroke(canvas, [pt(point) for point in chain])
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


def _stroke(canvas: Canvas, points: Sequence[tuple[float, float]]) -> None:
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    canvas.drawPath(path, stroke=1, fill=0)


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
