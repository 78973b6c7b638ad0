"""What a fitter should know about a layout: narrow rips and arms, short pieces, bare strips."""

from collections.abc import Sequence

from shapecut.findings import Finding, Level
from shapecut.layout.layout import Board, Piece, Row
from shapecut.layout.narrow_arms import Arm, narrow_arms
from shapecut.layout.rules import LayoutRules
from shapecut.shape.clip import ON_BORDER_MM
from shapecut.shape.monotone import bounds

__all__ = ["bare_strips", "small_parts"]


def small_parts(
    rows: Sequence[Row], pieces: Sequence[Piece], rules: LayoutRules
) -> tuple[Finding, ...]:
    """Rows, pieces and arms narrower than the smallest rip; pieces that are too short.

    A narrow row is reported once, not piece by piece, and a narrow piece not arm by arm.
    """
    findings = []
    for row in rows:
        mine = [piece for piece in pieces if piece.row == row.number]
        ripped = {piece.label: _width(piece) for piece in mine}
        widest = max(ripped.values(), default=0.0)
        if mine and widest < rules.smallest_rip_mm:
            findings.append(_narrow_row(row, widest, rules))
        for piece in mine:
            if ripped[piece.label] < rules.smallest_rip_mm <= widest:
                findings.append(_narrow_piece(piece, ripped[piece.label], rules))
            elif widest >= rules.smallest_rip_mm:
                findings += [
                    _narrow_arm(piece, arm, rules)
                    for arm in narrow_arms(piece.region, rules.smallest_rip_mm)
                ]
            findings += [_closed_hole(piece) for _ in piece.region.holes[:1]]
            if piece.length_mm < rules.smallest_length_mm:
                findings.append(_short_piece(piece, rules))
    return tuple(findings)


def bare_strips(
    rows: Sequence[Row], across_mm: tuple[float, float], board: Board
) -> tuple[Finding, ...]:
    """Strips along the field's low and high end that fall into a gap, more than half of it wide."""
    strips = [row.across_mm for row in rows]
    lowest, highest = min(low for low, _ in strips), max(high for _, high in strips)
    bare = [("the first row", lowest - across_mm[0]), ("the last row", across_mm[1] - highest)]
    if rows[0].across_mm[0] != lowest:
        bare = [("the last row", bare[0][1]), ("the first row", bare[1][1])]
    return tuple(
        Finding(
            Level.NOTE,
            where,
            f"A strip of {width:.1f} mm along its outer side stays bare: no wider than a gap.",
        )
        for where, width in bare
        if width > board.gap_mm / 2 + ON_BORDER_MM
    )


def _width(piece: Piece) -> float:
    """Extent of a piece across the board, mm."""
    _, low, _, high = bounds(side.curve for side in piece.region.outer)
    return high - low


def _narrow_row(row: Row, width_mm: float, rules: LayoutRules) -> Finding:
    return Finding(
        Level.CHECK,
        f"row {row.number}",
        f"The row is only {width_mm:.1f} mm wide where the outline takes most of its board; the "
        f"smallest rip is {rules.smallest_rip_mm:.1f} mm.",
        "Start the rows elsewhere, or change the gap a little.",
    )


def _narrow_piece(piece: Piece, width_mm: float, rules: LayoutRules) -> Finding:
    return Finding(
        Level.CHECK,
        f"piece {piece.label}",
        f"The piece is a sliver {width_mm:.1f} mm wide and {piece.length_mm:.1f} mm long; the "
        f"smallest rip is {rules.smallest_rip_mm:.1f} mm.",
        "Start the rows elsewhere, or cut it together with its neighbour from one board.",
    )


def _narrow_arm(piece: Piece, arm: Arm, rules: LayoutRules) -> Finding:
    return Finding(
        Level.CHECK,
        f"piece {piece.label}",
        f"From {arm.start_mm:.0f} to {arm.end_mm:.0f} mm along it "
        f"{'a neck' if arm.is_neck else 'an arm'} is only "
        f"{arm.mean_mm:.1f} mm wide on the average and {arm.narrowest_mm:.1f} mm at the narrowest; "
        f"the smallest rip is {rules.smallest_rip_mm:.1f} mm.",
        "It may split: start the rows elsewhere, or leave the arm off and cover the place.",
    )


def _closed_hole(piece: Piece) -> Finding:
    return Finding(
        Level.CHECK,
        f"piece {piece.label}",
        "It has a hole that no side of it opens.",
        "Round a standing post it must be split, or laid before the post stands.",
    )


def _short_piece(piece: Piece, rules: LayoutRules) -> Finding:
    return Finding(
        Level.CHECK,
        f"piece {piece.label}",
        f"The piece is only {piece.length_mm:.1f} mm long; the smallest length is "
        f"{rules.smallest_length_mm:.1f} mm.",
        "Make sure that something carries it, or lay the boards in another direction.",
    )
