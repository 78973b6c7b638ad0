"""Rows of boards over a field, and the pieces that the field's outline cuts from them."""

from collections.abc import Sequence
from dataclasses import replace

from shapecut.errors import LayoutError
from shapecut.findings import Finding, Level
from shapecut.layout.best_start import best_starts
from shapecut.layout.breakers import Breaker, parted_by
from shapecut.layout.joints import Joined, JointRules, joined
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Board, Layout, Piece, Row, Start
from shapecut.layout.row_cutting import cut_rows, numbered_rows
from shapecut.layout.row_start import FirstBoard, balanced_start, first_board
from shapecut.layout.rules import LayoutRules, RowStart
from shapecut.layout.small_parts import (
    bare_strips,
    closed_holes,
    small_part_findings,
    small_parts,
)
from shapecut.shape.clip import ON_BORDER_MM
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement
from shapecut.shape.region import Region

__all__ = ["MOST_ROWS", "lay_rows"]

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
        LayoutError: If the board or the gap makes no sense, the field is narrower than the smallest
            rip, shorter than a board is wide or takes more than `MOST_ROWS`, the starting edge does
            not exist or is not parallel to the boards, or rows cannot be joined over these joists.
    """
    _check_board(board, rules)
    frame = Placement(turn_rad=rules.direction_rad)
    in_rows = field.placed(frame.inverse())
    left, low, right, high = bounds(side.curve for side in in_rows.outer)
    _check_size(right - left, high - low, board, rules)
    starts = _starts(in_rows, board, rules) if rules.row_start is RowStart.BEST else ()
    if starts:
        start = FirstBoard(starts[0].level_mm, rules.start_side)
    elif rules.row_start is RowStart.BALANCED:
        start = FirstBoard(balanced_start((low, high), board), rules.start_side)
    else:
        start = first_board(in_rows, board, rules, (low, high))
    rows = numbered_rows((low, high), start, board)
    whole = parted_by(tuple(cut_rows(in_rows, rows, frame)), breakers)
    found = _joined(rows, whole, board, frame, joists, joints)
    return Layout(
        board=board,
        field=field,
        frame=frame,
        rows=rows,
        pieces=found.pieces,
        findings=(
            *small_part_findings(small_parts(rows, found.pieces, rules), rules),
            *closed_holes(found.pieces),
            *bare_strips(rows, (low, high), board, rules),
            *(() if found.proved else (MORE_JOINTS,)),
        ),
        starts=starts,
        joints=found.joints,
    )


def _starts(field: Region, board: Board, rules: LayoutRules) -> tuple[Start, ...]:
    """The best starts, their arms counted on the pieces as cut, as findings tell them.

    The search takes arcs as chords and may be out by an arm where one is about to count.
    """
    _, low, _, high = bounds(side.curve for side in field.outer)
    starts = []
    for start in best_starts(field, board, rules):
        rows = numbered_rows((low, high), FirstBoard(start.level_mm, rules.start_side), board)
        pieces = tuple(cut_rows(field, rows, Placement()))
        starts.append(replace(start, arms=len(small_parts(rows, pieces, rules).arms)))
    # Sorting keeps the order of those with equal faults.
    return tuple(sorted(starts, key=lambda start: start.faults))


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


def _check_board(board: Board, rules: LayoutRules) -> None:
    width, gap = rules.lengths.fine(board.width_mm), rules.lengths.fine(board.gap_mm)
    if board.width_mm <= 0:
        raise LayoutError(f"The board is {width} wide: state the width of the real board.")
    if not 0 <= board.gap_mm < board.width_mm:
        raise LayoutError(
            f"The gap of {gap} does not go with boards {width} wide: state a gap of at least "
            f"nothing and less than the board's width."
        )


def _check_size(along_mm: float, across_mm: float, board: Board, rules: LayoutRules) -> None:
    lengths, width = rules.lengths, rules.lengths.fine(board.width_mm)
    count = across_mm / (board.width_mm + board.gap_mm)
    if count > MOST_ROWS:
        raise LayoutError(
            f"Boards {width} wide would lie in about {count:.0f} rows on a place "
            f"{lengths(along_mm)} by {lengths(across_mm)}, and {MOST_ROWS} are the most: check the "
            f"width of the board and the scale of the outline."
        )
    if across_mm < rules.smallest_rip_mm - ON_BORDER_MM:
        raise LayoutError(
            f"The place to be boarded is only {lengths.fine(across_mm)} across the boards, less "
            f"than the smallest rip of {lengths.fine(rules.smallest_rip_mm)}: turn the boards, "
            f"allow narrower rips, or check the scale of the outline."
        )
    if along_mm < board.width_mm - ON_BORDER_MM:
        raise LayoutError(
            f"The place to be boarded is only {lengths.fine(along_mm)} along the boards, less than "
            f"a board's width of {width}: turn the boards, or check the scale of the outline."
        )
