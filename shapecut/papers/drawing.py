"""Drawings as values: the same strokes and texts feed the DXF, the SVG and the PDF.

Glossary:
    stroke: a chain of curves drawn as one path, open or closed.
    cut: where the saw goes.
    board edge: a stretch of a piece's contour that the board already has; no saw goes there.
    contour: the whole closed boundary of a piece: its cuts and board edges joined up.

Layers are named for what the lines are, in letters and hyphens only, so that every DXF release
from R12 on can carry them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shapecut.papers.label_place import GLYPH_WIDTH
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Loop

__all__ = [
    "Drawing",
    "Layer",
    "Stroke",
    "Text",
    "chain",
    "circle",
    "closed_stroke",
    "printable",
    "readable_turn",
    "rectangle",
]

FLATTENING_MM = 0.1
"""Greatest distance of chords from their arc where bounds are taken."""


class Layer(StrEnum):
    """What a line or text is."""

    CONTOUR = "contour"
    """Closed boundary of a finished piece (what a router follows)."""
    WASTE = "waste"
    """Hatching beside a cut, on the side that is not kept."""
    CUT = "cut"
    """Where the saw goes: the parts of the contour that the board does not have already."""
    BOARD_EDGE = "board-edge"
    """The parts of the contour that are the board's own edges."""
    LABEL = "label"
    """Names of pieces."""
    EDGE_NAME = "edge-name"
    """Names of the outline's edges, written outside the field."""
    FIELD = "field"
    """The outline with its allowances: what the boards together are to cover."""
    ROW = "row"
    """The boards of each row as they lie before they are cut."""
    CUT_OUTSIDE = "cut-outside"
    """For a machine: round the outside of a piece."""
    CUT_INSIDE = "cut-inside"
    """For a machine: round the inside of an opening."""
    ENGRAVE = "engrave-label"
    """For a machine: a piece's name."""
    BLANK = "board-blank"
    """For a machine: the board before it is cut."""
    DRILL = "drill"
    """Where to drill: a circle of the drill's diameter."""
    REFERENCE = "reference"
    """What nothing is cut along: where to measure from, what to lay against."""
    JOIST = "joist"
    """What the boards lie on."""
    BLOCKING = "blocking"
    """Short pieces of joist, proposed under corners that nothing carries."""
    FASTENER = "fastener"
    """What holds the boards down: clips, starter fixings, screws."""
    POINT = "point"
    """Evenly spaced points along edges, for lights or balusters."""
    SETTING_OUT = "setting-out"
    """Crosses, lines and arrows that were drawn on the template, with their names."""


@dataclass(frozen=True)
class Stroke:
    """A chain of curves, each starting where the one before ends; mm, y up."""

    curves: tuple[Curve, ...]
    layer: Layer
    closed: bool = False

    @property
    def length(self) -> float:
        """Length in mm."""
        return sum(curve.length for curve in self.curves)


@dataclass(frozen=True)
class Text:
    """One line of text, centred both ways on a point.

    Attributes:
        text: What is written.
        at: The middle of the text, mm.
        height_mm: Height of its capitals.
        layer: Its layer.
        turn_rad: Counter-clockwise turn of its base line.
    """

    text: str
    at: Point
    height_mm: float
    layer: Layer = Layer.LABEL
    turn_rad: float = 0.0

    def surroundings(self) -> NDArray[np.float64]:
        """Two opposite corners of an upright square round the text, as a (2, 2) array."""
        reach = self.height_mm * max(1.0, GLYPH_WIDTH * len(self.text)) / 2
        return np.asarray(np.array([self.at, self.at]) + np.array([[-reach], [reach]]))


@dataclass(frozen=True)
class Drawing:
    """Strokes and texts in one plane, mm, x right, y up."""

    title: str
    items: tuple[Stroke | Text, ...]

    @property
    def strokes(self) -> tuple[Stroke, ...]:
        """The strokes in drawing order."""
        return tuple(item for item in self.items if isinstance(item, Stroke))

    @property
    def texts(self) -> tuple[Text, ...]:
        """The texts in drawing order."""
        return tuple(item for item in self.items if isinstance(item, Text))

    def on(self, *layers: Layer) -> "Drawing":
        """The drawing with only the items on these layers."""
        return Drawing(self.title, tuple(item for item in self.items if item.layer in layers))

    def placed(self, placement: Placement) -> "Drawing":
        """The drawing moved from the placement's local frame to the plane."""
        return Drawing(self.title, tuple(_placed(item, placement) for item in self.items))

    def bounds(self) -> tuple[float, float, float, float]:
        """(x least, y least, x greatest, y greatest), arcs to `FLATTENING_MM`, texts roughly."""
        curves = (curve for stroke in self.strokes for curve in stroke.curves)
        points = np.concatenate(
            [
                *(curve.flattened(FLATTENING_MM) for curve in curves),
                *(text.surroundings() for text in self.texts),
            ]
        )
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        return (float(x0), float(y0), float(x1), float(y1))


def _placed(item: Stroke | Text, placement: Placement) -> Stroke | Text:
    if isinstance(item, Stroke):
        return replace(item, curves=tuple(curve.placed(placement) for curve in item.curves))
    return replace(
        item, at=placement.to_plane(item.at), turn_rad=item.turn_rad + placement.turn_rad
    )


def closed_stroke(loop: Loop, placement: Placement, layer: Layer) -> Stroke:
    """A loop of a frame that lies so in the drawing, as one stroke."""
    return Stroke(tuple(side.curve.placed(placement) for side in loop), layer, closed=True)


def rectangle(
    along: tuple[float, float], across: tuple[float, float], frame: Placement | None = None
) -> Stroke:
    """A board's rectangle in a frame, on the row layer."""
    (left, right), (low, high) = along, across
    return chain(((left, low), (right, low), (right, high), (left, high), (left, low)), frame)


def chain(corners: Sequence[Point], frame: Placement | None, layer: Layer = Layer.ROW) -> Stroke:
    """Straight lines from corner to corner of a frame, and back to the first."""
    placed = [frame.to_plane(corner) if frame else corner for corner in corners]
    lines = (Line(*ends) for ends in pairwise(placed) if ends[0] != ends[1])
    return Stroke(tuple(lines), layer, closed=True)


def readable_turn(turn_rad: float) -> float:
    """The same base line, turned half round where the text would stand on its head."""
    turn = (turn_rad + np.pi / 2) % np.pi - np.pi / 2
    return float(turn)


def circle(centre: Point, radius_mm: float, layer: Layer) -> Stroke:
    """A whole circle, counter-clockwise."""
    x, y = centre
    left, right = (x - radius_mm, y), (x + radius_mm, y)
    halves = (Arc(right, left, centre, ccw=True), Arc(left, right, centre, ccw=True))
    return Stroke(halves, layer, closed=True)


def printable(text: str) -> str:
    """The text in one line, without characters that no drawing format can carry."""
    return "".join(letter if letter.isprintable() else " " for letter in text)
