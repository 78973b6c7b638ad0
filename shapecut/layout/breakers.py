"""Breaker boards: boards laid across the field at stated places, which part all rows there.

A breaker spares long rows their joints: each row ends a gap before it and starts anew behind.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapecut.errors import LayoutError
from shapecut.layout.border_joints import BorderJoints, JoinedBorder, joined_border
from shapecut.layout.border_rules import NO_ROW
from shapecut.layout.joists import LEAST_ANGLE_RAD, Joists
from shapecut.layout.layout import Board, Piece
from shapecut.layout.piece_labels import piece_letters
from shapecut.shape.clip import clip, strip
from shapecut.shape.curves import Arc
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement
from shapecut.shape.region import Region

__all__ = ["Breaker", "breaker_along", "breaker_boards", "parted_by"]


@dataclass(frozen=True)
class Breaker:
    """A board across the field.

    Attributes:
        line: The line of its lower edge in the plane; the board lies on its left.
        width_mm: Of the board.
        gap_mm: Left on both its sides.
    """

    line: Placement
    width_mm: float
    gap_mm: float


def breaker_along(outline: Outline, edge: str, at_mm: float, board: Board) -> Breaker:
    """A breaker parallel to an edge.

    Args:
        outline: Has the edge.
        edge: Its name.
        at_mm: From the edge, into the place, to the middle of the breaker.
        board: The same as in the rows.

    Raises:
        LayoutError: If there is no such edge, or it is an arc.
    """
    curves = {one.name: one.curve for one in outline.edges}
    curve = curves.get(edge)
    if curve is None:
        raise LayoutError(
            f'A breaker board is measured from "{edge}", but the outline has no such edge: it has '
            f"{', '.join(curves)}."
        )
    if isinstance(curve, Arc):
        raise LayoutError(
            f"A breaker board cannot be measured from {edge}: it is an arc; choose a straight edge."
        )
    dx, dy = curve.direction()
    frame = Placement(curve.start, math.atan2(dy, dx))
    low = at_mm - board.width_mm / 2
    line = Placement(frame.to_plane((0.0, low)), frame.turn_rad)
    return Breaker(line, board.width_mm, board.gap_mm)


def breaker_boards(
    field: Region,
    breakers: Sequence[Breaker],
    *,
    joints: BorderJoints,
    joists: Joists | None = None,
) -> JoinedBorder:
    """The breakers' own pieces, labelled D1, D2, ... as they divide the field.

    Args:
        field: That the rows are laid in, in the plane.
        breakers: No two may come nearer to each other than a gap.
        joints: Of breakers longer than any board.
        joists: What their joints lie over.

    Raises:
        LayoutError: If a breaker lies outside the field, or two meet within it.
    """
    pieces: list[Piece] = []
    rest: tuple[Region, ...] = (field,)
    for number, breaker in enumerate(breakers, start=1):
        found = [part for region in rest for part in _laid(region, breaker)]
        whole = sum(part.region.area for part in _laid(field, breaker))
        if not found or whole - sum(part.region.area for part in found) > 1.0:
            what = (
                "lies outside the field"
                if not whole
                else "runs into another one or comes nearer to it than a gap"
            )
            raise LayoutError(
                f"Breaker board {number} {what}: check where it is to lie and the edge that is "
                f"measured from."
            )
        pieces += found
        rest = tuple(part for region in rest for part in _cleared(region, breaker))
    named = [
        Piece(f"D{n}", NO_ROW, piece.region, piece.placement, piece.length_mm)
        for n, piece in enumerate(pieces, start=1)
    ]
    return joined_border(named, joints, joists)


def _laid(region: Region, breaker: Breaker) -> list[Piece]:
    """The parts of a breaker in a region."""
    line = breaker.line
    pieces = []
    for part in strip(region.placed(line.inverse()), 0.0, breaker.width_mm):
        left, _, right, _ = bounds(side.curve for side in part.outer)
        start = Placement((left, 0.0))
        local = part.placed(start.inverse())
        pieces.append(Piece("", NO_ROW, local, line.after(start), right - left))
    return pieces


def _cleared(region: Region, breaker: Breaker) -> Iterator[Region]:
    """What lies on both sides of a breaker, a gap away from it."""
    line = breaker.line
    below = Placement(line.to_plane((0.0, -breaker.gap_mm)), line.turn_rad + math.pi)
    above = Placement(line.to_plane((0.0, breaker.width_mm + breaker.gap_mm)), line.turn_rad)
    yield from clip(region, below)
    yield from clip(region, above)


def parted_by(pieces: Sequence[Piece], breakers: Sequence[Breaker]) -> tuple[Piece, ...]:
    """Part the pieces of rows at breakers.

    Args:
        pieces: Row by row, along each row.
        breakers: In the plane.

    Returns:
        The parts in the same order, labelled anew along each row.

    Raises:
        LayoutError: If a breaker runs along the boards.
    """
    for breaker in breakers:
        for piece in pieces[:1]:
            across = abs(math.sin(breaker.line.turn_rad - piece.placement.turn_rad))
            if across < math.sin(LEAST_ANGLE_RAD):
                raise LayoutError(
                    f"A breaker board is {math.degrees(math.asin(across)):.0f}° to the boards and "
                    f"would run along them: measure it from an edge that the boards run up to."
                )
    if not breakers:
        return tuple(pieces)
    rows: dict[int, list[Piece]] = {}
    for piece in pieces:
        rows.setdefault(piece.row, []).extend(_parts(piece, breakers))
    return tuple(
        Piece(f"{row}{piece_letters(n)}", row, part.region, part.placement, part.length_mm)
        for row, parts in rows.items()
        for n, part in enumerate(parts)
    )


def _parts(piece: Piece, breakers: Sequence[Breaker]) -> list[Piece]:
    """The parts of one piece, in order along it."""
    rest: tuple[Region, ...] = (piece.region,)
    for breaker in breakers:
        local = Breaker(
            piece.placement.inverse().after(breaker.line), breaker.width_mm, breaker.gap_mm
        )
        rest = tuple(part for region in rest for part in _cleared(region, local))
    parts = []
    for region in rest:
        left, _, right, _ = bounds(side.curve for side in region.outer)
        start = Placement((left, 0.0))
        local_region = region.placed(start.inverse())
        place = piece.placement.after(start)
        parts.append((left, Piece("", piece.row, local_region, place, right - left)))
    return [part for _, part in sorted(parts, key=lambda found: found[0])]
