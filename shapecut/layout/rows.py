"""Rows of boards over a field, and the pieces that the field's outline cuts from them."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapecut.errors import LayoutError
from shapecut.findings import Finding, Level
from shapecut.layout.best_start import best_starts
from shapecut.layout.breakers import Breaker, parted_by
from shapecut.layout.joints import Joined, JointRules, joined
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Board, Layout, Piece, Row
from shapecut.layout.piece_labels import piece_letters
from shapecut.layout.rules import LayoutRules, RowStart, StartSide
from shapecut.layout.small_parts import bare_strips, small_parts
from shapecut.shape.clip import ON_BORDER_MM, strip
from shapecut.shape.curves import Arc, Line
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement
from shapecut.shape.region import Region

__all__ = ["MOST_ROWS", "balanced_start", "cut_rows", "lay_rows", "row_strips"]

MOST_ROWS = 2000
"""Greatest number of rows that are laid; more come from a board or a field in the wrong units."""

MORE_JOINTS = Finding(
    Level.NOTE,
    "joints",
    "There are so many ways of joining the rows that not all were looked at: there may be one with "
    "fewer joints.",
)


def lay_rows(
    field: Region,
    board: Board,
    rules: LayoutRules,
    *,
    joists: Joists | None = None,
    joints: JointRules | None = None,
    breakers: Sequence[Breaker] = (),
) -> Layout:
    """Lay boards side by side over a field and cut them along its outline.

    Args:
        field: What the boards are to cover, allowances included, in the plane; its sides' sources
            name the outline's edges.
        board: The board as it really is.
        rules: Direction and start.
        joists: What joints lie over.
        joints: How pieces longer than any board are joined; None to leave them whole.
        breakers: Boards across the field that part its rows.

    Returns:
        Every row that takes part of the field, from the starting side, and its pieces.  The row
        frame's origin is the plane's origin.

    Raises:
        LayoutError: If the board or the gap makes no sense, the field is smaller than a board or
            takes more than `MOST_ROWS`, the starting edge does not exist or is not parallel to the
            boards, or rows cannot be joined over these joists.
    """
    _check_board(board)
    frame = Placement(turn_rad=rules.direction_rad)
    in_rows = field.placed(frame.inverse())
    left, low, right, high = bounds(side.curve for side in in_rows.outer)
    _check_size(right - left, high - low, board)
    starts = best_starts(in_rows, board, rules) if rules.row_start is RowStart.BEST else ()
    if starts:
        start = _Start(starts[0].level_mm, rules.start_side)
    elif rules.row_start is RowStart.BALANCED:
        start = _Start(balanced_start((low, high), board), rules.start_side)
    else:
        start = _start(in_rows, board, rules, (low, high))
    strips = row_strips((low, high), start.edge_mm, board)
    if start.side is StartSide.HIGH:
        strips = strips[::-1]
    rows = tuple(Row(number, across) for number, across in enumerate(strips, start=1))
    whole = parted_by(tuple(cut_rows(in_rows, rows, frame)), breakers)
    found = _joined(rows, whole, board, frame, joists, joints)
    return Layout(
        board=board,
        field=field,
        frame=frame,
        rows=rows,
        pieces=found.pieces,
        findings=(
            *small_parts(rows, found.pieces, rules),
            *bare_strips(rows, (low, high), board),
            *(() if found.proved else (MORE_JOINTS,)),
        ),
        starts=starts,
        joints=found.joints,
    )


def _joined(
    rows: Sequence[Row],
    pieces: tuple[Piece, ...],
    board: Board,
    frame: Placement,
    joists: Joists | None,
    joints: JointRules | None,
) -> Joined:
    """The pieces with their joints, if there are to be any."""
    if joints is None:
        return Joined(pieces, (), True)
    if joists is None:
        raise LayoutError(
            "Boards can only be joined over joists, and there are none: say where the joists lie."
        )
    return joined(rows, pieces, board, frame, joists, joints)


def balanced_start(across_mm: tuple[float, float], board: Board) -> float:
    """Where the lower edge of the first board lies if the first and the last row are equal.

    As few rows as cover the field, so that both are as wide as they can be: never less than half a
    board less half a gap.

    Args:
        across_mm: Low and high end of the field across the boards, row frame.
        board: Gives width and gap.
    """
    low, high = across_mm
    pitch = board.width_mm + board.gap_mm
    count = max(1, math.ceil((high - low - ON_BORDER_MM + board.gap_mm) / pitch))
    return (low + high - count * pitch + board.gap_mm) / 2


def row_strips(
    across_mm: tuple[float, float], edge_mm: float, board: Board
) -> tuple[tuple[float, float], ...]:
    """The strips of all boards that take part of a stretch across them.

    Args:
        across_mm: Low and high end of the field across the boards, row frame.
        edge_mm: Where the lower edge of one of the boards lies.
        board: Gives width and gap.

    Returns:
        (low, high) of each board, upwards.
    """
    low, high = across_mm
    pitch = board.width_mm + board.gap_mm
    # The first board is the lowest whose upper edge is above the field's low end, the last one the
    # highest whose lower edge is below the field's high end.
    first = math.floor((low + ON_BORDER_MM - edge_mm - board.width_mm) / pitch) + 1
    last = math.ceil((high - ON_BORDER_MM - edge_mm) / pitch) - 1
    lower_edges = (edge_mm + place * pitch for place in range(first, last + 1))
    return tuple((edge, edge + board.width_mm) for edge in lower_edges)


def cut_rows(field: Region, rows: Sequence[Row], frame: Placement) -> Iterator[Piece]:
    """Cut the pieces of some rows out of a field.

    Args:
        field: In the row frame.
        rows: Their strips must not overlap.
        frame: Of the row frame in the plane.

    Yields:
        Row by row, along each row.
    """
    for row in rows:
        low, high = row.across_mm
        parts = [(bounds(s.curve for s in part.outer), part) for part in strip(field, low, high)]
        parts.sort(key=lambda found: found[0])
        for place, ((left, _, right, _), part) in enumerate(parts):
            yield Piece(
                label=f"{row.number}{piece_letters(place)}",
                row=row.number,
                region=part.placed(Placement((-left, -low))),
                placement=Placement(frame.to_plane((left, low)), frame.turn_rad),
                length_mm=right - left,
            )


@dataclass(frozen=True)
class _Start:
    """Where the lower edge of one full board lies, and from which side rows are counted."""

    edge_mm: float
    side: StartSide


def _start(
    field: Region, board: Board, rules: LayoutRules, across_mm: tuple[float, float]
) -> _Start:
    """Turn the rules into the place of one board; the field is in the row frame."""
    side, (low, high) = rules.start_side, across_mm
    if rules.start_edge is not None:
        edge = _starting_edge(field, rules)
        # Material is on the left of the edge: above it when it runs the way of the boards.
        side = StartSide.LOW if edge.end[0] > edge.start[0] else StartSide.HIGH
        # The outermost end of an edge a little out of parallel, so that the board covers it all.
        low, high = sorted((edge.start[1], edge.end[1]))
    if side is StartSide.LOW:
        return _Start(low + rules.offset_mm, side)
    return _Start(high - rules.offset_mm - board.width_mm, side)


def _starting_edge(field: Region, rules: LayoutRules) -> Line:
    """The longest side that follows the starting edge."""
    name = rules.start_edge
    sides = [side for loop in field.loops for side in loop if side.source == name]
    if not sides:
        names = dict.fromkeys(s.source for loop in field.loops for s in loop if s.source)
        raise LayoutError(
            f'The first row is to start at "{name}", but there is no such edge to lay boards '
            f"along: there are {', '.join(names)}."
        )
    curve = max(sides, key=lambda side: side.curve.length).curve
    if isinstance(curve, Arc):
        raise LayoutError(
            f"The first row cannot start along {name}: it is an arc of radius "
            f"{curve.radius:.0f} mm; choose a straight edge, or leave the start out."
        )
    dx, dy = curve.direction()
    off = math.atan2(abs(dy), abs(dx))
    if off > rules.parallel_rad:
        raise LayoutError(
            f"The first row cannot start along {name}: it is {math.degrees(off):.1f}° off the "
            f"boards' direction; choose an edge parallel to the boards, or lay them along {name}."
        )
    return curve


def _check_board(board: Board) -> None:
    if board.width_mm <= 0:
        raise LayoutError(
            f"The board is {board.width_mm:g} mm wide: state the width of the real board."
        )
    if not 0 <= board.gap_mm < board.width_mm:
        raise LayoutError(
            f"The gap of {board.gap_mm:g} mm does not go with boards {board.width_mm:g} mm wide: "
            f"state a gap of at least 0 mm and less than the board's width."
        )


def _check_size(along_mm: float, across_mm: float, board: Board) -> None:
    count = across_mm / (board.width_mm + board.gap_mm)
    if count > MOST_ROWS:
        raise LayoutError(
            f"Boards {board.width_mm:g} mm wide would lie in about {count:.0f} rows on a place "
            f"{along_mm:.0f} mm by {across_mm:.0f} mm, and {MOST_ROWS} are the most: check the "
            f"width of the board and the scale of the outline."
        )
    if across_mm < board.width_mm - ON_BORDER_MM:
        raise LayoutError(
            f"The place to be boarded is only {across_mm:.1f} mm across the boards, and one board "
            f"is {board.width_mm:.1f} mm wide: turn the boards, take a narrower board, or check "
            f"the scale of the outline."
        )
    if along_mm < board.width_mm - ON_BORDER_MM:
        raise LayoutError(
            f"The place to be boarded is only {along_mm:.1f} mm along the boards, less than a "
            f"board's width of {board.width_mm:.1f} mm: turn the boards, or check the scale of the "
            f"outline."
        )
