"""Border boards along chosen edges, and the field that they leave for the rows.

The words are those of `border_rules`.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import shapely

from shapecut.errors import LayoutError
from shapecut.findings import Finding
from shapecut.layout.border_bands import band, butted, free_end, mitre
from shapecut.layout.border_field import left_inside
from shapecut.layout.border_joints import BorderJoints, joined_border
from shapecut.layout.border_rules import NO_ROW, BorderCorner, BorderRules, Corners
from shapecut.layout.field_sides import FieldSide, Neighbour, arc_along, main_sides
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Board, Piece
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement
from shapecut.shape.polygons import GRID_MM, region_polygon
from shapecut.shape.region import Region

__all__ = ["Border", "border_of"]

STRAIGHT_ON_RAD = math.radians(1.0)
"""At a lesser turn two boards meet end to end."""

OVERLAP_MM2 = 1.0
"""Boards that overlap by more than this run into each other."""

FLATTENING_MM = 0.01
"""What flattened arcs add to that for each mm of their length."""

SAME_WIDTH_MM = 1e-3
"""A board may be this much narrower than stated: floats are not exact."""


@dataclass(frozen=True)
class Border:
    """Border boards and what they leave.

    Attributes:
        pieces: Labelled B1, B2, ... course by course round the field, a letter for each part.
        field: What is left inside; sides behind a border go by `behind` of their edge.
        corners: Of the first course.
        findings: What a fitter must know.
    """

    pieces: tuple[Piece, ...]
    field: Region
    corners: tuple[BorderCorner, ...]
    findings: tuple[Finding, ...] = ()


def border_of(
    field: Region,
    board: Board,
    rules: BorderRules,
    *,
    joints: BorderJoints,
    joists: Joists | None = None,
) -> Border:
    """Lay border boards along edges of a field.

    Args:
        field: With its allowances, in the plane.
        board: The same as in the rows.
        rules: Which edges, how many courses, and their corners.
        joints: Of boards longer than any that can be had.
        joists: What joints lie over, where that is known.

    Raises:
        LayoutError: If an edge does not exist or is an arc, or the border is wider than the place
            is there or parts it.
    """
    _check_edges(field, rules)
    sides = list(main_sides(field, rules.edges))
    left = left_inside(field, sides, board, rules)
    pieces = tuple(_boards(field, sides, board, rules))
    _check_apart(pieces, left, board, rules)
    done = joined_border([piece for _, piece in pieces], joints, joists)
    return Border(done.pieces, left, tuple(_corners(sides, rules)), done.findings)


def _check_edges(field: Region, rules: BorderRules) -> None:
    names = dict.fromkeys(side.source for loop in field.loops for side in loop if side.source)
    for edge in rules.edges:
        if edge not in names:
            raise LayoutError(
                f'A border is to lie along "{edge}", but the place has no such edge: it has '
                f"{', '.join(names)}."
            )
        arc = arc_along(field, edge)
        if arc:
            raise LayoutError(
                f"No border can lie along {edge}: it is an arc of radius "
                f"{rules.lengths(arc.radius)}, and a straight board cannot follow it nor be mitred "
                f"at it; leave {edge} out of [border]."
            )


def _boards(
    field: Region, sides: Sequence[FieldSide], board: Board, rules: BorderRules
) -> Iterator[tuple[str, Piece]]:
    """Every border board with its edge, unjoined."""
    number = 0
    for course in range(rules.courses):
        outer = course * (board.width_mm + board.gap_mm)
        across = (outer, outer + board.width_mm)
        for side in sides:
            ends = ((side.before, False), (side.after, True))
            limits = [_limit(n, side, across, board, rules, at_end=end) for n, end in ends]
            names = [_corner_name(n, side, at_end=end) for n, end in ends]
            face = Placement((0.0, outer))
            parts = list(band(field, side, limits, across, names))
            _check_whole(parts, side, board, rules)
            for part in parts:
                number += 1
                region = part.placed(face.inverse())
                yield side.edge, _piece(f"B{number}", region, side.frame.after(face))


def _check_whole(
    parts: Sequence[Region], side: FieldSide, board: Board, rules: BorderRules
) -> None:
    """Refuse a board that comes to a point before it is as wide as it is to be."""
    boxes = [bounds(one.curve for one in part.outer) for part in parts]
    widest = max((high - low for _, low, _, high in boxes), default=0.0)
    if widest < board.width_mm - SAME_WIDTH_MM:
        raise LayoutError(
            f"No whole border board fits along {side.edge}, which is "
            f"{rules.lengths(side.line.length)} long: between its neighbours, or the far side of "
            f"the place, it is wider than there is room for; take fewer courses, or leave "
            f"{side.edge} out of [border]."
        )


def _corner_name(neighbour: Neighbour, side: FieldSide, *, at_end: bool) -> str:
    other = neighbour.side.source or ""
    return f"{side.edge}/{other}" if at_end else f"{other}/{side.edge}"


def _limit(
    neighbour: Neighbour,
    side: FieldSide,
    across_mm: tuple[float, float],
    board: Board,
    rules: BorderRules,
    *,
    at_end: bool,
) -> Placement | None:
    """The line that a board ends at; None where it ends with the field itself."""
    if not neighbour.is_chosen:
        return free_end(neighbour, side, across_mm[1], board.gap_mm, at_end=at_end)
    if rules.corners is Corners.MITRED or abs(neighbour.turn_rad) < STRAIGHT_ON_RAD:
        return mitre(neighbour, side, rules.corner_gap_mm, at_end=at_end)
    outer, inner = across_mm
    other = neighbour.side.source or ""
    runs_through = rules.edges.index(side.edge) < rules.edges.index(other)
    return butted(neighbour, outer, inner, board.gap_mm, runs_through)


def _piece(label: str, region: Region, frame: Placement) -> Piece:
    left, _, right, _ = bounds(side.curve for side in region.outer)
    start = Placement((left, 0.0))
    return Piece(label, NO_ROW, region.placed(start.inverse()), frame.after(start), right - left)


def _check_apart(
    pieces: Sequence[tuple[str, Piece]], left: Region, board: Board, rules: BorderRules
) -> None:
    """Refuse boards that run into each other, or past their own edge into the field."""
    shapes = [
        (edge, region_polygon(piece.region.placed(piece.placement))) for edge, piece in pieces
    ]
    for (edge, shape), (other, beside) in combinations(shapes, 2):
        if _overlap(shape, beside):
            raise LayoutError(
                f"The border boards along {edge} and {other} run into each other: the border, "
                f"{rules.lengths(rules.depth_mm(board))} with its gaps, is wider than the place is "
                f"there; take fewer courses, or leave one of them out of [border]."
            )
    field = region_polygon(left)
    for edge, shape in shapes:
        if _overlap(shape, field):
            raise LayoutError(
                f"The border board along {edge} reaches past its corner, where the edge beside it "
                f"is shorter than the board is wide: border that edge as well, mitre the corners, "
                f"or leave {edge} out of [border]."
            )


def _overlap(shape: shapely.Polygon, other: shapely.Polygon) -> bool:
    """Whether two shapes overlap by more than flattened arcs explain."""
    if not shapely.intersects(shape, other):
        return False
    common = shapely.intersection(shape, shapely.make_valid(other), grid_size=GRID_MM)
    return bool(shapely.area(common) > OVERLAP_MM2 + FLATTENING_MM * shapely.length(shape))


def _corners(sides: Sequence[FieldSide], rules: BorderRules) -> Iterator[BorderCorner]:
    """The corners where two bordered sides meet."""
    for side in sides:
        other = side.after.side.source
        if side.after.is_chosen and other and other != side.edge:
            through = None
            if rules.corners is Corners.BUTTED:
                through = min(side.edge, other, key=rules.edges.index)
            yield BorderCorner((side.edge, other), side.after.turn_rad, through)
