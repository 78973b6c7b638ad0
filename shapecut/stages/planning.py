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
from shapecut.layout.edging import Edging, EdgingRules
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.shape.naming import whole_name
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.setting_out import SettingOut
from shapecut.stages.boarding import Boarding
from shapecut.stages.carpentry import boards_direction, layout_rules
from shapecut.stages.cutting import yard_of
from shapecut.stages.directions import directions_along_edges, trial_of
from shapecut.stock.alternatives import Alternative, alternatives
from shapecut.stock.cutplan import CutPlan, Offcut, Stock
from shapecut.stock.spares import with_spares
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["OTHERS", "Plan", "plan", "planned", "rows_alone", "treated"]

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
    """Lay boards over an outline and choose the boards to buy: `planned` by the tables of a job.

    Args:
        outline: With its edges treated.
        boards: The boards and how they are laid; this and what follows as in `Boarding`.
        allowances: For each treatment.
        stock: What the yard sells, and the saw's kerf.
        joists: What the boards lie on.
        joints: How long rows are joined.
        saw: What can be cut.
        on_hand: Offcuts that are there.
        edging: What lies at the edges.
        marks: What was drawn on the template.
        lengths: How findings and refusals write lengths.

    Raises:
        ShapecutError: As `planned` does.
    """
    boarding = Boarding(
        boards,
        allowances,
        stock,
        joists,
        joints,
        saw or SawTable(),
        on_hand,
        edging or EdgingRules(),
        marks,
        lengths,
    )
    return planned(outline, boarding)


def planned(outline: Outline, boarding: Boarding) -> Plan:
    """Lay boards over an outline and choose the boards to buy.

    Args:
        outline: With its edges treated.
        boarding: How boards are laid and what they are cut from.

    Raises:
        ShapeError: Allowances that leave nothing of the outline.
        LayoutError: Boards that cannot be laid by these rules.
        StockError: Pieces that cannot be cut from the stock.
    """
    time_limit_s = boarding.stock.search_seconds
    if not boarding.boards.direction.is_best:
        direction = boards_direction(boarding.boards, outline)
        return _beside_others(_planned(outline, boarding, direction, time_limit_s), boarding)
    trials = _trials(outline, boarding)
    if trials[0].refused:
        raise LayoutError(
            f"No edge gives a direction that boards can be laid in: {trials[0].refused}"
        )
    made = _planned(outline, boarding, trials[0].direction_rad, time_limit_s)
    return _beside_others(replace(made, trials=trials), boarding)


def rows_alone(outline: Outline, boarding: Boarding) -> Layout:
    """The rows and pieces of `planned` without the boards to buy: fast enough for dragging.

    Arguments and errors are those of `planned`.
    """
    if boarding.boards.direction.is_best:
        return boarding.laid(outline, _trials(outline, boarding)[0].direction_rad)[0]
    return boarding.laid(outline, boards_direction(boarding.boards, outline))[0]


def _trials(outline: Outline, boarding: Boarding) -> tuple[DirectionTrial, ...]:
    """What the directions of the outline's straight edges cost, the best first.

    Raises:
        LayoutError: If the outline has no straight edge.
    """
    directions = directions_along_edges(outline)
    if not directions:
        raise LayoutError(
            "The outline has no straight edge whose direction could be compared: state the "
            "direction of the boards as an angle."
        )
    found = []
    for edge, turn in directions:
        try:
            made = _planned(outline, boarding, turn, TRIAL_TIME_LIMIT_S)
        except ShapecutError as error:
            found.append(DirectionTrial(edge, turn, refused=str(error)))
        else:
            rules = layout_rules(boarding.boards, direction_rad=turn)
            found.append(trial_of(edge, made.layout, made.cut_plan, rules))
    return tuple(sorted(found, key=lambda trial: trial.rank))


def _planned(
    outline: Outline, boarding: Boarding, direction_rad: float, time_limit_s: float
) -> Plan:
    """The plan with the boards in one direction."""
    layout, edging = boarding.laid(outline, direction_rad)
    supports = boarding.supports(outline, layout)
    findings = boarding.findings(layout, supports)
    stock = boarding.stock
    cut_plan = boarding.cut(layout, yard_of(stock), time_limit_s=time_limit_s)
    cut_plan = with_spares(cut_plan, stock.spare_percent / 100)
    layout = replace(layout, findings=findings)
    return Plan(outline, boarding.reach, layout, cut_plan, supports, edging=edging)


def _beside_others(plan: Plan, boarding: Boarding) -> Plan:
    """A plan beside which each length that the yard sells stands alone."""
    yard = yard_of(boarding.stock)
    if len(yard) < 2:
        return plan

    def cut(yard: Sequence[Stock]) -> CutPlan:
        return boarding.cut(plan.layout, yard, time_limit_s=ALTERNATIVE_TIME_LIMIT_S)

    return replace(plan, alternatives=alternatives(yard, plan.cut_plan, cut))
