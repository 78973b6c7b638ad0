"""Draw in millimetres on a PDF page: strokes, check bars, register marks, plain lines of text."""

import math
import unicodedata
from collections.abc import Iterable
from typing import Literal, get_args

from reportlab.lib.units import mm as PT_PER_MM  # noqa: N812 - a unit, named for what it is
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from shapecut.papers.drawing import Stroke
from shapecut.papers.printer import CHECK_BAR_MM
from shapecut.shape.curves import Arc, Curve
from shapecut.shape.placement import Point

__all__ = [
    "BOLD",
    "PT_PER_MM",
    "REGULAR",
    "CheckBarDirection",
    "check_bar",
    "define_check_bars",
    "define_register_mark",
    "fitted",
    "latin",
    "register_mark",
    "stroke_paths",
]

REGULAR, BOLD = "Helvetica", "Helvetica-Bold"
"""Two of the standard PDF fonts, which every reader has."""

CHECK_BAR_HEIGHT_MM = 2.4
CHECK_BAR_STEPS = 10
CheckBarDirection = Literal["along", "across"]
"""Which way a check bar lies: along the sheet's long side, or across it."""

BEZIER_SWEEP_RAD = math.pi / 6
"""Longest stretch of arc drawn by one cubic; 30° stays within 4e-7 of the radius."""

_REGISTER_MARK = "register-mark"

_STROKED = str.maketrans("łŁđĐħĦŧŦı", "lLdDhHtTi")
"""Letters that are no letter with a sign, as Unicode has it."""

RING_MM = 2.6
CROSS_MM = 5.0
"""Radius of a register mark's ring and reach of its cross."""


def stroke_paths(canvas: Canvas, strokes: Iterable[Stroke]) -> None:
    """Stroke chains with the canvas's present pen; one path for all of them."""
    path = canvas.beginPath()
    for stroke in strokes:
        path.moveTo(*_pt(stroke.curves[0].start))
        for curve in stroke.curves:
            _append(path, curve)
        if stroke.closed:
            path.close()
    canvas.drawPath(path, stroke=1, fill=0)


def _pt(point: Point) -> Point:
    return (point[0] * PT_PER_MM, point[1] * PT_PER_MM)


def _append(path: PDFPathObject, curve: Curve) -> None:
    """Append a line, or an arc as cubics with handles of length 4/3·r·tan(sweep/4).

    The usual end-point-interpolating approximation, see M. Goldapp, "Approximation of circular arcs
    by cubic polynomials", Computer Aided Geometric Design 8(3), 1991.
    """
    if not isinstance(curve, Arc):
        path.lineTo(*_pt(curve.end))
        return
    parts = math.ceil(abs(curve.sweep_rad) / BEZIER_SWEEP_RAD)
    reach = 4 / 3 * curve.radius * math.tan(abs(curve.sweep_rad) / parts / 4)
    for part in range(parts):
        first, last = part / parts, (part + 1) / parts
        (x0, y0), (x3, y3) = curve.at(first), curve.at(last)
        (u0, v0), (u3, v3) = curve.direction(first), curve.direction(last)
        path.curveTo(
            *_pt((x0 + reach * u0, y0 + reach * v0)),
            *_pt((x3 - reach * u3, y3 - reach * v3)),
            *_pt((x3, y3)),
        )


def define_check_bars(canvas: Canvas) -> None:
    """Put the check bars into the file once, for `check_bar` to show on every page.

    A chequered bar of exactly `CHECK_BAR_MM` with its length and its direction written behind it.
    """
    for direction in get_args(CheckBarDirection):
        _define_check_bar(canvas, direction)


def _define_check_bar(canvas: Canvas, direction: CheckBarDirection) -> None:
    step, half = CHECK_BAR_MM / CHECK_BAR_STEPS, CHECK_BAR_HEIGHT_MM / 2
    width, height = CHECK_BAR_MM + 30, CHECK_BAR_HEIGHT_MM + 1
    canvas.beginForm(_check_bar_form(direction), -1, -1, *_pt((width, height)))
    canvas.setFillGray(0.0)
    # Two rows of chequers, so that both ends of the bar are black and nothing widens them.  One
    # path for all: single upright rectangles are snapped to whole pixels by some PDF readers.
    path = canvas.beginPath()
    for index in range(CHECK_BAR_STEPS):
        path.rect(*_pt((index * step, half * (index % 2))), *_pt((step, half)))
    canvas.drawPath(path, stroke=0, fill=1)
    canvas.setFont(REGULAR, 7)
    canvas.drawString(*_pt((CHECK_BAR_MM + 2, 0.3)), f"{CHECK_BAR_MM:.0f} mm {direction}")
    canvas.endForm()


def _check_bar_form(direction: CheckBarDirection) -> str:
    return f"check-bar-{direction}"


def check_bar(canvas: Canvas, at: Point, *, upright: bool, direction: CheckBarDirection) -> None:
    """Show a check bar.

    Args:
        canvas: A page, origin at its lower left corner; `define_check_bars` was called before.
        at: Lower left corner of the bar on the page, mm; an upright bar grows to the left.
        upright: Whether it runs up the page instead of along its foot.
        direction: Which of the sheet's sides that is.
    """
    canvas.saveState()
    canvas.translate(*_pt(at))
    if upright:
        canvas.rotate(90)
    canvas.doForm(_check_bar_form(direction))
    canvas.restoreState()


def define_register_mark(canvas: Canvas) -> None:
    """Put the register mark, a cross in a ring, into the file once, for `register_mark` to show."""
    reach = CROSS_MM + 1
    canvas.beginForm(_REGISTER_MARK, *_pt((-reach, -reach)), *_pt((reach, reach)))
    canvas.setStrokeGray(0.0)
    canvas.setLineWidth(0.15 * PT_PER_MM)
    canvas.line(*_pt((-CROSS_MM, 0)), *_pt((CROSS_MM, 0)))
    canvas.line(*_pt((0, -CROSS_MM)), *_pt((0, CROSS_MM)))
    canvas.circle(0, 0, RING_MM * PT_PER_MM)
    canvas.endForm()


def register_mark(canvas: Canvas, at: Point, name: str) -> None:
    """Show a register mark at a place in mm, with its name in the upper right quarter.

    `define_register_mark` was called before.
    """
    canvas.saveState()
    canvas.translate(*_pt(at))
    canvas.doForm(_REGISTER_MARK)
    canvas.setFillGray(0.0)
    canvas.setFont(BOLD, 6.5)
    canvas.drawString(*_pt((2.1, 2.3)), name)
    canvas.restoreState()


def latin(text: str) -> str:
    """Text as the standard fonts can show it, which is in Windows-1252.

    Other letters lose what stands above or below them; what has no such letter becomes `?`.

    >>> latin("ściana łazienki, für Ægir 🪵")
    'sciana lazienki, für Ægir ?'
    """
    return "".join(map(_latin_letter, text.translate(_STROKED)))


def _latin_letter(letter: str) -> str:
    for spelled in (letter, unicodedata.normalize("NFKD", letter)):
        shown = spelled.encode("cp1252", "ignore").decode("cp1252")
        if shown:
            return shown
    return "?"


def fitted(text: str, font: str, size_pt: float, width_mm: float) -> str:
    """Text as the standard fonts can show it, cut short with an ellipsis if it is too wide."""
    shown = latin(text)
    while stringWidth(shown, font, size_pt) > width_mm * PT_PER_MM and len(shown) > 1:
        shown = shown.removesuffix("…")[:-1].rstrip() + "…"
    return shown
