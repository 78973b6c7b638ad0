"""The cut list and the list of boards to buy, as CSV for any spreadsheet.

Files follow RFC 4180 (commas, CRLF, quotes doubled) in UTF-8 with a byte order mark, by which
spreadsheets tell UTF-8 from the local code page.  Lengths have a column in mm, with a decimal point
and no unit, and one in inches to the chosen fraction.  A text that a spreadsheet would take for a
formula is given a leading apostrophe.
"""

import csv
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from io import StringIO

from shapecut.layout.layout import Layout
from shapecut.papers.on_board import on_board
from shapecut.papers.piece_facts import PieceFacts, piece_facts
from shapecut.stock.cutplan import CutPlan
from shapecut.units import format_inches

__all__ = ["buying_list_csv", "cut_list_csv"]

Cell = str | float | int | Decimal | None

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")

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
        lying = on_board(piece, cut, layout.board.width_mm)
        facts = piece_facts(lying, layout.board.width_mm)
        lines.append(
            (
                piece.label,
                piece.row,
                board.number,
                board.stock.on_hand.name if board.stock.on_hand else None,
                _mm(board.stock.length_mm),
                str(cut.turn),
                _mm(cut.across_mm),
                _mm(cut.start_mm),
                _mm(cut.end_mm),
                format_inches(cut.start_mm, denominator),
                format_inches(cut.end_mm, denominator),
                _mm(facts.length_mm),
                format_inches(facts.length_mm, denominator),
                _mm(facts.width_mm),
                format_inches(facts.width_mm, denominator),
                str(facts.start),
                str(facts.end),
                *map(_mm, facts.lower or (None, None)),
                *map(_mm, facts.upper or (None, None)),
                " ".join(facts.along),
                facts.inside,
                _corners(facts, lambda length: f"{_mm(length):g}"),
                _corners(facts, lambda length: format_inches(length, denominator)),
            )
        )
    return _csv(_CUT_HEADER, lines)


def _corners(facts: PieceFacts, length: Callable[[float], str]) -> str:
    """All corners, loop by loop; the loops of openings stand behind a bar."""
    loops = ("; ".join(corner.written(length) for corner in loop) for loop in facts.corners)
    return " | ".join(loops)


def buying_list_csv(plan: CutPlan, *, denominator: int = 16) -> bytes:
    """Write one line a board length to buy, longest first.

    Args:
        plan: The boards.
        denominator: Inches are rounded to 1/denominator.

    Returns:
        The file.
    """
    counts = Counter(plan.bought)
    lines = [
        (
            count,
            _mm(stock.length_mm),
            format_inches(stock.length_mm, denominator),
            stock.price,
            None if stock.price is None else count * stock.price,
            " ".join(str(board.number) for board in plan.boards if board.stock == stock),
        )
        for stock, count in sorted(counts.items(), key=lambda item: -item[0].length_mm)
    ]
    return _csv(_BUYING_HEADER, lines)


def _mm(length_mm: float | None) -> float | None:
    return None if length_mm is None else round(length_mm, 1) + 0.0


def _csv(header: Sequence[str], lines: Iterable[Sequence[Cell]]) -> bytes:
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([_guarded(cell) for cell in line] for line in lines)
    return stream.getvalue().encode("utf-8-sig")


def _guarded(cell: Cell) -> Cell:
    """Keep a spreadsheet from running a text as a formula."""
    if isinstance(cell, str) and cell.startswith(_FORMULA_STARTS):
        return "'" + cell
    return cell
