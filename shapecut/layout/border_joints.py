"""Border boards longer than any board: parted square, over joists where they cross some."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapecut.findings import Finding, Level
from shapecut.layout.joists import LEAST_ANGLE_RAD, ROUNDING, Joists
from shapecut.layout.layout import Piece
from shapecut.layout.piece_labels import piece_letters
from shapecut.shape.clip import clip
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement

__all__ = ["BorderJoints", "JoinedBorder", "joined_border", "lies_across"]


@dataclass(frozen=True)
class BorderJoints:
    """How border boards are joined.

    Attributes:
        longest_mm: Longest piece that the stock gives.
        shortest_mm: No part is shorter where joists allow it.
        gap_mm: Left open at a joint.
    """

    longest_mm: float
    shortest_mm: float = 0.0
    gap_mm: float = 0.0


@dataclass(frozen=True)
class JoinedBorder:
    """The boards after joining, and what a fitter must know."""

    pieces: tuple[Piece, ...]
    findings: tuple[Finding, ...]


def lies_across(joists: Joists, turn_rad: float) -> bool:
    """Whether a board of some turn lies across joists rather than along them."""
    return joists.skew_rad(turn_rad) <= math.pi / 2 - LEAST_ANGLE_RAD + ROUNDING / 2


def joined_border(
    pieces: Sequence[Piece], rules: BorderJoints, joists: Joists | None
) -> JoinedBorder:
    """Part every border board that is longer than the longest board.

    Joints lie over joists where the board crosses joists that allow it: as few as can be, and the
    longest part as short as can be.  Elsewhere the board is parted evenly, and a finding asks for a
    support.

    Returns:
        The pieces; a board B3 that was parted becomes B3a, B3b and so on.
    """
    done: list[Piece] = []
    findings: list[Finding] = []
    for piece in pieces:
        if piece.length_mm <= rules.longest_mm:
            done.append(piece)
            continue
        cuts = _over_joists(piece, rules, joists)
        if cuts is None:
            cuts = _even(piece.length_mm, rules)
            findings.append(_unsupported(piece, cuts))
        done += _parted(piece, cuts, rules.gap_mm)
    return JoinedBorder(tuple(done), tuple(findings))


def _over_joists(
    piece: Piece, rules: BorderJoints, joists: Joists | None
) -> tuple[float, ...] | None:
    """Where joints lie over joists, along the piece at its middle; None where they cannot."""
    if joists is None or not lies_across(joists, piece.placement.turn_rad):
        return None
    _, low, _, high = bounds(side.curve for side in piece.region.outer)
    crossings = joists.crossings(piece.placement).at((low + high) / 2)
    places = [place for place in crossings if 0 < place < piece.length_mm]
    return _fewest(places, piece.length_mm, rules)


def _fewest(
    places: Sequence[float], length_mm: float, rules: BorderJoints
) -> tuple[float, ...] | None:
    """As few cuts as can be at some places, and of those the ones whose longest part is least.

    Dynamic programming over the stops, one more part at a time: for each stop that so many parts
    can reach, the least longest part and the cuts that give it.
    """
    half = rules.gap_mm / 2
    stops = [-half, *places, length_mm + half]
    ways: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, ())}
    while ways and len(stops) - 1 not in ways:
        further: dict[int, tuple[float, tuple[int, ...]]] = {}
        for start, (longest, cuts) in ways.items():
            for stop in range(start + 1, len(stops)):
                part = stops[stop] - stops[start] - rules.gap_mm
                if rules.shortest_mm <= part <= rules.longest_mm:
                    way = (max(longest, part), (*cuts, stop))
                    further[stop] = min(further.get(stop, way), way)
        ways = further
    found = ways.get(len(stops) - 1)
    return tuple(stops[cut] for cut in found[1][:-1]) if found else None


def _even(length_mm: float, rules: BorderJoints) -> tuple[float, ...]:
    """Cuts that part a length evenly into as few parts as can be."""
    count = math.ceil((length_mm + rules.gap_mm) / (rules.longest_mm + rules.gap_mm))
    pitch = (length_mm + rules.gap_mm) / count
    return tuple(k * pitch - rules.gap_mm / 2 for k in range(1, count))


def _parted(piece: Piece, cuts: Sequence[float], gap_mm: float) -> list[Piece]:
    """The piece parted square at some places along it."""
    rest, parts = [piece.region], []
    for cut in cuts:
        before = Placement((cut - gap_mm / 2, 0.0), math.pi / 2)
        after = Placement((cut + gap_mm / 2, 0.0), -math.pi / 2)
        parts += [part for region in rest for part in clip(region, before)]
        rest = [part for region in rest for part in clip(region, after)]
    pieces = []
    for place, region in enumerate([*parts, *rest]):
        left, _, right, _ = bounds(side.curve for side in region.outer)
        start = Placement((left, 0.0))
        pieces.append(
            Piece(
                f"{piece.label}{piece_letters(place)}",
                piece.row,
                region.placed(start.inverse()),
                piece.placement.after(start),
                right - left,
            )
        )
    return pieces


def _unsupported(piece: Piece, cuts: Sequence[float]) -> Finding:
    places = ", ".join(f"{cut:.0f}" for cut in cuts)
    return Finding(
        Level.CHECK,
        f"border board {piece.label}",
        f"It is {piece.length_mm:.0f} mm long and is joined {places} mm from its start, where no "
        f"joist is known to lie under the joint.",
        "Put blocking under the joint, wide enough to carry both ends.",
        piece.placement.to_plane((cuts[0], 0.0)),
    )
