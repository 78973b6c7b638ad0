"""Drawings as values: the same strokes and texts feed the DXF, the SVG and the PDF.

Glossary:
    stroke: a chain of curves drawn as one path, open or closed.
    cut: where the saw goes.
    board edge: a stretch of a piece's contour that the board already has; no saw goes there.
    contour: the whole closed boundary of a piece: its cuts and board edges joined up.

Layers are named for what the lines are, in letters and hyphens only, so that every DXF release
from R12 on can carry them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shapecut.layout.layout import Layout, Piece
from shapecut.papers.label_place import GLYPH_WIDTH, Interior, label_rooms, place_label
from shapecut.papers.on_board import on_board
from shapecut.papers.saw_runs import board_edge_runs, saw_runs
from shapecut.shape.curves import Curve, Line
from shapecut.shape.outline import whole_name
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Loop
from shapecut.stock.cutplan import CutBoard, Stock

__all__ = [
    "Drawing",
    "Layer",
    "Stroke",
    "Text",
    "closed_stroke",
    "drawing_of_board",
    "drawing_of_layout",
    "outline_of_board",
    "piece_label",
    "printable",
    "readable_turn",
    "rectangle",
]

FLATTENING_MM = 0.1
"""Greatest distance of chords from their arc where bounds are taken."""

LABEL_HEIGHT_SHARE = 0.32
"""Height of a piece's label as a share of the board's width, where there is room for it."""

EDGE_NAME_SHARE = 0.2
"""Height of an edge's name as a share of the board's width."""

EDGE_NAME_SHARE_OF_LENGTH = 0.2
"""Short edges have names no higher than this share of their length."""

SMALLEST_LABEL_SHARE = 0.04
"""Height of a label that fits nowhere and stands across its piece's lines."""


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


def drawing_of_layout(layout: Layout, title: str) -> Drawing:
    """Draw the laid-out whole in the template plane: field, rows, pieces and their labels."""
    items: list[Stroke | Text] = [*_row_strokes(layout)]
    items += [closed_stroke(loop, Placement(), Layer.FIELD) for loop in layout.field.loops]
    for piece in layout.pieces:
        items += _piece_items(piece, layout.board.width_mm, piece.placement)
    items += _edge_names(layout)
    return Drawing(printable(title), tuple(items))


def drawing_of_board(board: CutBoard, layout: Layout) -> Drawing:
    """Draw one board with its pieces where and as they are cut from it, x from its reference end.

    Raises:
        KeyError: If a cut names no piece of the layout.
    """
    width = layout.board.width_mm
    pieces = {piece.label: piece for piece in layout.pieces}
    items: list[Stroke | Text] = [*outline_of_board(board.stock, width)]
    for cut in board.cuts:
        lying = on_board(pieces[cut.label], cut, width).piece
        items += _piece_items(lying, width, Placement((cut.start_mm, 0.0)))
    return Drawing(f"board {board.number}", tuple(items))


def outline_of_board(stock: Stock, width_mm: float) -> Iterator[Stroke]:
    """A board before it is cut; of an offcut, its real ends and the stretches to avoid."""
    offcut = stock.on_hand
    if offcut is None:
        yield rectangle((0.0, stock.length_mm), (0.0, width_mm), Placement())
        return
    (low_0, low_1), (up_0, up_1) = offcut.lower_mm, offcut.upper_mm
    frame = Placement((-offcut.from_mm, 0.0))
    corners = ((low_0, 0.0), (low_1, 0.0), (up_1, width_mm), (up_0, width_mm), (low_0, 0.0))
    yield _chain(corners, frame)
    for begin, end in offcut.avoid_mm:
        yield rectangle((begin, end), (0.0, width_mm), frame)


def _piece_items(piece: Piece, width_mm: float, placement: Placement) -> Iterator[Stroke | Text]:
    loops = piece.region.loops
    for loop in loops:
        yield closed_stroke(loop, placement, Layer.CONTOUR)
    for layer, find in ((Layer.BOARD_EDGE, board_edge_runs), (Layer.CUT, saw_runs)):
        for run in (run for loop in loops for run in find(loop, width_mm)):
            yield Stroke(tuple(curve.placed(placement) for curve in run.curves), layer, run.closed)
    yield piece_label(piece, width_mm, placement)


def closed_stroke(loop: Loop, placement: Placement, layer: Layer) -> Stroke:
    """A loop of a frame that lies so in the drawing, as one stroke."""
    return Stroke(tuple(side.curve.placed(placement) for side in loop), layer, closed=True)


def _row_strokes(layout: Layout) -> Iterator[Stroke]:
    """Each row's blanks as one rectangle, from the first one's start to the last one's end."""
    for row in layout.rows:
        along = [
            layout.frame.to_local(piece.placement.to_plane((x, 0.0)))[0]
            for piece in layout.pieces
            if piece.row == row.number
            for x in (0.0, piece.length_mm)
        ]
        if along:
            yield rectangle((min(along), max(along)), row.across_mm, layout.frame)


def rectangle(
    along: tuple[float, float], across: tuple[float, float], frame: Placement | None = None
) -> Stroke:
    """A board's rectangle in a frame, on the row layer."""
    (left, right), (low, high) = along, across
    return _chain(((left, low), (right, low), (right, high), (left, high), (left, low)), frame)


def _chain(corners: Sequence[Point], frame: Placement | None) -> Stroke:
    """Straight lines from corner to corner of a frame, on the row layer."""
    placed = [frame.to_plane(corner) if frame else corner for corner in corners]
    lines = (Line(*ends) for ends in pairwise(placed) if ends[0] != ends[1])
    return Stroke(tuple(lines), Layer.ROW, closed=True)


def _edge_names(layout: Layout) -> Iterator[Text]:
    """The name of each edge once, outside the field at the middle of its longest side."""
    longest: dict[str, Curve] = {}
    for side in (side for loop in layout.field.loops for side in loop):
        if side.source is None:
            continue
        name = whole_name(side.source)
        if name not in longest or side.curve.length > longest[name].length:
            longest[name] = side.curve
    for name, curve in longest.items():
        height = min(
            EDGE_NAME_SHARE * layout.board.width_mm, EDGE_NAME_SHARE_OF_LENGTH * curve.length
        )
        (x, y), (u, v) = curve.at(0.5), curve.direction(0.5)
        half_width = GLYPH_WIDTH * len(name) * height / 2
        away = abs(v) * half_width + abs(u) * height / 2 + 0.4 * height
        # Material is on the left, so outside is on the right.
        yield Text(printable(name), (x + away * v, y - away * u), height, Layer.EDGE_NAME)


def piece_label(piece: Piece, width_mm: float, placement: Placement) -> Text:
    """The label in the roomiest place of the piece, reading along the board."""
    interior = Interior.of(piece.region)
    wanted = LABEL_HEIGHT_SHARE * width_mm
    placed = place_label(label_rooms(piece.label, interior, wanted))
    at, height = placed or (interior.middle(), SMALLEST_LABEL_SHARE * width_mm)
    return Text(
        piece.label, placement.to_plane(at), height, turn_rad=readable_turn(placement.turn_rad)
    )


def readable_turn(turn_rad: float) -> float:
    """The same base line, turned half round where the text would stand on its head."""
    turn = (turn_rad + np.pi / 2) % np.pi - np.pi / 2
    return float(turn)


def printable(text: str) -> str:
    """The text in one line, without characters that no drawing format can carry."""
    return "".join(letter if letter.isprintable() else " " for letter in text)
