"""The report's table of pieces: from which board, what to mark along each edge."""

from shapecut.layout.layout import Layout
from shapecut.papers.markup import Lengths, section, table
from shapecut.papers.on_board import on_board
from shapecut.papers.piece_facts import piece_facts
from shapecut.stock.cutplan import CutPlan

__all__ = ["pieces_section"]

PIECES_CAPTION = (
    "Every piece, row by row, as it lies on its board; its reference end is the one towards the "
    "board's, and marks are measured from there along each edge of the board"
)


def pieces_section(layout: Layout, plan: CutPlan, lengths: Lengths) -> str:
    """Write the table."""
    places = {cut.label: (board, cut) for board in plan.boards for cut in board.cuts}
    rows = []
    for piece in layout.pieces:
        board, cut = places[piece.label]
        lying = on_board(piece, cut, layout.board.width_mm).piece
        facts = piece_facts(lying, layout.board.width_mm)
        rows.append(
            (
                piece.label,
                str(board.number),
                lengths(facts.length_mm),
                lengths(facts.width_mm),
                str(facts.start),
                str(facts.end),
                _marks(facts.lower, lengths),
                _marks(facts.upper, lengths),
                ", ".join(facts.along),
            )
        )
    header = (
        "piece", "board", "length", "width needed", "reference end", "other end",
        "marks, lower edge", "marks, upper edge", "cut along",
    )  # fmt: skip
    return section("pieces", "Pieces", table(PIECES_CAPTION, header, rows))


def _marks(marks: tuple[float, float] | None, lengths: Lengths) -> str:
    """Where a piece begins and ends on one edge of its board, from its reference end."""
    return "not reached" if marks is None else " to ".join(map(lengths.short, marks))
