"""What is fitted besides boards (fasteners, fascia, points, strips), and all there is to buy.

Glossary:
    spare: what is bought on top of what is needed.
    waste: part of the length bought that becomes no piece.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from shapecut.findings import Finding
from shapecut.layout.blocking import Block
from shapecut.layout.fascia import Fascia
from shapecut.layout.fasteners import Fasteners, Fixing, with_spare
from shapecut.layout.point_rows import PointRow
from shapecut.layout.strip_goods import StripRuns
from shapecut.stock.cutplan import CutPlan

__all__ = [
    "BLOCKING",
    "BLOCKING_TIMBER",
    "BOARDS",
    "FASCIA_BOARDS",
    "OWN_NAMES",
    "Fittings",
    "Material",
    "bought_boards",
    "bought_fasteners",
    "needed_blocking",
    "total_cost",
]

BOARDS = "boards"
"""What the boards of the rows are called in the list."""

BLOCKING = "blocking"
"""What blocking is called in the list whose timber is not stated."""

BLOCKING_TIMBER, FASCIA_BOARDS = "blocking timber", "fascia boards"

OWN_NAMES = frozenset(
    (BOARDS, BLOCKING, BLOCKING_TIMBER, FASCIA_BOARDS, *(f"{kind}s" for kind in Fixing))
)
"""What the list calls its own materials; goods with a name of the user's are called otherwise."""

BLOCKING_DECIMALS = 1
"""Of mm: pieces of blocking that are written alike are one length."""


@dataclass(frozen=True)
class Material:
    """One line of the material list.

    Attributes:
        name: Of the goods.
        length_mm: Of each; None for things that are counted only.
        needed: How many are needed.
        bought: How many are bought, spares among them.
        price: Of each, where it is stated.
        wasted: Part of the length bought that becomes no piece; None where it does not apply.
    """

    name: str
    length_mm: float | None
    needed: int
    bought: int
    price: Decimal | None = None
    wasted: float | None = None

    @property
    def cost(self) -> Decimal | None:
        """Of all that is bought."""
        return None if self.price is None else self.price * self.bought


@dataclass(frozen=True)
class Fittings:
    """What is fitted besides the boards.

    Attributes:
        fasteners: Where they are placed.
        fascia: Its parts.
        fascia_plan: From which boards they are cut.
        rows: Of evenly spaced points.
        strips: Goods along edges.
        materials: All that is to be bought, the boards among it.
        blocking_plan: From which timber the blocking is cut, where it is stated.
    """

    fasteners: Fasteners | None = None
    fascia: Fascia | None = None
    fascia_plan: CutPlan | None = None
    rows: tuple[PointRow, ...] = ()
    strips: tuple[StripRuns, ...] = ()
    materials: tuple[Material, ...] = ()
    blocking_plan: CutPlan | None = None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a fitter must know of them."""
        plans = (self.fascia_plan, self.blocking_plan)
        parts = (self.fasteners, self.fascia, *plans, *self.rows, *self.strips)
        return tuple(finding for part in parts if part for finding in part.findings)


def bought_boards(name: str, plan: CutPlan) -> Iterator[Material]:
    """A line for each length that a plan buys, the longest first; waste is that of the cuts."""
    for stock, bought in plan.purchase.items():
        boards = [board for board in plan.boards if board.stock == stock]
        used = sum(board.used_mm for board in boards)
        wasted = 1 - used / (len(boards) * stock.length_mm)
        yield Material(name, stock.length_mm, len(boards), bought, stock.price, wasted)


def bought_fasteners(
    fasteners: Fasteners, spare: float, prices: Mapping[Fixing, Decimal | None]
) -> Iterator[Material]:
    """A line for each kind of fastener, with spares."""
    for kind, count in fasteners.counts().items():
        yield Material(f"{kind}s", None, count, with_spare(count, spare), prices.get(kind))


def needed_blocking(blocks: Sequence[Block]) -> Iterator[Material]:
    """A line for each length of blocking that is proposed."""
    counts = Counter(round(block.length_mm, BLOCKING_DECIMALS) for block in blocks)
    for length, count in sorted(counts.items(), reverse=True):
        yield Material(BLOCKING, length, count, count)


def total_cost(materials: Sequence[Material]) -> Decimal | None:
    """What everything with a price costs together; None where nothing has one."""
    costs = [material.cost for material in materials if material.cost is not None]
    return sum(costs, Decimal(0)) if costs else None
