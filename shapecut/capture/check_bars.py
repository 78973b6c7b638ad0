"""Check bars: a rule printed on a card or sheet, millimetres on one side and inches on the other.

Its ends tell how true the print is: 100 mm between the first and last long tick of one side, 4 in
between those of the other.
"""

from typing import Literal

from reportlab.pdfgen.canvas import Canvas

from shapecut.capture.cards import CHECK_BAR_MM
from shapecut.shape.placement import Point
from shapecut.units import MM_PER_INCH

__all__ = ["CHECK_BAR_INCHES", "draw_check_bar"]

CHECK_BAR_INCHES = 4
"""Designed length of the check bars' inch side."""

_LINE_MM = 0.15
_END_TICK_MM, _TICK_MM = 3.0, 1.3
_TYPE_MM, _TEXT_RISE_MM = 2.6, 1.9


def draw_check_bar(
    canvas: Canvas,
    *,
    start: Point,
    direction: Literal["across", "along"],
    skip_middle: bool = False,
) -> None:
    """Draw one bar on a canvas whose unit is the millimetre; it keeps within 4 mm of its line.

    Args:
        canvas: To draw on.
        start: Where both scales have their zero.
        direction: Of the sheet; `across` runs to the right and `along` upwards.
        skip_middle: Leave out the ticks at half length, where something else marks the place.
    """
    canvas.saveState()
    canvas.translate(*start)
    if direction == "along":
        canvas.rotate(90)
    canvas.setStrokeGray(0.0)
    canvas.setFillGray(0.0)
    canvas.setLineWidth(_LINE_MM)
    canvas.setFont("Helvetica", _TYPE_MM)
    canvas.line(0.0, 0.0, CHECK_BAR_INCHES * MM_PER_INCH, 0.0)
    _draw_scale(canvas, 10, CHECK_BAR_MM / 10, side=1, skip_middle=skip_middle)
    _draw_scale(canvas, CHECK_BAR_INCHES, MM_PER_INCH, side=-1, skip_middle=skip_middle)
    canvas.drawRightString(CHECK_BAR_MM - 1.0, _TEXT_RISE_MM, f"{CHECK_BAR_MM:.0f} mm")
    canvas.drawString(1.0, _TEXT_RISE_MM, f"{direction} the sheet")
    below = -_TEXT_RISE_MM - 0.72 * _TYPE_MM  # 0.72: height of Helvetica's capitals and figures
    canvas.drawRightString(CHECK_BAR_INCHES * MM_PER_INCH - 1.0, below, f"{CHECK_BAR_INCHES} in")
    canvas.restoreState()


def _draw_scale(
    canvas: Canvas, steps: int, step_mm: float, *, side: Literal[1, -1], skip_middle: bool
) -> None:
    for tick in range(steps + 1):
        if skip_middle and 2 * tick == steps:
            continue
        length = _END_TICK_MM if tick in (0, steps) else _TICK_MM
        canvas.line(tick * step_mm, 0.0, tick * step_mm, side * length)
