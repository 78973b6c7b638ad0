"""Cutting rows of boards out of a field."""

import math
from collections.abc import Iterator, Sequence

from shapecut.layout.layout import Board, Piece, Row
from shapecut.layout.piece_labels import piece_letters
from shapecut.layout.row_start import FirstBoard
from shapecut.layout.rules import StartSide
from shapecut.shape.clip import ON_BORDER_MM, strip
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement
from shapecut.shape.region import Region

__all__ = ["cut_rows", "numbered_rows", "row_strips"]


def row_strips(
    across_mm: tuple[float, float], edge_mm: float, board: Board
) -> tuple[tuple[float, float], ...]:
    """The strips of all boards that take part of a stretch across them.

    Args:
        across_mm: Low and high end of the field across the boards, row frame.
        edge_mm: Where the lower edge of one of the boards lies.
        board: Gives width and gap.

    Returns:
        (low, high) of each board, upwards.
    """
    low, high = across_mm
    pitch = board.width_mm + board.gap_mm
    # The first board is the lowest whose upper edge is above the field's low end, the last one the
    # highest whose lower edge is below the field's high end.
    first = math.floor((low + ON_BORDER_MM - edge_mm - board.width_mm) / pitch) + 1
    last = math.ceil((high - ON_BORDER_MM - edge_mm) / pitch) - 1
    lower_edges = (edge_mm + place * pitch for place in range(first, last + 1))
    return tuple((edge, edge + board.width_mm) for edge in lower_edges)


def numbered_rows(
    across_mm: tuple[float, float], start: FirstBoard, board: Board
) -> tuple[Row, ...]:
    """The rows that take part of a stretch across them, from the starting side.

    Args:
        across_mm: Low and high end of the field across the boards, row frame.
        start: Where one board lies, and which side is the starting one.
        board: Gives width and gap.
    """
    strips = row_strips(across_mm, start.edge_mm, board)
    if start.side is StartSide.HIGH:
        strips = strips[::-1]
    return tuple(Row(number, across) for number, across in enumerate(strips, start=1))


def cut_rows(field: Region, rows: Sequence[Row], frame: Placement) -> Iterator[Piece]:
    """Cut the pieces of some rows out of a field.

    Args:
        field: In the row frame.
        rows: Their strips must not overlap.
        frame: Of the row frame in the plane.

    Yields:
        Row by row, along each row.
    """
    for row in rows:
        low, high = row.across_mm
        parts = [(bounds(s.curve for s in part.outer), part) for part in strip(field, low, high)]
        parts.sort(key=lambda found: found[0])
        for place, ((left, _, right, _), part) in enumerate(parts):
            yield Piece(
                label=f"{row.number}{piece_letters(place)}",
                row=row.number,
                region=part.placed(Placement((-left, -low))),
                placement=Placement(frame.to_plane((left, low)), frame.turn_rad),
                length_mm=right - left,
            )
