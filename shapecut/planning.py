"""From an outline to boards: allowances, rows, pieces and a cutting plan, one after the other.

Takes and returns values; no file is read or written.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from shapecut.errors import JobFileError
from shapecut.findings import Finding
from shapecut.job import Allowances, Boards, StockTable
from shapecut.layout.layout import Board, Layout
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules, direction_along
from shapecut.shape.allowance import with_allowances
from shapecut.shape.naming import whole_name
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.stock.blanks import blank_of, turns_of
from shapecut.stock.cutplan import CutPlan, Offcut, Stock
from shapecut.stock.plan import plan_cuts

__all__ = ["OTHERS", "Plan", "plan", "treated"]

OTHERS = "others"
"""The key under which a job states the treatment of every edge it does not name."""


@dataclass(frozen=True)
class Plan:
    """Rows, pieces and boards to buy for an outline."""

    outline: Outline
    allowances: Mapping[Treatment, float]
    layout: Layout
    cut_plan: CutPlan

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a fitter must know about the plan."""
        return self.layout.findings + self.cut_plan.findings


def treated(outline: Outline, treatments: Mapping[str, Treatment]) -> Outline:
    """State what the boards meet at each edge.

    Args:
        outline: Any.
        treatments: By edge name, that of a freeform curve standing for all its parts; `others`
            stands for every edge not named.

    Raises:
        JobFileError: If a name is not an edge of the outline.
    """
    names = {edge.name for edge in outline.edges}
    wholes = dict.fromkeys(whole_name(edge.name) for edge in outline.edges)
    unknown = [name for name in treatments if name not in (OTHERS, *names, *wholes)]
    if unknown:
        raise JobFileError(
            f"edges.{unknown[0]}: the outline has no such edge; it has {', '.join(wholes)}. "
            f'"{OTHERS}" stands for every edge not named.'
        )

    def edge_treated(edge: Edge) -> Edge:
        called = (edge.name, whole_name(edge.name), OTHERS)
        treatment = next((treatments[name] for name in called if name in treatments), None)
        return replace(edge, treatment=treatment) if treatment else edge

    outer, *holes = (Ring(tuple(map(edge_treated, ring.edges))) for ring in outline.rings)
    return Outline(outer, tuple(holes))


def plan(
    outline: Outline,
    boards: Boards,
    allowances: Allowances,
    stock: StockTable,
    *,
    on_hand: Sequence[Offcut] = (),
) -> Plan:
    """Lay boards over an outline and choose the boards to buy.

    Args:
        outline: With its edges treated.
        boards: The boards and how they are laid.
        allowances: For each treatment.
        stock: What the yard sells, and the saw's kerf.
        on_hand: Offcuts that are there besides those that the stock states.

    Raises:
        ShapeError: Allowances that leave nothing of the outline.
        LayoutError: Boards that cannot be laid by these rules.
        StockError: Pieces that cannot be cut from the stock.
    """
    reach = _reach(allowances, boards.gap)
    direction = boards.direction
    rules = LayoutRules(
        direction_rad=direction_along(outline, direction.edge)
        if direction.edge is not None
        else direction.angle_rad or 0.0,
        start_edge=boards.start,
        smallest_rip_mm=boards.smallest_rip,
        smallest_length_mm=boards.smallest_length,
    )
    board = Board(boards.width, boards.thickness, boards.gap)
    layout = lay_rows(with_allowances(outline, reach), board, rules)
    cut_plan = plan_cuts(
        [blank_of(piece, board.width_mm, boards.edges) for piece in layout.pieces],
        [Stock(entry.length, entry.price, entry.available) for entry in stock.lengths],
        kerf_mm=stock.kerf,
        squared_end_mm=stock.squared_end,
        on_hand=(*(table.offcut() for table in stock.on_hand), *on_hand),
        width_mm=board.width_mm,
        turns=turns_of(boards.edges, two_good_faces=boards.two_good_faces),
        leftover_mm=stock.keep,
    )
    return Plan(outline, reach, layout, cut_plan)


def _reach(allowances: Allowances, gap_mm: float) -> dict[Treatment, float]:
    """How far boards reach past (+) or stay back from (-) an edge of each treatment, mm."""
    butt = gap_mm if allowances.butt is None else allowances.butt
    return {
        Treatment.WALL: -allowances.wall,
        Treatment.COVERED: -allowances.covered,
        Treatment.EXPOSED: allowances.exposed,
        Treatment.OVERHANG: allowances.overhang,
        Treatment.BUTT: -butt,
    }
