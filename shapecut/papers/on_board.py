"""A piece as it lies on the board it is cut from, which is how it is marked and sawn."""

from dataclasses import replace

from shapecut.layout.layout import Piece
from shapecut.shape.placement import Placement
from shapecut.stock.cutplan import Cut
from shapecut.stock.turns import turned

__all__ = ["on_board"]


def on_board(piece: Piece, cut: Cut, width_mm: float) -> Piece:
    """The piece turned and moved across as the plan says.

    Args:
        piece: As laid out.
        cut: Of this piece.
        width_mm: Of the board.

    Returns:
        The piece with its region in a frame whose x starts at the end of its blank towards the
        board's reference end and whose y starts at the board's lower edge.  Its placement still
        tells where the piece as laid out belongs in the plane.
    """
    lying = turned(piece.region, cut.turn, length_mm=piece.length_mm, width_mm=width_mm)
    return replace(piece, region=lying.placed(Placement((0.0, cut.across_mm))))
