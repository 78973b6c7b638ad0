"""The basic shapes of SVG as Bézier curves and elliptic arcs, in their own units.

W3C, Scalable Vector Graphics 1.1 (second edition), chapter 9.
"""

import math
from collections.abc import Callable, Iterator, Mapping
from itertools import pairwise
from xml.etree.ElementTree import Element

from shapecut.drawings.drawn_curves import Bezier, DrawnCurve, EllipticArc
from shapecut.drawings.svg_path import SubPath, subpaths
from shapecut.drawings.svg_values import length, points
from shapecut.shape.placement import Point

__all__ = ["SHAPES"]


def _path(element: Element) -> Iterator[SubPath]:
    yield from subpaths(element.get("d", ""))


def _line(element: Element) -> Iterator[SubPath]:
    x1, y1, x2, y2 = (length(element.get(key)) for key in ("x1", "y1", "x2", "y2"))
    yield SubPath((Bezier(((x1, y1), (x2, y2))),), False)


def _polyline(element: Element) -> Iterator[SubPath]:
    yield SubPath(_through(points(element.get("points"))), False)


def _polygon(element: Element) -> Iterator[SubPath]:
    yield SubPath(_through(points(element.get("points"))), True)


def _circle(element: Element) -> Iterator[SubPath]:
    radius = length(element.get("r"))
    yield from _whole_ellipse(element, radius, radius)


def _ellipse(element: Element) -> Iterator[SubPath]:
    yield from _whole_ellipse(element, length(element.get("rx")), length(element.get("ry")))


def _whole_ellipse(element: Element, rx: float, ry: float) -> Iterator[SubPath]:
    centre = (length(element.get("cx")), length(element.get("cy")))
    if rx > 0 and ry > 0:
        yield SubPath((EllipticArc(centre, (rx, 0.0), (0.0, ry)),), True)


def _rect(element: Element) -> Iterator[SubPath]:
    """A rectangle from its top left, clockwise as seen; its corners may be quarter ellipses."""
    x, y, width, height = (length(element.get(key)) for key in ("x", "y", "width", "height"))
    given = [element.get("rx"), element.get("ry")]
    stated = [length(radius) for radius in given if radius not in (None, "auto")]
    rx, ry = (stated * 2)[:2] if stated else (0.0, 0.0)
    rx, ry = min(rx, width / 2), min(ry, height / 2)
    if width <= 0 or height <= 0:
        return
    pieces: list[DrawnCurve] = []
    right, low = x + width, y + height
    corners = [(right - rx, y + ry), (right - rx, low - ry), (x + rx, low - ry), (x + rx, y + ry)]
    sides = [((x + rx, y), (right - rx, y)), ((right, y + ry), (right, low - ry)),
             ((right - rx, low), (x + rx, low)), ((x, low - ry), (x, y + ry))]  # fmt: skip
    for k, (centre, side) in enumerate(zip(corners, sides, strict=True)):
        pieces += [Bezier(side)] if side[0] != side[1] else []
        if rx > 0 and ry > 0:
            start = (k - 1) * math.pi / 2
            pieces.append(EllipticArc(centre, (rx, 0.0), (0.0, ry), start, math.pi / 2))
    yield SubPath(tuple(pieces), True)


def _through(places: tuple[Point, ...]) -> tuple[DrawnCurve, ...]:
    return tuple(Bezier(ends) for ends in pairwise(places) if ends[0] != ends[1])


SHAPES: Mapping[str, Callable[[Element], Iterator[SubPath]]] = {
    "path": _path,
    "line": _line,
    "polyline": _polyline,
    "polygon": _polygon,
    "circle": _circle,
    "ellipse": _ellipse,
    "rect": _rect,
}
"""Readers by the element's name."""
