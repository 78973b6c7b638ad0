"""What carries each piece: joists under it, spans along it, free ends, corners over nothing.

Glossary:
    bearing: a joist that a piece lies on, over at least `LEAST_BEARING_MM` along the board.
    span: from the centre of one bearing to that of the next, along the board.
    free end: what reaches past the face of the last bearing, along the board.
    loose corner: a corner with no bearing within the greatest free end, along the board.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from shapecut.findings import Finding, Level, counted, listed
from shapecut.layout.blocking import Block, LooseCorner, blocking
from shapecut.layout.joists import LEAST_BEARING_MM, Crossings, Joists
from shapecut.layout.layout import Layout, Piece
from shapecut.layout.slices import Slice, end_corners, slices_of
from shapecut.layout.span_limits import SOURCE, longest_spacing_mm
from shapecut.shape.placement import Point
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["PieceSupport", "SupportRules", "Supports", "supports_of"]

MOST_LISTED = 12
"""Labels listed in one sentence."""

MANY_BLOCKS = 5
"""So many pieces of blocking in one bay suggest a joist instead."""

SAME_SPACING_MM = 0.5
"""Joists this little further apart than allowed are not reported."""

CAUTION = (
    "What carries is for the local building code, the makers of boards and fixings and licensed "
    "practice to decide; bearings, spans and blocking here are worked out from the job's own "
    "joists, on paper."
)


@dataclass(frozen=True)
class SupportRules:
    """What a job asks of its supports.

    Attributes:
        longest_spacing_mm: Greatest spacing of joists; None for the table of `span_limits`.
        composite: Whether the boards are plastic composite, which the table leaves to its maker.
        free_end_mm: Greatest free end.
        lengths: How findings write lengths.
    """

    longest_spacing_mm: float | None = None
    composite: bool = False
    free_end_mm: float = 50.0
    lengths: LengthStyle = MILLIMETRES


@dataclass(frozen=True)
class PieceSupport:
    """What carries one piece.

    Attributes:
        label: The piece's.
        joists: Index of each bearing among the joists' lines, along the piece.
        span_mm: Longest span along the board; None where no slice has two bearings.
        free_ends_mm: Longest free end at the reference end and at the other; None without bearing.
        loose: Its loose corners, in the plane.
    """

    label: str
    joists: tuple[int, ...]
    span_mm: float | None
    free_ends_mm: tuple[float, float] | None
    loose: tuple[LooseCorner, ...]


@dataclass(frozen=True)
class Supports:
    """What carries a layout.

    Attributes:
        joists: Under it.
        pieces: In the layout's order.
        blocks: Blocking proposed under loose corners.
        longest_spacing_mm: What the joists' spacing was held against; None if nothing is known.
        findings: What a fitter must know.
    """

    joists: Joists
    pieces: tuple[PieceSupport, ...]
    blocks: tuple[Block, ...]
    longest_spacing_mm: float | None
    findings: tuple[Finding, ...] = ()


def supports_of(layout: Layout, joists: Joists, rules: SupportRules) -> Supports:
    """Work out what carries each piece, and propose blocking where nothing does.

    Raises:
        LayoutError: If the joists run along the boards.
    """
    pieces = tuple(_piece_support(piece, joists, rules) for piece in layout.pieces)
    loose = [corner for piece in pieces for corner in piece.loose]
    blocks = blocking(loose, joists, least_bearing_mm=LEAST_BEARING_MM)
    limit = rules.longest_spacing_mm
    skew = joists.skew_rad(layout.frame.turn_rad)
    if limit is None and not rules.composite:
        limit = longest_spacing_mm(layout.board.thickness_mm, skew)
    findings = (
        *_spacing_findings(layout, joists, pieces, rules, limit),
        *_loose_findings(pieces, blocks, rules),
        Finding(Level.NOTE, "supports", CAUTION),
    )
    return Supports(joists, pieces, blocks, limit, findings)


def _piece_support(piece: Piece, joists: Joists, rules: SupportRules) -> PieceSupport:
    crossings = joists.crossings(piece.placement)
    slices = list(slices_of(piece.region))
    bearings = [_bearings(crossings, here) for here in slices]
    borne = sorted({place for found in bearings for place in found})
    span, at_start, at_end = 0.0, 0.0, 0.0
    for here, found in zip(slices, bearings, strict=True):
        if found:
            lines = crossings.at(here.across_mm)
            # A joist that a notch leaves bare at this height still carries the board beside it.
            within = [lines[place] for place in borne if found[0] <= place <= found[-1]]
            span = max([span, *(b - a for a, b in pairwise(within))])
            at_start = max(at_start, lines[found[0]] - crossings.half_mm - here.stretches[0][0])
            at_end = max(at_end, here.stretches[-1][1] - lines[found[-1]] - crossings.half_mm)
    loose = (
        LooseCorner(piece.label, piece.placement.to_plane(corner))
        for corner, beside in end_corners(piece.region, slices)
        if not _is_carried(corner, crossings, beside, rules.free_end_mm)
    )
    return PieceSupport(
        label=piece.label,
        joists=tuple(crossings.numbers[place] for place in borne),
        span_mm=span or None,
        free_ends_mm=(at_start, at_end) if borne else None,
        loose=tuple(loose),
    )


def _bearings(crossings: Crossings, here: Slice) -> list[int]:
    """Which crossings a piece lies on at one distance across it, in order along it."""
    half = crossings.half_mm
    return [
        place
        for place, line in enumerate(crossings.at(here.across_mm))
        if any(
            min(right, line + half) - max(left, line - half) >= LEAST_BEARING_MM
            for left, right in here.stretches
        )
    ]


def _is_carried(
    corner: Point, crossings: Crossings, beside: Sequence[Slice], free_end_mm: float
) -> bool:
    """Whether a bearing lies within the greatest free end of a corner, along the board."""
    x, y = corner
    lines = crossings.at(y)
    reach = crossings.half_mm + free_end_mm
    return any(
        abs(lines[place] - x) <= reach for here in beside for place in _bearings(crossings, here)
    )


def _spacing_findings(
    layout: Layout,
    joists: Joists,
    pieces: Sequence[PieceSupport],
    rules: SupportRules,
    limit_mm: float | None,
) -> Iterator[Finding]:
    """Joists that pieces span between, and that lie further apart than they may."""
    skew = math.degrees(joists.skew_rad(layout.frame.turn_rad))
    thickness = rules.lengths.fine(layout.board.thickness_mm)
    boards = f"boards {thickness} thick, {skew:.0f}° from square to them"
    if limit_mm is None:
        reason = (
            "how far plastic composite may span is for its maker's approval to say (IRC R507.2)"
            if rules.composite
            else f"{SOURCE} has no spacing for {boards}"
        )
        yield Finding(
            Level.CHECK,
            "joists",
            f"Their spacing is not checked: {reason}.",
            "State longest_spacing under [joists] from the maker's or the code's tables.",
        )
        return
    spans = {pair for piece in pieces for pair in pairwise(sorted(piece.joists))}
    wide = {(b, a): joists.lines_mm[b] - joists.lines_mm[a] for a, b in spans}
    over = {pair: apart for pair, apart in wide.items() if apart > limit_mm + SAME_SPACING_MM}
    if over:
        source = "the job" if rules.longest_spacing_mm is not None else SOURCE
        yield Finding(
            Level.SERIOUS,
            "joists",
            f"They are up to {rules.lengths(max(over.values()))} apart, at {len(over)} of "
            f"{len(spans)} places that boards span; {source} allows {rules.lengths(limit_mm)} for "
            f"{boards}.",
            "Add joists, take thicker boards, or turn the boards.",
        )


def _loose_findings(
    pieces: Sequence[PieceSupport], blocks: Sequence[Block], rules: SupportRules
) -> Iterator[Finding]:
    """Pieces on no joist, on one only, and corners over nothing."""
    bare = [piece.label for piece in pieces if not piece.joists]
    if bare:
        it, lies = ("it", "It lies") if len(bare) == 1 else ("them", "They lie")
        yield Finding(
            Level.SERIOUS,
            _named(bare),
            f"{lies} between the joists with nothing under {it}.",
            f"Fasten {it} to blocking, as the table of supports proposes.",
        )
    tipping = [piece.label for piece in pieces if len(piece.joists) == 1]
    if tipping:
        one = len(tipping) == 1
        yield Finding(
            Level.CHECK,
            _named(tipping),
            f"{'It lies' if one else 'Each lies'} on one joist only and can tip.",
            f"Put blocking under {'its' if one else 'their'} ends, or let a neighbour's board run "
            f"on over the place.",
        )
    loose = [piece.label for piece in pieces if piece.loose and piece.joists]
    if loose:
        yield Finding(
            Level.CHECK,
            "supports",
            f"Corners of {counted(len(loose), 'piece', 'pieces')} ({listed(loose, MOST_LISTED)}) "
            f"reach more than {rules.lengths(rules.free_end_mm)} past their last joist.",
            f"Put the {counted(len(blocks), 'piece', 'pieces')} of blocking under them that the "
            f"table proposes.",
        )
    for joists, count in Counter(block.joists for block in blocks).items():
        if count >= MANY_BLOCKS:
            where = " and ".join(f"J{number + 1}" for number in joists)
            yield Finding(
                Level.NOTE,
                "joists",
                f"{count} of these pieces of blocking are fixed to {where}.",
                "One more joist along the ends there may be less work.",
            )


def _named(labels: Sequence[str]) -> str:
    """Pieces by their labels, as a person points at them."""
    return f"piece{'' if len(labels) == 1 else 's'} {listed(labels, MOST_LISTED)}"
