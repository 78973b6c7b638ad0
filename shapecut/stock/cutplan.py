"""Which piece is cut from which board, and what to buy.

Glossary:
    blank: the length of board that a piece is cut from.
    stock: a length the yard sells, with its price.
    kerf: the width of material one saw cut turns to dust.
    offcut: what is left of a board after its last cut.
"""

from dataclasses import dataclass
from decimal import Decimal

from shapecut.findings import Finding

__all__ = ["Blank", "Cut", "CutBoard", "CutPlan", "Stock"]


@dataclass(frozen=True)
class Blank:
    """One length to cut.

    Attributes:
        label: Its piece's, unique in the job.
        length_mm: Between its two ends.
    """

    label: str
    length_mm: float


@dataclass(frozen=True)
class Stock:
    """A board length on sale.

    Attributes:
        length_mm: As sold.
        price: For one board, in the job's currency; None when not stated (then length is cost).
        available: How many can be had; None for no limit.
    """

    length_mm: float
    price: Decimal | None = None
    available: int | None = None


@dataclass(frozen=True)
class Cut:
    """One piece on a board: its label and where its blank begins and ends, mm from one end."""

    label: str
    start_mm: float
    end_mm: float


@dataclass(frozen=True)
class CutBoard:
    """One bought board and the cuts it gives, in sawing order from its reference end."""

    number: int
    stock: Stock
    cuts: tuple[Cut, ...]
    offcut_mm: float


@dataclass(frozen=True)
class CutPlan:
    """All boards to buy.

    Attributes:
        boards: Numbered from 1.
        kerf_mm: The saw's kerf the plan reckons with.
        cost: Sum of prices, or None when prices are not stated.
        bound: Least possible cost that was proved: in currency, or in mm without prices.
        proved: True when no cheaper plan exists.
        findings: What a buyer must know.
    """

    boards: tuple[CutBoard, ...]
    kerf_mm: float
    cost: Decimal | None
    bound: Decimal
    proved: bool
    findings: tuple[Finding, ...] = ()

    @property
    def bought_mm(self) -> float:
        """Total length bought."""
        return sum(board.stock.length_mm for board in self.boards)
