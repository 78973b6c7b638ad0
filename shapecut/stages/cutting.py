"""From the job's tables to a cutting plan for the pieces of a layout."""

from collections.abc import Sequence

from shapecut.job.boards import Boards
from shapecut.job.stock import StockTable
from shapecut.layout.layout import Piece
from shapecut.stock.blanks import blank_of, turns_of
from shapecut.stock.cutplan import CutPlan, Offcut, Stock
from shapecut.stock.plan import plan_cuts
from shapecut.units import LengthStyle

__all__ = ["all_on_hand", "pieces_cut", "yard_of"]


def yard_of(stock: StockTable) -> tuple[Stock, ...]:
    """What can be bought."""
    return tuple(Stock(sold.length, sold.price, sold.available) for sold in stock.lengths)


def all_on_hand(stock: StockTable, others: Sequence[Offcut]) -> tuple[Offcut, ...]:
    """The offcuts that a job states, and others that are there besides."""
    return (*(table.offcut() for table in stock.on_hand), *others)


def pieces_cut(
    pieces: Sequence[Piece],
    boards: Boards,
    stock: StockTable,
    *,
    yard: Sequence[Stock],
    on_hand: Sequence[Offcut],
    time_limit_s: float,
    lengths: LengthStyle,
) -> CutPlan:
    """Choose the boards that pieces are cut from.

    Args:
        pieces: Of a layout.
        boards: What they are.
        stock: The saw, and offcuts that the job states.
        yard: What can be bought.
        on_hand: Offcuts that are there besides.
        time_limit_s: After about this time the search stops.
        lengths: How refusals write lengths.

    Raises:
        StockError: If they cannot be cut from these.
    """
    return plan_cuts(
        [blank_of(piece, boards.width, boards.edges) for piece in pieces],
        yard,
        kerf_mm=stock.kerf,
        squared_end_mm=stock.squared_end,
        on_hand=all_on_hand(stock, on_hand),
        width_mm=boards.width,
        turns=turns_of(boards.edges, two_good_faces=boards.two_good_faces),
        leftover_mm=stock.keep,
        time_limit_s=time_limit_s,
        lengths=lengths,
    )
