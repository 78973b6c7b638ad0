"""From a plan to what is fitted besides its boards, and to the list of all materials.

Takes and returns values; no file is read or written.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapecut.errors import LayoutError, StockError
from shapecut.findings import Finding, Level
from shapecut.job.boards import Boards
from shapecut.job.fittings import (
    BlockingTable,
    FasciaScrews,
    FasciaTable,
    FastenerTable,
    PointsTable,
    StripTable,
)
from shapecut.job.values import SoldLength
from shapecut.layout.blocking import Block
from shapecut.layout.drill_marks import ScrewPattern
from shapecut.layout.fascia import Fascia, FasciaRules, fascia_of
from shapecut.layout.fasteners import FasteningRules, Fixing, fasteners_of, with_spare
from shapecut.layout.joists import Joists
from shapecut.layout.point_rows import PointRowRules, point_row
from shapecut.layout.strip_goods import StripRules, StripRuns, strip_runs
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Outline, Treatment
from shapecut.stages.planning import Plan
from shapecut.stock.blanks import BoardEdges
from shapecut.stock.cutplan import Blank, CutPlan, Stock
from shapecut.stock.materials import (
    BLOCKING_TIMBER,
    BOARDS,
    FASCIA_BOARDS,
    Fittings,
    Material,
    bought_boards,
    bought_fasteners,
    needed_blocking,
)
from shapecut.stock.plan import plan_cuts
from shapecut.stock.spares import with_spares
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["FittingTables", "fitted_out"]

TIME_LIMIT_S = 1.0
"""After about this time the search for the cheapest blocking, fascia and strips stops."""


@dataclass(frozen=True)
class FittingTables:
    """What a job states of its fittings."""

    fasteners: FastenerTable | None = None
    fascia: FasciaTable | None = None
    points: Sequence[PointsTable] = ()
    strips: Sequence[StripTable] = ()
    blocking: BlockingTable | None = None


def fitted_out(
    plan: Plan,
    boards: Boards,
    tables: FittingTables,
    *,
    kerf_mm: float,
    lengths: LengthStyle = MILLIMETRES,
) -> Fittings:
    """Place fasteners, fascia, points and strips, and list all that is to be bought.

    Args:
        plan: Its boards.
        boards: What they are.
        tables: What else the job asks for.
        kerf_mm: Of the saw.
        lengths: How findings and refusals write lengths.

    Raises:
        LayoutError: If an edge does not exist, is an arc where a straight one is needed, or
            something has no room.
        StockError: If blocking, fascia or strips cannot be cut from what is sold.
    """
    joists = plan.supports.joists if plan.supports else None
    materials: list[Material] = [*bought_boards(BOARDS, plan.cut_plan)]
    fasteners, table = None, tables.fasteners
    if table and joists:
        fasteners = fasteners_of(plan.layout, joists, _fastening_rules(table, boards, lengths))
        prices = {
            Fixing.CLIP: table.clip_price,
            Fixing.STARTER: table.starter_price,
            Fixing.SCREW: table.screw_price,
        }
        materials += bought_fasteners(fasteners, table.spare_percent / 100, prices)
    blocks = plan.supports.blocks if plan.supports else ()
    blocking_plan = None
    if tables.blocking:
        blocking_plan = _blocking(blocks, tables.blocking, kerf_mm, lengths)
        materials += bought_boards(BLOCKING_TIMBER, blocking_plan)
    else:
        materials += needed_blocking(blocks)
    fascia, fascia_plan = None, None
    if tables.fascia:
        fascia = _fascia(plan.outline, boards, tables.fascia, joists, lengths)
        blanks = [Blank(part.label, part.length_mm) for part in fascia.parts]
        fascia_plan = _cut(blanks, tables.fascia.lengths, kerf_mm, lengths)
        fascia_plan = with_spares(fascia_plan, tables.fascia.spare_percent / 100)
        materials += bought_boards(FASCIA_BOARDS, fascia_plan)
    strips = tuple(
        strip_runs(plan.outline, _strip_rules(table, lengths)) for table in tables.strips
    )
    for runs, strip in zip(strips, tables.strips, strict=True):
        materials += bought_boards(strip.name, _cut_strips(runs, strip, lengths))
    rows = tuple(
        point_row(plan.outline, _row_rules(table, lengths), joists) for table in tables.points
    )
    materials += [
        Material(
            table.name,
            None,
            len(row.points),
            with_spare(len(row.points), table.spare_percent / 100),
            table.price,
        )
        for table, row in zip(tables.points, rows, strict=True)
        if table.price is not None
    ]
    return Fittings(fasteners, fascia, fascia_plan, rows, strips, tuple(materials), blocking_plan)


def _blocking(
    blocks: Sequence[Block], table: BlockingTable, kerf_mm: float, lengths: LengthStyle
) -> CutPlan:
    """The timber that blocking is cut from."""
    blanks = [Blank(f"blocking {n}", block.length_mm) for n, block in enumerate(blocks, start=1)]
    return with_spares(_cut(blanks, table.lengths, kerf_mm, lengths), table.spare_percent / 100)


def _fastening_rules(table: FastenerTable, boards: Boards, lengths: LengthStyle) -> FasteningRules:
    grooved = boards.edges is BoardEdges.GROOVED
    return FasteningRules(
        hidden=grooved if table.kind is None else table.kind == "clips",
        screws=table.screws,
        edge_mm=table.edge_distance,
        end_mm=table.end_distance,
        spare=table.spare_percent / 100,
        lengths=lengths,
    )


def _fascia(
    outline: Outline,
    boards: Boards,
    table: FasciaTable,
    joists: Joists | None,
    lengths: LengthStyle,
) -> Fascia:
    """The fascia, round the outside where no edges are named; arcs are then left out, and told."""
    covered = [edge for edge in outline.outer.edges if edge.treatment is Treatment.COVERED]
    straight = tuple(edge.name for edge in covered if not isinstance(edge.curve, Arc))
    bent = [edge for edge in covered if isinstance(edge.curve, Arc)] if not table.edges else []
    edges = table.edges or straight
    if not edges:
        raise LayoutError(
            "There is a [fascia], but no straight edge is covered: name its edges, or say under "
            "[edges] which are covered."
        )
    rules = FasciaRules(
        edges=edges,
        thickness_mm=table.thickness,
        width_mm=_fascia_width(boards, table, lengths),
        longest_mm=max(sold.length for sold in table.lengths),
        shortest_mm=table.shortest,
        away_from=table.joints_away_from,
        screws=_pattern(table.screws, lengths) if table.screws else None,
        lengths=lengths,
    )
    made = fascia_of(outline, rules, joists)
    found = tuple(
        Finding(
            Level.CHECK,
            f"fascia along {edge.name}",
            f"It is an arc of radius {lengths(edge.curve.radius)}, {lengths(edge.curve.length)} "
            f"long, and has no fascia in this plan.",
            "Bend a strip round it, and cut the boards beside it square.",
        )
        for edge in bent
        if isinstance(edge.curve, Arc)
    )
    return replace(made, findings=(*made.findings, *found))


def _fascia_width(boards: Boards, table: FasciaTable, lengths: LengthStyle) -> float:
    """What the fascia's boards are ripped to: frame, boards and reveal."""
    width = table.frame_depth + boards.thickness + table.reveal
    behind = f"the frame is {lengths.fine(table.frame_depth)} deep, the boards are "
    behind += f"{lengths.fine(boards.thickness)} thick"
    if table.reveal > 0:
        behind += f", and it hangs {lengths.fine(table.reveal)} below the frame"
    elif table.reveal < 0:
        behind += f", and it ends {lengths.fine(-table.reveal)} above the frame's lower side"
    if width <= 0:
        raise LayoutError(
            f"Nothing is left of the fascia: {behind}; state a lesser reveal under [fascia]."
        )
    if table.board_width and width > table.board_width:
        raise LayoutError(
            f"The fascia is to be {lengths.fine(width)} wide ({behind}), and its boards are only "
            f"{lengths.fine(table.board_width)} wide: take wider boards, or state a lesser reveal "
            f"under [fascia]."
        )
    return width


def _pattern(table: FasciaScrews, lengths: LengthStyle) -> ScrewPattern:
    return ScrewPattern(
        table.count, table.edge_distance, table.end_distance, table.spacing, lengths
    )


def _strip_rules(table: StripTable, lengths: LengthStyle) -> StripRules:
    longest = max(sold.length for sold in table.lengths)
    return StripRules(table.name, table.edges, longest, table.pitch, table.bends, lengths)


def _row_rules(table: PointsTable, lengths: LengthStyle) -> PointRowRules:
    return PointRowRules(
        name=table.name,
        edge=table.edge,
        length_mm=table.length,
        count=table.count,
        at_most_mm=table.at_most,
        size_mm=table.size,
        margin_mm=table.margin,
        ends=table.ends,
        clear_mm=table.clear_of_joists,
        lengths=lengths,
    )


def _cut_strips(runs: StripRuns, table: StripTable, lengths: LengthStyle) -> CutPlan:
    """Strips are cut without loss."""
    blanks = [Blank(piece.label, piece.length_mm) for piece in runs.pieces]
    cut = _cut(blanks, table.lengths, 0.0, lengths)
    return with_spares(cut, table.spare_percent / 100)


def _cut(
    blanks: Sequence[Blank], sold: Sequence[SoldLength], kerf_mm: float, lengths: LengthStyle
) -> CutPlan:
    stock = [Stock(one.length, one.price, one.available) for one in sold]
    try:
        return plan_cuts(blanks, stock, kerf_mm=kerf_mm, time_limit_s=TIME_LIMIT_S, lengths=lengths)
    except StockError as error:
        raise StockError(f"{_goods(blanks)}: {error}") from None


def _goods(blanks: Sequence[Blank]) -> str:
    """What blanks are of, by the first one's label."""
    return f"From {blanks[0].label} on" if blanks else "Nothing"
