"""Border boards and breakers that lie along the joists: blocking across the bays under them.

Glossary:
    bay: the space between two neighbouring joists.
    station: a place along the board where something has to carry it.
"""

import math
from bisect import bisect
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from shapecut.findings import Finding, Level, counted
from shapecut.layout.blocking import Block
from shapecut.layout.border_joints import lies_across
from shapecut.layout.joists import LEAST_BEARING_MM, Joists
from shapecut.layout.layout import Layout, Piece
from shapecut.shape.monotone import bounds
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["AlongJoists", "along_joists"]

FROM_END_MM = 50.0
"""The first and the last station lie this far from a board's ends; a judgement, no rule."""


@dataclass(frozen=True)
class AlongJoists:
    """Boards along the joists, set aside from the others.

    Attributes:
        across: The layout of all others.
        blocks: Blocking proposed under those set aside.
        findings: What a fitter must know of them.
    """

    across: Layout
    blocks: tuple[Block, ...]
    findings: tuple[Finding, ...]


def along_joists(
    layout: Layout, joists: Joists, *, lengths: LengthStyle = MILLIMETRES
) -> AlongJoists:
    """Set aside boards of no row that lie along the joists, and propose blocking under them.

    A block at each station that no joist lies under, stations no further apart than the joists.

    Args:
        layout: All boards.
        joists: Under them.
        lengths: How findings write lengths.
    """
    across = tuple(p for p in layout.pieces if p.row or lies_across(joists, p.placement.turn_rad))
    along = [piece for piece in layout.pieces if piece not in across]
    blocks = {piece.label: tuple(_blocks(piece, joists)) for piece in along}
    findings = (_finding(piece, len(blocks[piece.label]), lengths) for piece in along)
    return AlongJoists(
        replace(layout, pieces=across),
        tuple(block for found in blocks.values() for block in found),
        tuple(findings),
    )


def _blocks(piece: Piece, joists: Joists) -> Iterator[Block]:
    _, low, _, high = bounds(side.curve for side in piece.region.outer)
    spacing = min((b - a for a, b in pairwise(joists.lines_mm)), default=piece.length_mm)
    inner = max(0.0, piece.length_mm - 2 * FROM_END_MM)
    count = max(1, math.ceil(inner / spacing - 1e-9))
    half = joists.width_mm / 2
    bearing_mm = half + (high - low) / 2 - LEAST_BEARING_MM
    for k in range(count + 1):
        along = (piece.length_mm - inner) / 2 + k * inner / count
        x, y = joists.frame.to_local(piece.placement.to_plane((along, (low + high) / 2)))
        if any(abs(y - line) <= bearing_mm for line in joists.lines_mm):
            continue
        above = bisect(joists.lines_mm, y)
        beside = tuple(j for j in (above - 1, above) if 0 <= j < len(joists.lines_mm))
        ends = sorted(joists.lines_mm[j] for j in beside)
        if len(ends) == 1:
            ends = sorted((ends[0], y + math.copysign(half, y - ends[0])))
        middle = joists.frame.to_plane((x, sum(ends) / 2))
        length = ends[1] - ends[0] - 2 * half
        turn = joists.frame.turn_rad + math.pi / 2
        yield Block(beside, middle, turn, length, (piece.label,))


def _finding(piece: Piece, blocks: int, lengths: LengthStyle) -> Finding:
    where = f"piece {piece.label}"
    what = f"It runs along the joists for {lengths(piece.length_mm)}"
    place = piece.placement.to_plane((piece.length_mm / 2, 0.0))
    if not blocks:
        return Finding(Level.NOTE, where, f"{what}, and one lies under it all along.", "", place)
    return Finding(
        Level.CHECK,
        where,
        f"{what}, and between them nothing carries it.",
        f"Put the {counted(blocks, 'piece', 'pieces')} of blocking under it that the table "
        f"proposes, or a joist along its middle.",
        place,
    )
