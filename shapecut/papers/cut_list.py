"""The cut list and the list of boards to buy, as CSV (see `csv_text`).

Lengths have a column in mm, with a decimal point and no unit, and one in inches to the chosen
fraction.
"""

from collections.abc import Callable, Sequence

from shapecut.layout.layout import Layout
from shapecut.papers.csv_text import Cell, csv_bytes, rounded_mm
from shapecut.papers.on_board import on_board
from shapecut.papers.piece_facts import PieceFacts, piece_facts
from shapecut.stock.cutplan import CutPlan
from shapecut.units import format_inches

__all__ = ["buying_list_csv", "cut_list_csv"]

_CUT_HEADER = (
    "piece", "row", "board", "on hand", "board length mm", "lies", "moved across mm",
    "from on board mm", "to on board mm", "from on board in", "to on board in",
    "length mm", "length in", "width needed mm", "width needed in",
    "reference end", "other end",
    "lower edge from mm", "lower edge to mm", "upper edge from mm", "upper edge to mm",
    "cut along", "openings", "corners along / across mm", "corners along / across in",
)  # fmt: skip

_BUYING_HEADER = ("boards", "length mm", "length in", "price each", "price", "board numbers")


def cut_list_csv(layout: Layout, plan: CutPlan, *, denominator: int = 16) -> bytes:
    """Write one line a piece: where it is cut from and how.

    Ends, edges and corners are those of the piece as it lies on its board.

    Args:
        layout: The pieces.
        plan: The boards they are cut from.
        denominator: Inches are rounded to 1/denominator.

    Returns:
        The file.
    """
    places = {cut.label: (board, cut) for board in plan.boards for cut in board.cuts}
    lines: list[Sequence[Cell]] = []
    for piece in layout.pieces:
        board, cut = places[piece.label]
        lying = on_board(piece, cut, layout.board.width_mm).piece
        facts = piece_facts(lying, layout.board.width_mm)
        lines.append(
            (
                piece.label,
                piece.row or None,  # boards of a border or across the rows are in none
                board.number,
                board.stock.on_hand.name if board.stock.on_hand else None,
                rounded_mm(board.stock.length_mm),
                str(cut.turn),
                rounded_mm(cut.across_mm),
                rounded_mm(cut.start_mm),
                rounded_mm(cut.end_mm),
                format_inches(cut.start_mm, denominator),
                format_inches(cut.end_mm, denominator),
                rounded_mm(facts.length_mm),
                format_inches(facts.length_mm, denominator),
                rounded_mm(facts.width_mm),
                format_inches(facts.width_mm, denominator),
                str(facts.start),
                str(facts.end),
                *map(rounded_mm, facts.lower or (None, None)),
                *map(rounded_mm, facts.upper or (None, None)),
                " ".join(facts.along),
                facts.inside,
                _corners(facts, lambda length: f"{rounded_mm(length):g}"),
                _corners(facts, lambda length: format_inches(length, denominator)),
            )
        )
    return csv_bytes(_CUT_HEADER, lines)


def _corners(facts: PieceFacts, length: Callable[[float], str]) -> str:
    """All corners, loop by loop; the loops of openings stand behind a bar."""
    loops = ("; ".join(corner.written(length) for corner in loop) for loop in facts.corners)
    return " | ".join(loops)


def buying_list_csv(plan: CutPlan, *, denominator: int = 16) -> bytes:
    """Write one line a board length to buy, spares among them, longest first.

    Args:
        plan: The boards.
        denominator: Inches are rounded to 1/denominator.

    Returns:
        The file.
    """
    lines = [
        (
            count,
            rounded_mm(stock.length_mm),
            format_inches(stock.length_mm, denominator),
            stock.price,
            None if stock.price is None else count * stock.price,
            " ".join(str(board.number) for board in plan.boards if board.stock == stock),
        )
        for stock, count in plan.purchase.items()
    ]
    return csv_bytes(_BUYING_HEADER, lines)
