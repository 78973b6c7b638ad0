"""Write a drawing as SVG 1.1: true millimetres, arcs as arcs, y turned down as SVG has it.

Line widths do not grow with the picture (`vector-effect`), so that a plan stays legible at any
size; geometry does.
"""

import math
from collections.abc import Iterable
from html import escape

from shapecut.papers.drawing import Drawing, Layer, Stroke, Text
from shapecut.shape.curves import Arc, Curve
from shapecut.shape.placement import Point

__all__ = ["LAYER_STYLES", "drawing_svg", "path_data", "svg_element"]

MARGIN_MM = 10.0
"""Paper left free round a drawing."""

LAYER_STYLES = {
    Layer.BLANK: "fill:#eef0ee;stroke:#b9c0bb;stroke-width:.8px",
    Layer.ROW: "fill:#eef0ee;stroke:#b9c0bb;stroke-width:.8px",
    Layer.CONTOUR: "fill:#f0dcb4;stroke:none;fill-rule:evenodd",
    Layer.FIELD: "fill:none;stroke:#3f6f8c;stroke-width:1px;stroke-dasharray:5 3",
    Layer.BOARD_EDGE: "fill:none;stroke:#8d7442;stroke-width:.9px",
    Layer.WASTE: "fill:none;stroke:#777;stroke-width:.5px",
    Layer.CUT: "fill:none;stroke:#111;stroke-width:1.7px;stroke-linejoin:round",
    Layer.REFERENCE: "fill:none;stroke:#555;stroke-width:.8px;font-family:sans-serif;"
    "text-anchor:middle",
    Layer.CUT_OUTSIDE: "fill:none;stroke:#111;stroke-width:1.7px;stroke-linejoin:round",
    Layer.CUT_INSIDE: "fill:none;stroke:#17506b;stroke-width:1.7px;stroke-linejoin:round",
    Layer.DRILL: "fill:none;stroke:#8f1d14;stroke-width:1.2px",
    Layer.ENGRAVE: "fill:#111;font-family:sans-serif;text-anchor:middle",
    Layer.JOIST: "fill:#5a6a78;fill-opacity:.3;stroke:#3b4853;stroke-width:.6px",
    Layer.BLOCKING: "fill:#5b2a1c;stroke:#2c120b;stroke-width:.8px",
    Layer.LABEL: "fill:#111;font-family:sans-serif;font-weight:600;text-anchor:middle",
    Layer.EDGE_NAME: "fill:#17506b;font-family:sans-serif;text-anchor:middle",
    Layer.FASTENER: "fill:#fff;stroke:#111;stroke-width:.8px",
    Layer.POINT: "fill:#8f1d14;fill-opacity:.4;stroke:#8f1d14;stroke-width:.8px;"
    "font-family:sans-serif;text-anchor:middle",
    Layer.SETTING_OUT: "fill:#a8481c;stroke:#a8481c;stroke-width:.8px;font-family:sans-serif;"
    "text-anchor:middle",
}
"""How each layer looks; cuts are told by weight and not by colour alone."""

WIDEST_ARC_RAD = math.radians(120.0)
"""Wider arcs are written in parts: SVG gives an arc by its ends and radius, from which, towards a
half turn, its sweep cannot be told exactly."""

_CAP_HEIGHT = 0.72
"""Height of a capital as a share of the font size, common sans-serif faces."""


def drawing_svg(drawing: Drawing) -> str:
    """Write a drawing as an SVG file at full scale.

    Args:
        drawing: What to write; layers are drawn in its own order.

    Returns:
        The file's text (UTF-8 declared), with width and height in mm and one user unit a mm.
    """
    x0, y0, x1, y1 = drawing.bounds()
    width, height = _number(x1 - x0 + 2 * MARGIN_MM), _number(y1 - y0 + 2 * MARGIN_MM)
    size = f'width="{width}mm" height="{height}mm"'
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + svg_element(drawing, attributes=size) + "\n"


def svg_element(drawing: Drawing, *, attributes: str = "") -> str:
    """Write a drawing as an `svg` element, for a page that gives it its size.

    Args:
        drawing: What to write.
        attributes: Further attributes of the element, already escaped.

    Returns:
        The element's text; its `title` is the drawing's.
    """
    x0, y0, x1, y1 = drawing.bounds()
    width, height = x1 - x0 + 2 * MARGIN_MM, y1 - y0 + 2 * MARGIN_MM
    box = f"{_number(x0 - MARGIN_MM)} {_number(-y1 - MARGIN_MM)} {_number(width)} {_number(height)}"
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{box}" role="img" {attributes}>',
        f"<title>{escape(drawing.title)}</title>",
    ]
    # Grouped by layer, in the order of the styles: fills first, then lines, then texts.
    for layer, style in LAYER_STYLES.items():
        shown = drawing.on(layer)
        if shown.items:
            lines.append(f'<g class="{layer.value}" style="{style}">')
            if shown.strokes:
                lines.append(_path(shown.strokes))
            lines += map(_text, shown.texts)
            lines.append("</g>")
    return "\n".join([*lines, "</svg>"])


def _number(value: float) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _path(strokes: Iterable[Stroke]) -> str:
    """One path for a layer, so that the even-odd rule leaves holes open."""
    return f'<path vector-effect="non-scaling-stroke" d="{path_data(strokes)}"/>'


def path_data(strokes: Iterable[Stroke]) -> str:
    """Strokes as the data of one path, y turned down."""
    return " ".join(map(_subpath, strokes))


def _subpath(stroke: Stroke) -> str:
    steps = "".join(map(_step, stroke.curves))
    return f"M{_place(stroke.curves[0].start)}{steps}{'Z' if stroke.closed else ''}"


def _step(curve: Curve) -> str:
    """The command for a curve, or those for the parts of an arc of more than `WIDEST_ARC_RAD`.

    SVG's sweep flag 1 turns clockwise as seen with y down, that is cw here.
    """
    if not isinstance(curve, Arc):
        return f"L{_place(curve.end)}"
    radius = _number(curve.radius)
    count = math.ceil(abs(curve.sweep_rad) / WIDEST_ARC_RAD)
    ends = (curve.at(part / count) for part in range(1, count + 1))
    return "".join(f"A{radius} {radius} 0 0 {int(not curve.ccw)} {_place(end)}" for end in ends)


def _place(point: Point) -> str:
    return f"{_number(point[0])} {_number(-point[1])}"


def _text(text: Text) -> str:
    x, y = text.at
    size = text.height_mm / _CAP_HEIGHT
    turn = f"rotate({_number(-math.degrees(text.turn_rad))} {_number(x)} {_number(-y)})"
    return (
        f'<text x="{_number(x)}" y="{_number(-y)}" dy="{_number(text.height_mm / 2)}" '
        f'font-size="{_number(size)}" transform="{turn}">{escape(text.text)}</text>'
    )
