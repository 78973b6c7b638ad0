"""Border boards along chosen edges, and the field that they leave for the rows.

Glossary:
    border board: a board laid along an edge of the field, its face on the field's own side.
    course: one ring of border boards; the first lies at the edge, the next a gap further in.
    depth: what the courses take with the gap behind each.
    corner: where the sides of two edges meet; an inside corner turns to the right.
    mitred: cut along the bisector, which holds both corners of the two boards, whatever the angle.
    butted: one board runs through to the far side of the other, which stops a gap before it.
    turn: how far the boundary turns at a corner; each mitre is cut half of it off square.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import combinations

from shapecut.errors import LayoutError
from shapecut.findings import Finding
from shapecut.layout.border_joints import BorderJoints, joined_border
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Board, Piece
from shapecut.shape.clip import ON_BORDER_MM, clip, strip
from shapecut.shape.curves import Arc, Line
from shapecut.shape.inset import inset, turn_between
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement
from shapecut.shape.polygons import region_polygon
from shapecut.shape.region import Loop, Region, Side

__all__ = ["NO_ROW", "Border", "BorderCorner", "BorderRules", "Corners", "behind", "border_of"]

NO_ROW = 0
"""Row number of boards that belong to no row."""

OVERLAP_MM2 = 1.0
"""Boards that overlap by more than this run into each other; far above what flattening leaves."""

SHORTEST_SIDE_MM = 1e-3
"""Sides shorter than this have no board."""


class Corners(StrEnum):
    """How border boards meet at a corner."""

    MITRED = "mitred"
    BUTTED = "butted"


@dataclass(frozen=True)
class BorderRules:
    """A border.

    Attributes:
        edges: Names of the edges that it follows; of two that are butted, the one named first
            runs through.
        courses: Boards side by side.
        corners: How they meet.
        corner_gap_mm: Left open at mitres, at right angles to the cut.
    """

    edges: tuple[str, ...]
    courses: int = 1
    corners: Corners = Corners.MITRED
    corner_gap_mm: float = 0.0

    def depth_mm(self, board: Board) -> float:
        """What the courses take, with the gap behind each."""
        return self.courses * (board.width_mm + board.gap_mm)


@dataclass(frozen=True)
class BorderCorner:
    """A corner where two border boards meet.

    Attributes:
        edges: The edge that ends there and the one that starts.
        turn_rad: To the left; negative at inside corners.
        through: The edge whose board runs through; None where they are mitred.
    """

    edges: tuple[str, str]
    turn_rad: float
    through: str | None = None

    @property
    def mitre_rad(self) -> float:
        """How far off square each board is cut for a mitre: half of the turn."""
        return abs(self.turn_rad) / 2


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


def behind(edge: str) -> str:
    """Name of the field's side behind the border along an edge."""
    return f"{edge}-border"


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
    left = _left_inside(field, board, rules)
    pieces = tuple(_boards(field, board, rules))
    _check_apart(pieces, board, rules)
    done = joined_border([piece for _, piece in pieces], joints, joists)
    return Border(done.pieces, left, tuple(_corners(field, rules)), done.findings)


def _check_edges(field: Region, rules: BorderRules) -> None:
    sides = [side for loop in field.loops for side in loop if side.source]
    names = dict.fromkeys(side.source for side in sides)
    for edge in rules.edges:
        if edge not in names:
            raise LayoutError(
                f'A border is to lie along "{edge}", but the place has no such edge: it has '
                f"{', '.join(filter(None, names))}."
            )
        arc = next((s.curve for s in sides if s.source == edge and isinstance(s.curve, Arc)), None)
        if arc:
            raise LayoutError(
                f"No border can lie along {edge}: it is an arc of radius {arc.radius:.0f} mm, and "
                f"a straight board cannot follow it nor be mitred at it; leave {edge} out of "
                f"[border]."
            )


def _left_inside(field: Region, board: Board, rules: BorderRules) -> Region:
    """The field for the rows."""
    depth = rules.depth_mm(board)
    left = inset(field, dict.fromkeys(rules.edges, depth))
    if not left:
        x0, y0, x1, y1 = bounds(side.curve for side in field.outer)
        raise LayoutError(
            f"The border is wider than the place: along {', '.join(rules.edges)} it takes "
            f"{depth:.0f} mm ({rules.courses} × {board.width_mm:.0f} mm and a gap each) of a place "
            f"{x1 - x0:.0f} by {y1 - y0:.0f} mm and leaves nothing for rows; take fewer courses, "
            f"narrower boards or fewer edges."
        )
    if len(left) > 1:
        raise LayoutError(
            f"The border along {', '.join(rules.edges)}, {depth:.0f} mm with its gaps, parts the "
            f"place into {len(left)} fields: take fewer courses, or leave out an edge at the "
            f"narrow place."
        )
    names: dict[str | None, str] = {edge: behind(edge) for edge in rules.edges}

    def renamed(loop: Loop) -> Loop:
        return tuple(Side(side.curve, names.get(side.source, side.source)) for side in loop)

    outer, *holes = map(renamed, left[0].loops)
    return Region(outer, tuple(holes))


@dataclass(frozen=True)
class _Limit:
    """A line that a border board ends at; it keeps what lies on its left."""

    line: Placement
    name: str


def _boards(field: Region, board: Board, rules: BorderRules) -> Iterator[tuple[str, Piece]]:
    """Every border board with its edge, unjoined."""
    number = 0
    for course in range(rules.courses):
        outer = course * (board.width_mm + board.gap_mm)
        for loop in field.loops:
            for place, side in enumerate(loop):
                if side.source in rules.edges and side.curve.length > SHORTEST_SIDE_MM:
                    for region, frame in _band(field, loop, place, outer, board, rules):
                        number += 1
                        yield side.source, _piece(f"B{number}", region, frame)


def _band(
    field: Region, loop: Loop, place: int, outer_mm: float, board: Board, rules: BorderRules
) -> Iterator[tuple[Region, Placement]]:
    """The parts of one board, each in the frame of its outer face."""
    side = loop[place]
    before, after = loop[place - 1], loop[(place + 1) % len(loop)]
    across = (outer_mm, outer_mm + board.width_mm)
    limits = [
        *_limit(before, side, side, across, board, rules),
        *_limit(side, after, side, across, board, rules),
    ]
    frame = _frame(side)
    parts: tuple[Region, ...] = (field.placed(frame.inverse()),)
    for limit in limits:
        local = frame.inverse().after(limit.line)
        parts = tuple(_named(part, local, limit.name) for p in parts for part in clip(p, local))
    length = side.curve.length
    for part in (part for whole in parts for part in strip(whole, *across)):
        left, _, right, _ = bounds(s.curve for s in part.outer)
        if min(right, length) - max(left, 0.0) > SHORTEST_SIDE_MM:
            face = Placement((0.0, outer_mm))
            yield part.placed(face.inverse()), frame.after(face)


def _frame(side: Side) -> Placement:
    """The frame of a straight side: x along it, material above."""
    dx, dy = side.curve.direction()
    return Placement(side.curve.start, math.atan2(dy, dx))


def _limit(
    first: Side,
    second: Side,
    mine: Side,
    across_mm: tuple[float, float],
    board: Board,
    rules: BorderRules,
) -> Iterator[_Limit]:
    """The line that the board of one of two neighbouring sides ends at; none at the field's own."""
    name = f"{first.source}/{second.source}"
    other, at_end = (second, True) if mine is first else (first, False)
    turn = turn_between(first.curve, second.curve)
    corner = first.curve.end
    frame = _frame(mine)
    if other.source not in rules.edges:
        if turn < 0:
            back = board.gap_mm if at_end else -board.gap_mm
            ux, uy = mine.curve.direction()
            before_it = (corner[0] - back * ux, corner[1] - back * uy)
            yield _Limit(_upright(before_it, frame.turn_rad, at_end=at_end), name)
        return
    if rules.corners is Corners.MITRED or abs(turn) < 1e-9:
        half = rules.corner_gap_mm / 2
        tilt = frame.turn_rad + (turn if at_end else -turn) / 2
        bisector = _upright(corner, tilt, at_end=at_end)
        yield _Limit(Placement(bisector.to_plane((0.0, half)), bisector.turn_rad), name)
        return
    outer, inner = across_mm
    runs_through = rules.edges.index(mine.source or "") < rules.edges.index(other.source)
    yield _Limit(_butted(other, outer, inner, turn, board.gap_mm, runs_through), name)


def _upright(at: tuple[float, float], turn_rad: float, *, at_end: bool) -> Placement:
    """The line through a point square to a direction, that keeps what lies before or behind it."""
    return Placement(at, turn_rad + (math.pi / 2 if at_end else -math.pi / 2))


def _butted(
    other: Side, outer: float, inner: float, turn: float, gap: float, runs_through: bool
) -> Placement:
    """Where a board ends at the board of another side: at its far face, or a gap before its near.

    At an inside corner the near face of the board that runs through is its outer one.
    """
    inside = turn < 0
    if runs_through:
        level, into = (inner, False) if inside else (outer, True)
    else:
        level, into = (outer - gap, False) if inside else (inner + gap, True)
    frame = _frame(other)
    return Placement(frame.to_plane((0.0, level)), frame.turn_rad + (0.0 if into else math.pi))


def _named(region: Region, line: Placement, name: str) -> Region:
    """The region with its nameless sides along a line named."""

    def lies_along(side: Side) -> bool:
        ends = (side.curve.start, side.curve.end)
        straight = isinstance(side.curve, Line)
        return straight and all(abs(line.to_local(end)[1]) <= 2 * ON_BORDER_MM for end in ends)

    def named(loop: Loop) -> Loop:
        return tuple(
            replace(side, source=name) if side.source is None and lies_along(side) else side
            for side in loop
        )

    outer, *holes = map(named, region.loops)
    return Region(outer, tuple(holes))


def _piece(label: str, region: Region, frame: Placement) -> Piece:
    left, _, right, _ = bounds(side.curve for side in region.outer)
    start = Placement((left, 0.0))
    return Piece(label, NO_ROW, region.placed(start.inverse()), frame.after(start), right - left)


def _check_apart(pieces: Sequence[tuple[str, Piece]], board: Board, rules: BorderRules) -> None:
    """Refuse boards that run into each other."""
    shapes = [
        (edge, region_polygon(piece.region.placed(piece.placement))) for edge, piece in pieces
    ]
    for (edge, shape), (other, beside) in combinations(shapes, 2):
        if shape.intersects(beside) and shape.intersection(beside).area > OVERLAP_MM2:
            raise LayoutError(
                f"The border boards along {edge} and {other} run into each other: the border, "
                f"{rules.depth_mm(board):.0f} mm with its gaps, is wider than the place is there; "
                f"take fewer courses, or leave one of them out of [border]."
            )


def _corners(field: Region, rules: BorderRules) -> Iterator[BorderCorner]:
    """The corners where two bordered sides meet."""
    for loop in field.loops:
        for before, after in zip([loop[-1], *loop[:-1]], loop, strict=True):
            first, second = before.source, after.source
            if first in rules.edges and second in rules.edges and first != second:
                through = None
                if rules.corners is Corners.BUTTED:
                    through = min(first, second, key=rules.edges.index)
                turn = turn_between(before.curve, after.curve)
                yield BorderCorner((first, second), turn, through)
