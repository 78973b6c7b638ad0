"""A piece as it lies on the board it is cut from, which is how it is marked, drilled and sawn."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from shapecut.layout.layout import Layout, Piece
from shapecut.shape.placement import Placement, Point
from shapecut.stock.cutplan import Cut, CutPlan
from shapecut.stock.turns import Turn, turned, turned_point

__all__ = ["OnBoard", "as_laid", "on_board", "on_their_boards"]


@dataclass(frozen=True)
class OnBoard:
    """A piece as it lies on its board.

    Frame: x along the board from the end of the piece's blank towards the board's reference end,
    y across from the board's lower edge, mm.

    Attributes:
        piece: Its region is in that frame; its placement is still that of the piece as laid out.
        turn: How it lies, compared with how it is laid.
        across_mm: How far it is moved across the board.
        width_mm: Of the board.
        beside: What else is cut from the same length of board, with regions in the same frame.
    """

    piece: Piece
    turn: Turn
    across_mm: float
    width_mm: float
    beside: tuple[Piece, ...] = ()

    def to_plane(self, point: Point) -> Point:
        """Where a point of its frame comes to lie in the plane of the plan."""
        x, y = point
        return self.piece.placement.to_plane(self._turned((x, y - self.across_mm)))

    def to_local(self, point: Point) -> Point:
        """Where a point of the plane of the plan lies in its frame."""
        x, y = self._turned(self.piece.placement.to_local(point))
        return (x, y + self.across_mm)

    def _turned(self, point: Point) -> Point:
        """Every turn undoes itself."""
        length_mm = self.piece.length_mm
        return turned_point(point, self.turn, length_mm=length_mm, width_mm=self.width_mm)


def as_laid(piece: Piece, width_mm: float) -> OnBoard:
    """The piece on its blank as it lies in its row."""
    return OnBoard(piece, Turn.AS_LAID, 0.0, width_mm)


def on_board(piece: Piece, cut: Cut, width_mm: float) -> OnBoard:
    """The piece turned and moved across as the plan says.

    Args:
        piece: As laid out.
        cut: Of this piece.
        width_mm: Of the board.
    """
    lying = turned(piece.region, cut.turn, length_mm=piece.length_mm, width_mm=width_mm)
    moved = lying.placed(Placement((0.0, cut.across_mm)))
    return OnBoard(replace(piece, region=moved), cut.turn, cut.across_mm, width_mm)


def on_their_boards(layout: Layout, plan: CutPlan) -> Iterator[OnBoard]:
    """The pieces that are cut, in the order of the layout, with what lies abreast of them."""
    width_mm = layout.board.width_mm
    pieces = {piece.label: piece for piece in layout.pieces}
    lying: dict[str, OnBoard] = {}
    for board in plan.boards:
        here = [(cut, on_board(pieces[cut.label], cut, width_mm)) for cut in board.cuts]
        for cut, one in here:
            beside = tuple(
                _moved(other.piece, there.start_mm - cut.start_mm)
                for there, other in here
                if there is not cut and there.start_mm < cut.end_mm and cut.start_mm < there.end_mm
            )
            lying[cut.label] = replace(one, beside=beside)
    return (lying[piece.label] for piece in layout.pieces if piece.label in lying)


def _moved(piece: Piece, along_mm: float) -> Piece:
    return replace(piece, region=piece.region.placed(Placement((along_mm, 0.0))))
