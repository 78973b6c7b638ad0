"""Drawings of plans and boards: rows, pieces, their cuts and labels, and the names of edges."""

from collections.abc import Iterator

from shapecut.layout.layout import Layout, Piece
from shapecut.papers.drawing import (
    Drawing,
    Layer,
    Stroke,
    Text,
    chain,
    closed_stroke,
    printable,
    readable_turn,
    rectangle,
)
from shapecut.papers.label_place import GLYPH_WIDTH, Interior, label_rooms, place_label
from shapecut.papers.on_board import on_board
from shapecut.papers.saw_runs import board_edge_runs, saw_runs
from shapecut.shape.curves import Curve
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import whole_name
from shapecut.shape.placement import Placement
from shapecut.stock.cutplan import CutBoard, Stock

__all__ = [
    "drawing_of_board",
    "drawing_of_layout",
    "name_height",
    "outline_of_board",
    "piece_label",
]

LABEL_HEIGHT_SHARE = 0.32
"""Height of a piece's label as a share of the board's width, where there is room for it."""

NAME_SHARE = 0.2
"""Height of names in a plan as a share of the board's width, where that can be read."""

SMALLEST_NAME_SHARE, LARGEST_NAME_SHARE = 1 / 80, 1 / 40
"""Of the plan's longer side: a plan is looked at whole, over the width of a page."""

EDGE_NAME_SHARE_OF_LENGTH = 0.2
"""Short edges have names no higher than this share of their length."""

SMALLEST_LABEL_SHARE = 0.04
"""Height of a label that fits nowhere and stands across its piece's lines."""


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
    yield chain(corners, frame)
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


def name_height(layout: Layout) -> float:
    """Height of the names of edges, points and marks in a plan, mm."""
    left, low, right, high = bounds(side.curve for side in layout.field.outer)
    longer = max(right - left, high - low)
    wanted = max(NAME_SHARE * layout.board.width_mm, SMALLEST_NAME_SHARE * longer)
    return min(wanted, LARGEST_NAME_SHARE * longer)


def _edge_names(layout: Layout) -> Iterator[Text]:
    """The name of each edge once, outside the field at the middle of its longest side."""
    longest: dict[str, Curve] = {}
    for side in (side for loop in layout.field.loops for side in loop):
        if side.source is None:
            continue
        name = whole_name(side.source)
        if name not in longest or side.curve.length > longest[name].length:
            longest[name] = side.curve
    usual = name_height(layout)
    for name, curve in longest.items():
        height = min(usual, EDGE_NAME_SHARE_OF_LENGTH * curve.length)
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
