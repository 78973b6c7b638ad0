"""From the job's tables to the rules that boards are laid by."""

import math
from collections.abc import Mapping, Sequence

from shapecut.job.boards import (
    PATTERNS,
    Boards,
    JointTable,
    JoistTable,
    SawTable,
    SeasoningTable,
)
from shapecut.job.edges import Allowances, BorderTable, BreakerTable
from shapecut.layout.border_rules import BorderRules
from shapecut.layout.edging import BreakerPlace, EdgingRules
from shapecut.layout.joints import JointPattern, JointRules
from shapecut.layout.joists import JoistRules
from shapecut.layout.layout import Board
from shapecut.layout.marked_joists import joists_along
from shapecut.layout.rules import LayoutRules, direction_along
from shapecut.layout.saw_limits import SawRules
from shapecut.layout.seasoning import SPECIES, gap_at_laying, width_change
from shapecut.layout.supports import SupportRules
from shapecut.layout.thermal import end_gap
from shapecut.shape.outline import Outline, Treatment
from shapecut.shape.setting_out import SettingOut
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = [
    "board_to_lay",
    "boards_direction",
    "edge_reach",
    "edging_rules",
    "joint_rules",
    "joist_rules",
    "layout_rules",
    "saw_rules",
    "support_rules",
]


def board_to_lay(boards: Boards, lengths: LengthStyle = MILLIMETRES) -> Board:
    """The board on the day, with the gap to leave then.

    Args:
        boards: The job's.
        lengths: How the refusal writes lengths.

    Raises:
        LayoutError: If the gap wanted in service cannot be had.
    """
    gap = boards.gap
    if boards.seasoning:
        change = _change(boards.width, boards.seasoning)
        gap = gap_at_laying(gap, change, lengths=lengths)
    return Board(boards.width, boards.thickness, gap)


def _change(width_mm: float, seasoning: SeasoningTable) -> float:
    return width_change(
        width_mm,
        SPECIES[seasoning.species],
        seasoning.grain,
        at_first=seasoning.at_laying,
        at_last=seasoning.in_service,
    )


def edge_reach(allowances: Allowances, gap_mm: float) -> dict[Treatment, float]:
    """How far boards reach past (+) or stay back from (-) an edge of each treatment, mm."""
    butt = gap_mm if allowances.butt is None else allowances.butt
    return {
        Treatment.WALL: -allowances.wall,
        Treatment.COVERED: -allowances.covered,
        Treatment.EXPOSED: allowances.exposed,
        Treatment.OVERHANG: allowances.overhang,
        Treatment.BUTT: -butt,
    }


def boards_direction(boards: Boards, outline: Outline) -> float:
    """The direction a job states for its boards, radians; not for the best of all.

    Raises:
        LayoutError: If there is no such edge, or it is an arc.
    """
    if boards.direction.edge is not None:
        return direction_along(outline, boards.direction.edge)
    return boards.direction.angle_rad or 0.0


def layout_rules(
    boards: Boards,
    *,
    direction_rad: float,
    reach_mm: float = 0.0,
    lengths: LengthStyle = MILLIMETRES,
) -> LayoutRules:
    """How the boards are laid.

    Args:
        boards: The job's.
        direction_rad: Theirs.
        reach_mm: How far boards reach past the edge that the start is taped from; negative where
            they stay back from it.
        lengths: How findings write lengths.
    """
    start = boards.start
    return LayoutRules(
        direction_rad=direction_rad,
        row_start=start.rule,
        start_edge=start.edge,
        offset_mm=0.0 if start.taped_mm is None else start.taped_mm + reach_mm,
        # Narrow slats may be ripped to half their width where a job does not say otherwise.
        smallest_rip_mm=boards.smallest_rip
        if "smallest_rip" in boards.model_fields_set
        else min(boards.smallest_rip, boards.width / 2),
        smallest_length_mm=boards.smallest_length,
        lengths=lengths,
    )


def joist_rules(
    joists: JoistTable,
    outline: Outline,
    boards_rad: float,
    *,
    marks: SettingOut | None = None,
    lengths: LengthStyle = MILLIMETRES,
) -> JoistRules:
    """How the joists lie under boards of some direction.

    Args:
        joists: The job's.
        outline: Whose edges they may run along.
        boards_rad: Direction of the boards.
        marks: What was drawn on the template.
        lengths: How refusals write lengths.

    Raises:
        LayoutError: If they are to run along an edge or a mark that does not exist, or along an
            arc.
    """
    stated, lines = joists.direction, joists.lines
    if joists.marked:
        direction, lines = joists_along(marks.lines if marks else (), joists.marked)
    elif stated is None:
        direction = boards_rad - math.pi / 2
    elif stated.edge is not None:
        direction = direction_along(outline, stated.edge)
    else:
        direction = stated.angle_rad or 0.0
    return JoistRules(
        direction_rad=direction,
        spacing_mm=joists.spacing,
        first_mm=joists.first,
        from_edge=joists.measured_from,
        lines_mm=lines,
        width_mm=joists.width,
        lengths=lengths,
    )


def support_rules(joists: JoistTable, lengths: LengthStyle = MILLIMETRES) -> SupportRules:
    """What is asked of the supports."""
    return SupportRules(
        longest_spacing_mm=joists.longest_spacing,
        composite=joists.material == "composite",
        free_end_mm=joists.free_end,
        lengths=lengths,
    )


def joint_rules(
    joints: JointTable,
    boards: Boards,
    longest_stock_mm: float,
    lengths: LengthStyle = MILLIMETRES,
) -> JointRules:
    """How long rows are joined.

    Args:
        joints: The job's.
        boards: Their smallest length holds unless another one is stated.
        longest_stock_mm: Longest piece that any board gives.
        lengths: How refusals write lengths.

    Raises:
        LayoutError: If no piece can be that short and that long, or the heat makes no sense.
    """
    longest = min(joints.longest or longest_stock_mm, longest_stock_mm)
    gap = joints.gap
    if joints.heat:
        heat = joints.heat
        gap = end_gap(
            longest,
            heat.per_kelvin,
            laid_at=heat.laid_at,
            hottest=heat.hottest,
            closed_mm=joints.gap,
        )
    return JointRules(
        longest_mm=longest,
        shortest_mm=boards.smallest_length if joints.shortest is None else joints.shortest,
        offset_mm=joints.offset,
        pattern=JointPattern(PATTERNS[joints.pattern]),
        gap_mm=gap,
        lengths=lengths,
    )


def saw_rules(saw: SawTable, kerf_mm: float, lengths: LengthStyle = MILLIMETRES) -> SawRules:
    """What can be cut, and what lasts."""
    return SawRules(
        blade_mm=kerf_mm if saw.blade is None else saw.blade,
        relief_radius_mm=saw.relief_radius,
        smallest_angle_rad=math.radians(saw.smallest_angle_deg),
        smallest_point_mm=saw.smallest_point,
        lengths=lengths,
    )


def edging_rules(
    border: BorderTable | None,
    breakers: Sequence[BreakerTable],
    left_long: Mapping[str, float],
    lengths: LengthStyle = MILLIMETRES,
) -> EdgingRules:
    """What is decided about the boards' edges.

    Args:
        border: The job's, if there is one.
        breakers: The job's.
        left_long: By edge, mm.
        lengths: How findings write lengths.

    Raises:
        LayoutError: If boards are to be left long at an edge with a border.
    """
    rules = None
    if border:
        rules = BorderRules(
            border.edges, border.courses, border.corners, border.corner_gap, lengths
        )
    places = tuple(BreakerPlace(table.measured_from, table.at) for table in breakers)
    return EdgingRules(rules, places, left_long)
