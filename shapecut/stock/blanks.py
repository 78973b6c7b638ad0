"""From the pieces of a layout to the blanks they are cut from."""

from enum import StrEnum

from shapecut.layout.layout import Piece
from shapecut.shape.monotone import bounds
from shapecut.stock.cutplan import Blank, Rip
from shapecut.stock.ends import ends_of
from shapecut.stock.turns import Turn, allowed_turns

__all__ = ["BoardEdges", "blank_of", "turns_of"]

AT_EDGE_MM = 0.01
"""A piece this near to its board's edge reaches it."""


class BoardEdges(StrEnum):
    """What the long edges of the boards are, and so where they may lie."""

    SQUARE = "square"
    """A sawn edge is as good as the board's own; edges may be exchanged."""
    EASED = "eased"
    """Rounded or otherwise better than a sawn edge, alike on both sides."""
    GROOVED = "grooved"
    """A groove on both sides at the same height, which sawing takes away."""
    UNLIKE = "unlike"
    """Not the same on both sides (tongue and groove): no turn may exchange them."""


def turns_of(edges: BoardEdges, *, two_good_faces: bool) -> tuple[Turn, ...]:
    """The turns that such a board allows its pieces."""
    return allowed_turns(two_good_faces=two_good_faces, edges_alike=edges is not BoardEdges.UNLIKE)


def blank_of(piece: Piece, width_mm: float, edges: BoardEdges) -> Blank:
    """The blank of a piece: its length, its ends, and where it is narrower than its board.

    Args:
        piece: As laid out.
        width_mm: Of the board.
        edges: Of the board; a piece keeps those of them that it reaches, unless they are square.
    """
    start, end = ends_of(piece.region, width_mm)
    _, low, _, high = bounds(side.curve for side in piece.region.outer)
    low, high = max(0.0, low), min(width_mm, high)
    rip = None
    if low > AT_EDGE_MM or high < width_mm - AT_EDGE_MM:
        keeps = edges is not BoardEdges.SQUARE
        rip = Rip(low, high, keeps and low <= AT_EDGE_MM, keeps and high >= width_mm - AT_EDGE_MM)
    return Blank(piece.label, piece.length_mm, start, end, rip)
