"""From an outline to boards: allowances, rows, pieces and a cutting plan, one after the other.

Takes and returns values; no file is read or written.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from shapecut.errors import JobFileError, LayoutError, ShapecutError
from shapecut.findings import Finding
from shapecut.job.boards import Boards, JointTable, JoistTable, SawTable
from shapecut.job.edges import Allowances
from shapecut.job.job import OTHERS
from shapecut.job.stock import StockTable
from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.edging import Edging, EdgingRules, lay_edged
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Layout
from shapecut.layout.saw_limits import saw_findings
from shapecut.layout.supports import Supports
from shapecut.shape.allowance import with_allowances
from shapecut.shape.naming import whole_name
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.setting_out import SettingOut
from shapecut.stages.carpentry import (
    board_to_lay,
    boards_direction,
    edge_reach,
    joint_rules,
    layout_rules,
    saw_rules,
)
from shapecut.stages.carrying import carried, joists_of
from shapecut.stages.cutting import all_on_hand, pieces_cut, yard_of
from shapecut.stages.directions import directions_along_edges, trial_of
from shapecut.stages.movement_notes import movement_notes
from shapecut.stock.alternatives import Alternative, alternatives
from shapecut.stock.cutplan import CutPlan, Offcut, Stock
from shapecut.stock.spares import with_spares
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["OTHERS", "Plan", "plan", "rows_alone", "treated"]

ALTERNATIVE_TIME_LIMIT_S = 0.5
"""After about this time the search for the cheapest boards stops where one length is compared."""

TRIAL_TIME_LIMIT_S = 2.0
"""The same where directions are compared."""


@dataclass(frozen=True)
class Plan:
    """Rows, pieces and boards to buy for an outline.

    Attributes:
        outline: With its edges treated.
        allowances: How far boards reach past an edge of each treatment.
        layout: Rows and pieces; its findings hold those of the supports and the saw.
        cut_plan: Boards to buy.
        supports: What carries the pieces, where the joists are known.
        trials: The directions that were compared, if they were.
        alternatives: Each length that is sold bought alone, and the mix; empty where there is but
            one length.
        edging: Corners of the border, lines to trim along, stops for row ends.
    """

    outline: Outline
    allowances: Mapping[Treatment, float]
    layout: Layout
    cut_plan: CutPlan
    supports: Supports | None = None
    trials: tuple[DirectionTrial, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    edging: Edging = field(default_factory=Edging)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a fitter must know about the plan."""
        return self.layout.findings + self.cut_plan.findings

    def noting(self, findings: tuple[Finding, ...]) -> "Plan":
        """The same plan with more to know."""
        layout = replace(self.layout, findings=self.layout.findings + findings)
        return replace(self, layout=layout)


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
    joists: JoistTable | None = None,
    joints: JointTable | None = None,
    saw: SawTable | None = None,
    on_hand: Sequence[Offcut] = (),
    edging: EdgingRules | None = None,
    marks: SettingOut | None = None,
    lengths: LengthStyle = MILLIMETRES,
) -> Plan:
    """Lay boards over an outline and choose the boards to buy.

    Args:
        outline: With its edges treated.
        boards: The boards and how they are laid.
        allowances: For each treatment.
        stock: What the yard sells, and the saw's kerf.
        joists: What the boards lie on, if that is known.
        joints: How rows longer than any board are joined; None where they may not be.
        saw: What can be cut, and what lasts.
        on_hand: Offcuts that are there besides those that the stock states.
        edging: Border boards, breakers, and edges at which boards are left long.
        marks: What was drawn on the template, for joists that lie along it.
        lengths: How findings and refusals write lengths.

    Raises:
        ShapeError: Allowances that leave nothing of the outline.
        LayoutError: Boards that cannot be laid by these rules.
        StockError: Pieces that cannot be cut from the stock.
    """
    job = _Job(
        outline,
        boards,
        allowances,
        stock,
        joists,
        joints,
        saw or SawTable(),
        tuple(on_hand),
        edging or EdgingRules(),
        marks,
        lengths,
    )
    if not boards.direction.is_best:
        return job.with_alternatives(job.planned(boards_direction(boards, outline)))
    trials = job.trials()
    best = min(trials, key=lambda trial: trial.rank)
    if best.refused:
        raise LayoutError(f"No edge gives a direction that boards can be laid in: {best.refused}")
    return job.with_alternatives(replace(job.planned(best.direction_rad), trials=trials))


def rows_alone(
    outline: Outline,
    boards: Boards,
    allowances: Allowances,
    stock: StockTable,
    *,
    joists: JoistTable | None = None,
    joints: JointTable | None = None,
    edging: EdgingRules | None = None,
    marks: SettingOut | None = None,
    lengths: LengthStyle = MILLIMETRES,
) -> Layout:
    """The rows and pieces of `plan` without the boards to buy: fast enough to try while dragging.

    Arguments and errors are those of `plan`.
    """
    job = _Job(
        outline,
        boards,
        allowances,
        stock,
        joists,
        joints,
        SawTable(),
        (),
        edging or EdgingRules(),
        marks,
        lengths,
    )
    if boards.direction.is_best:
        best = min(job.trials(), key=lambda trial: trial.rank)
        return job.rows(best.direction_rad)
    return job.rows(boards_direction(boards, outline))


@dataclass(frozen=True)
class _Job:
    """All that a plan is made from but the direction; see `plan`."""

    outline: Outline
    boards: Boards
    allowances: Allowances
    stock: StockTable
    joists: JoistTable | None
    joints: JointTable | None
    saw: SawTable
    on_hand: tuple[Offcut, ...]
    edging: EdgingRules
    marks: SettingOut | None
    lengths: LengthStyle

    def trials(self) -> tuple[DirectionTrial, ...]:
        """What the directions of the outline's straight edges cost, the best first.

        Raises:
            LayoutError: If the outline has no straight edge.
        """
        directions = directions_along_edges(self.outline)
        if not directions:
            raise LayoutError(
                "The outline has no straight edge whose direction could be compared: state the "
                "direction of the boards as an angle."
            )
        found = []
        for edge, turn in directions:
            try:
                made = self.planned(turn, time_limit_s=TRIAL_TIME_LIMIT_S)
            except ShapecutError as error:
                found.append(DirectionTrial(edge, turn, refused=str(error)))
            else:
                rules = layout_rules(self.boards, direction_rad=turn)
                found.append(trial_of(edge, made.layout, made.cut_plan, rules))
        return tuple(sorted(found, key=lambda trial: trial.rank))

    def planned(self, direction_rad: float, *, time_limit_s: float | None = None) -> Plan:
        """The plan with the boards in one direction."""
        boards, stock = self.boards, self.stock
        reach = edge_reach(self.allowances, board_to_lay(boards, self.lengths).gap_mm)
        joists = self._joists(direction_rad)
        layout, edging = self._laid(reach, direction_rad, joists)
        supports = None
        if self.joists and joists:
            supports = carried(layout, joists, self.joists, lengths=self.lengths)
        findings = (
            *layout.findings,
            *movement_notes(boards, self.joints, layout, self.lengths),
            *saw_findings(layout.pieces, saw_rules(self.saw, stock.kerf, self.lengths)),
            *(supports.findings if supports else ()),
        )
        limit_s = stock.search_seconds if time_limit_s is None else time_limit_s
        cut_plan = self._cut(layout, yard_of(stock), time_limit_s=limit_s)
        cut_plan = with_spares(cut_plan, stock.spare_percent / 100)
        layout = replace(layout, findings=findings)
        return Plan(self.outline, reach, layout, cut_plan, supports, edging=edging)

    def rows(self, direction_rad: float) -> Layout:
        """The boards laid in one direction, nothing bought yet."""
        reach = edge_reach(self.allowances, board_to_lay(self.boards, self.lengths).gap_mm)
        return self._laid(reach, direction_rad, self._joists(direction_rad))[0]

    def with_alternatives(self, plan: Plan) -> Plan:
        """A plan beside which each length that the yard sells stands alone."""
        yard = yard_of(self.stock)
        if len(yard) < 2:
            return plan

        def cut(yard: Sequence[Stock]) -> CutPlan:
            return self._cut(plan.layout, yard, time_limit_s=ALTERNATIVE_TIME_LIMIT_S)

        return replace(plan, alternatives=alternatives(yard, plan.cut_plan, cut))

    def _cut(self, layout: Layout, yard: Sequence[Stock], *, time_limit_s: float) -> CutPlan:
        """The pieces cut from what is on hand and what a yard sells."""
        return pieces_cut(
            layout.pieces,
            self.boards,
            self.stock,
            yard=yard,
            on_hand=self.on_hand,
            time_limit_s=time_limit_s,
            lengths=self.lengths,
        )

    def _joists(self, direction_rad: float) -> Joists | None:
        """The joists under boards of one direction, where they are known."""
        if self.joists is None:
            return None
        return joists_of(
            self.joists, self.outline, direction_rad, marks=self.marks, lengths=self.lengths
        )

    def _laid(
        self, reach: Mapping[Treatment, float], direction_rad: float, joists: Joists | None
    ) -> tuple[Layout, Edging]:
        """The boards laid in one direction, and joined where that is allowed."""
        boards, stock = self.boards, self.stock
        longest = max(entry.length for entry in stock.lengths) - 2 * stock.squared_end
        layout, edging = lay_edged(
            self.outline,
            with_allowances(self.outline, reach),
            board_to_lay(boards, self.lengths),
            layout_rules(
                boards,
                direction_rad=direction_rad,
                reach_mm=self._start_reach(reach),
                lengths=self.lengths,
            ),
            self.edging,
            longest_mm=longest,
            joists=joists,
            joints=joint_rules(self.joints, boards, longest, self.lengths) if self.joints else None,
        )
        there = all_on_hand(stock, self.on_hand)
        longest = max([longest, *(offcut.length_mm for offcut in there)])
        if self.joints is None:
            _check_lengths(layout, longest, self.lengths)
        return layout, edging

    def _start_reach(self, reach: Mapping[Treatment, float]) -> float:
        """How far boards reach past the edge that the first row is taped from."""
        edges = {edge.name: edge for edge in self.outline.edges}
        edge = edges.get(self.boards.start.edge or "")
        return reach[edge.treatment] if edge else 0.0


def _check_lengths(layout: Layout, longest_mm: float, lengths: LengthStyle) -> None:
    """Refuse pieces that no board gives whole."""
    piece = max(layout.pieces, key=lambda piece: piece.length_mm, default=None)
    if piece and piece.length_mm > longest_mm:
        raise LayoutError(
            f"Piece {piece.label} is {lengths(piece.length_mm)} long, and the longest board gives "
            f"{lengths(longest_mm)}: state longer boards under [stock], or allow joints with "
            f"[joints] and say with [joists] what they lie over."
        )
