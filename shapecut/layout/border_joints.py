"""Border boards longer than any board: parted square, over joists where they cross some."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapecut.findings import Finding, Level
from shapecut.layout.fewest_cuts import PartLengths, fewest_cuts
from shapecut.layout.joists import LEAST_ANGLE_RAD, ROUNDING, Joists
from shapecut.layout.layout import Piece
from shapecut.layout.piece_labels import piece_letters
from shapecut.shape.clip import clip
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["BorderJoints", "JoinedBorder", "joined_border", "lies_across"]


@dataclass(frozen=True)
class BorderJoints(PartLengths):
    """How border boards are joined; no part is too short where joists allow it.

    Attributes:
        lengths: How findings write lengths.
    """

    lengths: LengthStyle = MILLIMETRES


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
            findings.append(_unsupported(piece, cuts, rules))
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
    return fewest_cuts(places, piece.length_mm, rules)


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


def _unsupported(piece: Piece, cuts: Sequence[float], rules: BorderJoints) -> Finding:
    places = ", ".join(map(rules.lengths, cuts))
    return Finding(
        Level.CHECK,
        f"border board {piece.label}",
        f"It is {rules.lengths(piece.length_mm)} long and is joined {places} from its start, "
        f"where no joist is known to lie under the joint.",
        "Put blocking under the joint, wide enough to carry both ends.",
        piece.placement.to_plane((cuts[0], 0.0)),
    )
