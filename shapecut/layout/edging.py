"""Rows with what lies at their ends: border boards, breakers, boards left long, and stops.

Glossary:
    edging: all that is decided edge by edge about how boards end.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import shapely

from shapecut.errors import LayoutError
from shapecut.layout.bare_slots import bare_slots
from shapecut.layout.border import border_of
from shapecut.layout.border_joints import BorderJoints
from shapecut.layout.border_rules import BorderCorner, BorderRules, behind
from shapecut.layout.breakers import breaker_along, breaker_boards
from shapecut.layout.joints import JointRules
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Board, Layout, Piece
from shapecut.layout.left_long import RowStop, Trim, grown, row_stops, trims
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.shape.outline import Outline
from shapecut.shape.polygons import GRID_MM, region_polygon
from shapecut.shape.region import Region

__all__ = ["BreakerPlace", "Edging", "EdgingRules", "lay_edged"]

OVERLAP_MM2 = 2.0
"""Boards that overlap by more than this run into each other; flattened arcs explain less."""


@dataclass(frozen=True)
class BreakerPlace:
    """Where a breaker board lies: its middle, from an edge into the place."""

    edge: str
    at_mm: float


@dataclass(frozen=True)
class EdgingRules:
    """What is decided about edges.

    Attributes:
        border: Border boards, if there are any.
        breakers: Boards across the field.
        left_long: By edge, how far the rows' boards are cut long there to be trimmed in place;
            border boards and breakers are cut to length.

    Raises:
        LayoutError: If boards are to be left long at an edge with a border.
    """

    border: BorderRules | None = None
    breakers: tuple[BreakerPlace, ...] = ()
    left_long: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        both = [edge for edge in self.left_long if self.border and edge in self.border.edges]
        if both:
            raise LayoutError(
                f"{both[0]} has a border board along it and is to be left long: nothing is left "
                f"to trim behind a border; leave {both[0]} out of [border] or out of [left_long]."
            )


@dataclass(frozen=True)
class Edging:
    """What a fitter does at the edges.

    Attributes:
        corners: Of the border.
        trims: Lines to snap and trim along.
        stops: For flush row ends.
    """

    corners: tuple[BorderCorner, ...] = ()
    trims: tuple[Trim, ...] = ()
    stops: tuple[RowStop, ...] = ()


def lay_edged(
    outline: Outline,
    place: Region,
    board: Board,
    rules: LayoutRules,
    edging: EdgingRules,
    *,
    longest_mm: float,
    joists: Joists | None = None,
    joints: JointRules | None = None,
) -> tuple[Layout, Edging]:
    """Lay border boards, breakers and the rows between them.

    Args:
        outline: Whose edges and corners are named.
        place: What boards are to cover in the end: the outline with its allowances.
        board: The same for all.
        rules: Direction and start of the rows.
        edging: What is decided about edges.
        longest_mm: Longest piece that any board gives.
        joists: What the boards lie on, where that is known.
        joints: Of rows longer than any board.

    Returns:
        A layout whose pieces are those of the rows, then the border's and the breakers'; and what
        is to be done at the edges.

    Raises:
        LayoutError: If any of it cannot be laid.
    """
    end_gap = joints.gap_mm if joints else 0.0
    border_joints = BorderJoints(longest_mm, rules.smallest_length_mm, end_gap, rules.lengths)
    border = None
    if edging.border:
        border = border_of(place, board, edging.border, joints=border_joints, joists=joists)
        rules = _started_behind(rules, edging.border, board)
    inner = border.field if border else place
    breakers = [breaker_along(outline, one.edge, one.at_mm, board) for one in edging.breakers]
    across = breaker_boards(inner, breakers, joints=border_joints, joists=joists)
    rough = grown(inner, edging.left_long) if edging.left_long else inner
    rows = lay_rows(rough, board, rules, joists=joists, joints=joints, breakers=breakers)
    others = (*(border.pieces if border else ()), *across.pieces)
    if edging.left_long:
        _check_clear(rows.pieces, others, edging.left_long)
    layout = replace(rows, field=place, pieces=(*rows.pieces, *others))
    corner_gap = edging.border.corner_gap_mm if edging.border else 0.0
    slots = bare_slots(layout, max(board.gap_mm, end_gap, corner_gap), lengths=rules.lengths)
    layout = replace(
        layout,
        findings=(
            *rows.findings,
            *(border.findings if border else ()),
            *across.findings,
            *(slots if others else ()),
        ),
    )
    return layout, Edging(
        corners=border.corners if border else (),
        trims=trims(layout, place, outline, edging.left_long),
        stops=row_stops(layout, place, outline),
    )


def _check_clear(
    rows: Sequence[Piece], others: Sequence[Piece], left_long: Mapping[str, float]
) -> None:
    """Refuse rows that are left long into border boards or breakers."""
    shapes = [region_polygon(piece.region.placed(piece.placement)) for piece in rows]
    tree = shapely.STRtree(shapes)
    for piece in others:
        shape = region_polygon(piece.region.placed(piece.placement))
        for index in tree.query(shape, predicate="intersects"):
            common = shapely.intersection(shape, shapes[index], grid_size=GRID_MM)
            if common.area > OVERLAP_MM2:
                raise LayoutError(
                    f"Piece {rows[index].label}, left long at {', '.join(left_long)}, runs into "
                    f"{piece.label}: leave it less long, or leave that edge out of [left_long]."
                )


def _started_behind(rules: LayoutRules, border: BorderRules, board: Board) -> LayoutRules:
    """Rows that start at an edge with a border start behind it.

    A taped offset still counts from the edge itself.
    """
    if rules.start_edge not in border.edges:
        return rules
    offset = rules.offset_mm - border.depth_mm(board) if rules.offset_mm else 0.0
    return replace(rules, start_edge=behind(rules.start_edge), offset_mm=offset)
