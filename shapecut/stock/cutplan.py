"""Which piece is cut from which board, and what to buy.

Glossary:
    blank: the length of board that a piece is cut from.
    stock: a length the yard sells, with its price.
    kerf: the width of material one saw cut turns to dust.
    offcut: what is left of a board after its last cut; on hand, one left over from an earlier job.
    spare: a board bought on top of those that are cut, for one that splits or is cut wrongly.
    reference end: the end that every mark on a board is measured from, the squared one.
    abreast: side by side in one length of board, which is ripped after it is cut off.
"""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from shapecut.findings import Finding
from shapecut.stock.ends import SQUARE, End, Parting
from shapecut.stock.turns import Turn

__all__ = ["Blank", "Cut", "CutBoard", "CutPlan", "Offcut", "Rip", "Stock"]


@dataclass(frozen=True)
class Rip:
    """The part of the board's width that a narrow piece takes, mm from the board's lower edge.

    Attributes:
        low_mm: Of its lowest point, as laid.
        high_mm: Of its highest point.
        keeps_lower: Its lower edge must be the board's own.
        keeps_upper: The same of its upper edge.
    """

    low_mm: float
    high_mm: float
    keeps_lower: bool
    keeps_upper: bool

    @property
    def width_mm(self) -> float:
        """What it takes of the board's width."""
        return self.high_mm - self.low_mm


@dataclass(frozen=True)
class Blank:
    """One piece to cut.

    Attributes:
        label: Its piece's, unique in the job.
        length_mm: Between the extremes of its two ends.
        start: Its end at x = 0 of its own frame.
        end: Its other end.
        rip: Where it is narrower than its board.
    """

    label: str
    length_mm: float
    start: End = SQUARE
    end: End = SQUARE
    rip: Rip | None = None


@dataclass(frozen=True)
class Offcut:
    """A board on hand, with its real ends.

    Attributes:
        name: Written on it; unique.
        lower_mm: Where its lower edge begins and ends, measured along it from one place.
        upper_mm: The same of its upper edge.
        avoid_mm: Stretches, from and to, that no piece may lie on (a split, a knot, paint).
        cost: What using it costs; nothing if left out.
    """

    name: str
    lower_mm: tuple[float, float]
    upper_mm: tuple[float, float]
    avoid_mm: tuple[tuple[float, float], ...] = ()
    cost: Decimal = Decimal(0)

    @property
    def from_mm(self) -> float:
        """Its first point."""
        return min(self.lower_mm[0], self.upper_mm[0])

    @property
    def length_mm(self) -> float:
        """From its first point to its last."""
        return max(self.lower_mm[1], self.upper_mm[1]) - self.from_mm


@dataclass(frozen=True)
class Stock:
    """A board that can be had.

    Attributes:
        length_mm: As sold.
        price: For one board, in the job's currency; None when not stated (then length is cost).
        available: How many can be had; None for no limit.
        on_hand: The offcut that it is, if it is none to be bought.
    """

    length_mm: float
    price: Decimal | None = None
    available: int | None = None
    on_hand: Offcut | None = None


@dataclass(frozen=True)
class Cut:
    """One piece on a board, mm from the board's reference end.

    Attributes:
        label: Its piece's.
        start_mm: Where its blank begins.
        end_mm: Where its blank ends.
        turn: How the piece lies on the board.
        across_mm: How far it is moved across the board from where it lies in its row; not nought
            only where pieces lie abreast.
        start_marks: Where its start meets the board's lower and its upper edge, carried on
            straight where the piece is narrower; None where it is no straight cut.
        end_marks: The same of its end.
        parting: The cut that parts it from the next piece along the board.
    """

    label: str
    start_mm: float
    end_mm: float
    turn: Turn = Turn.AS_LAID
    across_mm: float = 0.0
    start_marks: tuple[float, float] | None = None
    end_marks: tuple[float, float] | None = None
    parting: Parting = Parting.SQUARE


@dataclass(frozen=True)
class CutBoard:
    """One board and the cuts it gives, in sawing order from its reference end.

    Attributes:
        number: From 1.
        stock: What it is cut from.
        cuts: From the reference end; pieces abreast one after the other.
        offcut_mm: Length left after the last cut, less what squaring a bought board's end takes.
        leftover: That offcut with its real ends, where it is worth keeping.
    """

    number: int
    stock: Stock
    cuts: tuple[Cut, ...]
    offcut_mm: float
    leftover: tuple[Offcut, ...] = ()

    @property
    def used_mm(self) -> float:
        """Length that lies under some piece; pieces abreast and nested ends use theirs once."""
        used, reached = 0.0, 0.0
        for cut in sorted(self.cuts, key=lambda cut: cut.start_mm):
            used += max(0.0, cut.end_mm - max(cut.start_mm, reached))
            reached = max(reached, cut.end_mm)
        return used


@dataclass(frozen=True)
class CutPlan:
    """All boards to cut.

    Attributes:
        boards: Numbered from 1.
        kerf_mm: The saw's kerf the plan reckons with.
        cost: Sum of prices, or None when prices are not stated.
        bound: Least possible cost that was proved: in currency, or in mm without prices.
        proved: True when no cheaper plan exists.
        findings: What a buyer must know.
        unused: Offcuts on hand that the plan does not touch.
        spares: Boards to buy besides those that are cut; no part of the cost.
    """

    boards: tuple[CutBoard, ...]
    kerf_mm: float
    cost: Decimal | None
    bound: Decimal
    proved: bool
    findings: tuple[Finding, ...] = ()
    unused: tuple[Offcut, ...] = ()
    spares: tuple[Stock, ...] = ()

    @property
    def purchase(self) -> dict[Stock, int]:
        """How many boards to buy of each stock, spares among them, the longest first."""
        counts = Counter((*self.bought, *self.spares))
        return dict(sorted(counts.items(), key=lambda item: -item[0].length_mm))

    @property
    def purchase_cost(self) -> Decimal | None:
        """What they cost together, and what is on hand; None where prices are not stated."""
        if self.cost is None:
            return None
        return self.cost + sum((stock.price or Decimal(0) for stock in self.spares), Decimal(0))

    @property
    def bought(self) -> Iterator[Stock]:
        """The boards to buy and cut."""
        return (board.stock for board in self.boards if board.stock.on_hand is None)

    @property
    def bought_mm(self) -> float:
        """Their total length."""
        return sum(stock.length_mm for stock in self.bought)

    @property
    def wasted(self) -> float | None:
        """Part of that length that becomes no piece; None where nothing is bought."""
        bought = [board for board in self.boards if board.stock.on_hand is None]
        return 1 - sum(board.used_mm for board in bought) / self.bought_mm if bought else None

    @property
    def left_over(self) -> tuple[Offcut, ...]:
        """What is on hand for the next job: what is worth keeping, and what was not touched."""
        kept = (offcut for board in self.boards for offcut in board.leftover)
        return (*kept, *self.unused)
