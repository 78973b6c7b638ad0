"""Distances taped between cards: they hold the scale that the print alone leaves unsure.

A tape is judged by what the photographs and the other tapes expect of it.  In a least-squares
adjustment that expectation is known without adjusting again: with residual v and covariance C of
the adjusted distance, a tape of standard uncertainty u that takes no part would be expected at
`length - v / r`, r = 1 - C / u² being its redundancy, and it is off by |v| / (u √r) of the combined
standard uncertainties (W. Baarda, "A testing procedure for use in geodetic networks", 1968).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.survey.joint import Joint
from shapecut.survey.least_squares import TapedPair, least_squares, taped_distance

__all__ = ["TAPE_U_MM", "Tape", "taped"]

TAPE_U_MM = 1.0
"""Standard uncertainty of a distance of a metre or two taped between two crosses (from memory: a
class II tape is within 0.7 mm at 2 m, and each end is read to half a millimetre)."""

MISTYPED = 5.0
"""A tape this many combined standard uncertainties off what everything else expects is wrong."""

ODD_PRINT = 4.0
"""A print whose scale the tapes pull this many standard uncertainties off is not as stated."""

LEAST_PULL = 1e-4
"""Least fraction of the known variance of scale that tapes are taken to contribute."""

UNKNOWN_PRINT_U = 0.05
"""Standard uncertainty of the scale of such a print."""


@dataclass(frozen=True)
class Tape:
    """A distance taped between the centre crosses of two cards.

    Attributes:
        start: Name of one card.
        end: Name of the other.
        length_mm: As taped.
        u_mm: Its standard uncertainty.

    Raises:
        SurveyError: If it runs from a card to itself, or has no length.
    """

    start: str
    end: str
    length_mm: float
    u_mm: float = TAPE_U_MM

    def __post_init__(self) -> None:
        """Refuse what is no distance between two cards."""
        if self.start == self.end:
            raise SurveyError(
                f"A tape runs from {self.start} to itself: name the two cards that it was held to."
            )
        if not (0 < self.length_mm < math.inf and 0 < self.u_mm < math.inf):
            raise SurveyError(
                f"The {self} cannot be {self.length_mm:g} mm, uncertain by {self.u_mm:g} mm: give "
                "the length as taped."
            )

    def __str__(self) -> str:
        """As a person would point at it."""
        return f"tape from {self.start} to {self.end}"


@dataclass(frozen=True)
class _Judged:
    """A tape, what everything else expects of it, and how far off it is.

    Attributes:
        tape: The tape.
        expected_mm: The distance by the photographs and the other tapes.
        expected_u_mm: Its standard uncertainty.
        off: |taped - expected| over the combined standard uncertainty.
    """

    tape: Tape
    expected_mm: float
    expected_u_mm: float
    off: float


def taped(
    joint: Joint, tapes: Sequence[Tape], sighted: Sequence[str]
) -> tuple[Joint, tuple[Finding, ...]]:
    """Adjust again with taped distances; those that contradict everything else are left out.

    Args:
        joint: The adjustment without them.
        tapes: The distances.
        sighted: Names of all cards that were seen, used or not.

    Returns:
        The adjustment with the tapes that fit, and findings on those that do not, on tapes to cards
        that were not used, and on a print that the tapes contradict together.

    Raises:
        SurveyError: If a tape ends at a card that no photograph shows.
    """
    _refuse_unseen(tapes, sighted)
    used = [tape for tape in tapes if {tape.start, tape.end} <= set(joint.cards)]
    findings = [_unused(tape, joint.cards) for tape in tapes if tape not in used]
    while used:
        adjusted = _with(joint, used)
        worst = max(_judged(adjusted, used), key=lambda judged: judged.off)
        if worst.off <= MISTYPED:
            if _print_off(adjusted) <= ODD_PRINT:
                return adjusted, tuple(findings)
            adjusted = _with(_unknown_print(joint), used)
            return adjusted, (*findings, _odd_print(adjusted, len(used)))
        findings.append(_mistyped(worst))
        used.remove(worst.tape)
    return joint, tuple(findings)


def _refuse_unseen(tapes: Sequence[Tape], sighted: Sequence[str]) -> None:
    for tape in tapes:
        for card in (tape.start, tape.end):
            if card not in sighted:
                raise SurveyError(
                    f"The {tape} ends at {card}, which no photograph shows: correct the card's "
                    f"name (those seen are {', '.join(sorted(set(sighted)))}), or leave the tape "
                    "out."
                )


def _print_off(joint: Joint) -> float:
    """How far the tapes pull the print's scale off, in the standard uncertainties of that pull.

    A value that an adjustment draws away from what was known moves by a variance that is the
    known one less the adjusted one; where the tapes tell next to nothing, rounding is all there is.
    """
    scale, _ = joint.solution.network.print_scale
    column = joint.solution.network.print_columns.start
    known_u2 = joint.known.print_u[0] ** 2
    pull_u2 = known_u2 - float(joint.solution.covariance[column, column])
    return abs(scale) / math.sqrt(max(pull_u2, LEAST_PULL * known_u2))


def _unknown_print(joint: Joint) -> Joint:
    """The same with nothing known of the print's scale."""
    known = replace(joint.known, print_u=(UNKNOWN_PRINT_U, joint.known.print_u[1]))
    return replace(joint, known=known)


def _with(joint: Joint, tapes: Sequence[Tape]) -> Joint:
    """Adjusted with tapes."""
    known = replace(joint.known, tapes=tuple(_pair(joint, tape) for tape in tapes))
    solution = least_squares(joint.solution.network, joint.corners, known)
    return replace(joint, known=known, solution=solution)


def _pair(joint: Joint, tape: Tape) -> TapedPair:
    start, end = (joint.cards.index(card) for card in (tape.start, tape.end))
    return TapedPair(start, end, tape.length_mm, tape.u_mm)


def _judged(joint: Joint, tapes: Sequence[Tape]) -> list[_Judged]:
    """Each tape against everything else in an adjustment that they all take part in."""
    judged = []
    for tape in tapes:
        length, row = taped_distance(joint.solution.network, _pair(joint, tape))
        adjusted = float(row @ joint.solution.covariance @ row) / tape.u_mm**2
        redundancy = max(1 - adjusted, np.finfo(float).eps)
        off_mm = (tape.length_mm - length) / redundancy
        expected_u_mm = tape.u_mm * math.sqrt(adjusted / redundancy)
        off = abs(off_mm) / math.hypot(tape.u_mm, expected_u_mm)
        judged.append(_Judged(tape, tape.length_mm - off_mm, expected_u_mm, off))
    return judged


def _mistyped(judged: _Judged) -> Finding:
    return Finding(
        Level.SERIOUS,
        str(judged.tape),
        f"It says {judged.tape.length_mm:.0f} mm where the photographs and the other tapes expect "
        f"{judged.expected_mm:.0f} ± {2 * judged.expected_u_mm:.1f} mm; it was not used.",
        "Tape that distance again from cross to cross and correct it in the job; if it stays, "
        "measure the cards' check bars.",
    )


def _odd_print(joint: Joint, count: int) -> Finding:
    scale = 1 + joint.solution.network.print_scale[0]
    return Finding(
        Level.SERIOUS,
        "cards",
        f"By {count} tapes that agree, the cards were printed at {scale:.1%} of their stated size; "
        "the tapes were believed.",
        "Measure the cards' check bars and state them, or print at 100 % (not fitted to the page).",
    )


def _unused(tape: Tape, cards: Sequence[str]) -> Finding:
    card = tape.start if tape.start not in cards else tape.end
    return Finding(
        Level.CHECK,
        str(tape),
        f"It was not used, since {card} was not.",
        "Tape between cards that are used.",
    )
