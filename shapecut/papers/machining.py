"""What a machine cuts: drawings of single pieces and of whole boards, one layer an operation.

A piece's origin is its blank's corner at the reference end and the board's lower edge; x runs along
the board.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

from shapecut.findings import Finding, Level
from shapecut.layout.layout import Layout, Piece
from shapecut.papers.drawing import Drawing, Layer, Stroke, Text, closed_stroke, rectangle
from shapecut.papers.drilling import DrillHole, hole_circle, opening_holes, point_holes
from shapecut.papers.label_place import GLYPH_WIDTH
from shapecut.papers.layout_drawing import outline_of_board, piece_label
from shapecut.papers.on_board import OnBoard, as_laid, on_board
from shapecut.papers.tool import Tool
from shapecut.papers.tool_path import narrow_places, tool_path
from shapecut.shape.placement import Placement
from shapecut.shape.region import Loop, Region
from shapecut.shape.setting_out import SetPoint
from shapecut.stock.cutplan import CutPlan
from shapecut.units import MILLIMETRES, MM_PER_INCH, LengthStyle

__all__ = ["Machining", "drawing_for_boards", "drawing_for_piece", "machining_findings"]

NOTE_SHARE = 0.08
"""Height of the note on units and origin as a share of the board's width."""

BOARDS_APART_SHARE = 0.6
"""Distance of boards in the drawing of all boards, as a share of their width: room for a note."""


@dataclass(frozen=True)
class Machining:
    """How a machine is to cut.

    Attributes:
        tool: Its bit, whose middle the cut layers then lead; None for the contours themselves.
        units: Of the file, for the note in it.
        points: Marked on the template, in the plane of the plan; they are drilled.
        point_mm: Diameter of the holes at those points.
    """

    tool: Tool | None = None
    units: str = "mm"
    points: Sequence[SetPoint] = field(default=())
    point_mm: float = 5.0

    @property
    def led(self) -> str:
        """What the cut layers show, in words."""
        if self.tool is None:
            return "cut layers are the finished contour"
        return f"cut layers are the middle of a bit {_width(self.tool.diameter_mm)} wide"


def _width(width_mm: float) -> str:
    """A bit's or a kerf's width in both units, as it is sold."""
    return f"{width_mm:g} mm ({width_mm / MM_PER_INCH:.3f} in)"


def drawing_for_piece(piece: Piece, board_width_mm: float, machining: Machining) -> Drawing:
    """Draw one piece for a machine, face up as laid, on its blank."""
    items: list[Stroke | Text] = [
        replace(rectangle((0.0, piece.length_mm), (0.0, board_width_mm)), layer=Layer.BLANK),
        *_operations(as_laid(piece, board_width_mm), machining),
        _engraved(piece, board_width_mm, Placement()),
        _note(f"{piece.label}: {_units_note(machining)}", board_width_mm, 0.0),
    ]
    return Drawing(piece.label, tuple(items))


def drawing_for_boards(layout: Layout, plan: CutPlan, machining: Machining) -> Drawing:
    """Draw all boards for a machine, each with its pieces turned and placed as they are cut.

    The first board's corner is the origin; the others lie above it, each with a note of its number.
    """
    width = layout.board.width_mm
    pieces = {piece.label: piece for piece in layout.pieces}
    items: list[Stroke | Text] = []
    for place, board in enumerate(plan.boards):
        up = place * (1 + BOARDS_APART_SHARE) * width
        for stroke in outline_of_board(board.stock, width):
            items.append(_raised(stroke, up))
        for cut in board.cuts:
            lying = on_board(pieces[cut.label], cut, width)
            at = Placement((cut.start_mm, up))
            for item in _operations(lying, machining):
                items.append(replace(item, curves=tuple(c.placed(at) for c in item.curves)))
            items.append(_engraved(lying.piece, width, at))
        source = board.stock.on_hand.name if board.stock.on_hand else f"board {board.number}"
        items.append(_note(f"{source}: {_units_note(machining)}", width, up))
    return Drawing("boards as they are cut", tuple(items))


def _raised(stroke: Stroke, up_mm: float) -> Stroke:
    at = Placement((0.0, up_mm))
    return Stroke(tuple(curve.placed(at) for curve in stroke.curves), Layer.BLANK, stroke.closed)


def _operations(lying: OnBoard, machining: Machining) -> Iterator[Stroke]:
    """The piece's cuts and holes, each on the layer of its operation."""
    holes = [
        *point_holes(lying, machining.points, machining.point_mm),
        *opening_holes(lying.piece.region),
    ]
    cut = _without_drilled(lying.piece.region, holes)
    if machining.tool is None:
        loops: tuple[Loop, ...] = cut.loops
    else:
        loops = tool_path(cut, machining.tool)
        for loop in cut.loops:
            yield closed_stroke(loop, Placement(), Layer.REFERENCE)
    for loop in loops:
        outside = sum(side.curve.area_term() for side in loop) > 0
        layer = Layer.CUT_OUTSIDE if outside else Layer.CUT_INSIDE
        yield closed_stroke(loop, Placement(), layer)
    yield from map(hole_circle, holes)


def _without_drilled(region: Region, holes: Iterable[DrillHole]) -> Region:
    """The region without the openings that a drill makes."""
    drilled = {hole.loop for hole in holes}
    return Region(region.outer, tuple(h for n, h in enumerate(region.holes) if n not in drilled))


def _engraved(piece: Piece, board_width_mm: float, at: Placement) -> Text:
    return replace(piece_label(piece, board_width_mm, at), layer=Layer.ENGRAVE)


def _units_note(machining: Machining) -> str:
    return f"units {machining.units}, {machining.led}"


def _note(words: str, board_width_mm: float, up_mm: float) -> Text:
    """A line under a board, beginning near its corner."""
    height = NOTE_SHARE * board_width_mm
    middle = GLYPH_WIDTH * height * len(words) / 2
    return Text(words, (middle, up_mm - 1.5 * height), height, Layer.REFERENCE)


def machining_findings(
    layout: Layout, plan: CutPlan, tool: Tool | None, written: LengthStyle = MILLIMETRES
) -> tuple[Finding, ...]:
    """What a bit of this width cannot cut as drawn.

    Args:
        layout: The pieces.
        plan: How far apart they lie on their boards.
        tool: The bit; None for none.
        written: How places are written; widths are written in both units.
    """
    if tool is None:
        return ()
    found = []
    if tool.diameter_mm > plan.kerf_mm + 1e-9:
        found.append(
            Finding(
                Level.CHECK,
                "boards as they are cut",
                f"Pieces lie {_width(plan.kerf_mm)} apart on their boards, and the bit is "
                f"{_width(tool.diameter_mm)} wide.",
                "State the bit's width as stock.kerf, so that it does not cut into the next piece.",
            )
        )
    for piece in layout.pieces:
        cut = _without_drilled(piece.region, opening_holes(piece.region))
        for x, y in narrow_places(cut, tool):
            found.append(
                Finding(
                    Level.CHECK,
                    f"piece {piece.label}",
                    f"A bit {_width(tool.diameter_mm)} wide does not get in {written(x)} along "
                    f"and {written(y)} up.",
                    "Take a narrower bit, or finish that place by hand.",
                    place_mm=piece.placement.to_plane((x, y)),
                )
            )
    return tuple(found)
