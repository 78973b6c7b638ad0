"""Parts of a layout that are smaller than a fitter wants, and what else to know about its pieces.

Glossary:
    narrow row: one none of whose pieces is as wide as the smallest rip.
    sliver: a piece narrower than that in a row that has wider ones.
    arm: a stretch of a wide enough piece that is narrower than that (see `narrow_arms`).
    short piece: one shorter than the smallest length.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapecut.findings import Finding, Level, listed
from shapecut.layout.layout import Board, Piece, Row
from shapecut.layout.narrow_arms import Arm, narrow_arms
from shapecut.layout.rules import LayoutRules
from shapecut.shape.clip import ON_BORDER_MM
from shapecut.shape.monotone import bounds

__all__ = ["SmallParts", "bare_strips", "closed_holes", "small_part_findings", "small_parts"]


MOST_SHORT, MOST_LISTED = 3, 12
"""So many short pieces are told one by one, and so many named where they are told together."""


@dataclass(frozen=True)
class SmallParts:
    """All parts of some rows that are too small.

    Attributes:
        narrow_rows: With the width of the widest piece.
        slivers: With their width.
        arms: With their piece.
        short_pieces: As they are.
    """

    narrow_rows: tuple[tuple[Row, float], ...] = ()
    slivers: tuple[tuple[Piece, float], ...] = ()
    arms: tuple[tuple[Piece, Arm], ...] = ()
    short_pieces: tuple[Piece, ...] = ()

    def __len__(self) -> int:
        """How many there are."""
        parts = (self.narrow_rows, self.slivers, self.arms, self.short_pieces)
        return sum(map(len, parts))


def small_parts(rows: Sequence[Row], pieces: Sequence[Piece], rules: LayoutRules) -> SmallParts:
    """Find them: each place counts once, a narrow row not piece by piece, a sliver not arm by arm.

    Args:
        rows: All of them.
        pieces: Of these rows.
        rules: Give the smallest rip and the smallest length.
    """
    narrow_mm = rules.smallest_rip_mm - ON_BORDER_MM
    short_mm = rules.smallest_length_mm - ON_BORDER_MM
    narrow_rows, slivers, arms = [], [], []
    of_row: dict[int, list[Piece]] = {row.number: [] for row in rows}
    for piece in pieces:
        of_row[piece.row].append(piece)
    for row in rows:
        widths = [_width(piece) for piece in of_row[row.number]]
        if widths and max(widths) < narrow_mm:
            narrow_rows.append((row, max(widths)))
            continue
        for piece, width in zip(of_row[row.number], widths, strict=True):
            if width < narrow_mm:
                slivers.append((piece, width))
            else:
                found = narrow_arms(piece.region, rules.smallest_rip_mm)
                arms += [(piece, arm) for arm in found]
    short = tuple(piece for piece in pieces if piece.length_mm < short_mm)
    return SmallParts(tuple(narrow_rows), tuple(slivers), tuple(arms), short)


def _width(piece: Piece) -> float:
    """Extent of a piece across the board, mm."""
    _, low, _, high = bounds(side.curve for side in piece.region.outer)
    return high - low


def small_part_findings(parts: SmallParts, rules: LayoutRules) -> Iterator[Finding]:
    """What a fitter should know of parts too small."""
    written, rip = rules.lengths.fine, rules.lengths.fine(rules.smallest_rip_mm)
    for row, width_mm in parts.narrow_rows:
        yield Finding(
            Level.CHECK,
            f"row {row.number}",
            f"The row is only {written(width_mm)} wide where the outline takes most of its board; "
            f"the smallest rip is {rip}.",
            "Start the rows elsewhere, or change the gap a little.",
        )
    for piece, width_mm in parts.slivers:
        yield Finding(
            Level.CHECK,
            f"piece {piece.label}",
            f"The piece is a sliver {written(width_mm)} wide and {written(piece.length_mm)} long; "
            f"the smallest rip is {rip}.",
            "Start the rows elsewhere, or cut it together with its neighbour from one board.",
        )
    for piece, arm in parts.arms:
        yield Finding(
            Level.CHECK,
            f"piece {piece.label}",
            f"From {rules.lengths(arm.start_mm)} to {rules.lengths(arm.end_mm)} along it "
            f"{'a neck' if arm.is_neck else 'an arm'} is only {written(arm.mean_mm)} wide on the "
            f"average and {written(arm.narrowest_mm)} at the narrowest; the smallest rip is {rip}.",
            "It may split: start the rows elsewhere, or leave the arm off and cover the place.",
        )
    yield from _short(parts.short_pieces, rules)


def _short(pieces: Sequence[Piece], rules: LayoutRules) -> Iterator[Finding]:
    """Short pieces, told together where there are many: along an edge there is one in every row."""
    written = rules.lengths.fine
    allowed = f"the smallest length is {written(rules.smallest_length_mm)}"
    if len(pieces) <= MOST_SHORT:
        for piece in pieces:
            yield Finding(
                Level.CHECK,
                f"piece {piece.label}",
                f"The piece is only {written(piece.length_mm)} long; {allowed}.",
                "Make sure that something carries it, or lay the boards in another direction.",
            )
        return
    shortest, longest = (f(piece.length_mm for piece in pieces) for f in (min, max))
    yield Finding(
        Level.CHECK,
        "short pieces",
        f"{len(pieces)} pieces ({listed([piece.label for piece in pieces], MOST_LISTED)}) are only "
        f"{written(shortest)} to {written(longest)} long; {allowed}.",
        "Make sure that something carries them, or lay the boards in another direction.",
    )


def closed_holes(pieces: Sequence[Piece]) -> Iterator[Finding]:
    """Pieces with a hole that a standing post does not let them over."""
    for piece in pieces:
        if piece.region.holes:
            yield Finding(
                Level.CHECK,
                f"piece {piece.label}",
                "It has a hole that no side of it opens.",
                "Round a standing post it must be split, or laid before the post stands.",
            )


def bare_strips(
    rows: Sequence[Row], across_mm: tuple[float, float], board: Board, rules: LayoutRules
) -> Iterator[Finding]:
    """Strips along the field's low and high end that fall into a gap, more than half of it wide."""
    strips = [row.across_mm for row in rows]
    lowest, highest = min(low for low, _ in strips), max(high for _, high in strips)
    below, above = lowest - across_mm[0], across_mm[1] - highest
    upwards = rows[0].across_mm[0] == lowest
    first, last = (below, above) if upwards else (above, below)
    for where, width_mm in (("the first row", first), ("the last row", last)):
        if width_mm > board.gap_mm / 2 + ON_BORDER_MM:
            yield Finding(
                Level.NOTE,
                where,
                f"A strip of {rules.lengths.fine(width_mm)} along its outer side stays bare: no "
                f"wider than a gap.",
            )
