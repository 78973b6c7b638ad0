"""Distances taped between cards: they hold the scale that the print alone leaves unsure.

A tape is judged by what the photographs and the other tapes expect of it.  How far it is off that
is known without adjusting again: with residual v, standard uncertainties u of the tape and w of the
adjusted distance, and redundancy r = 1 - w² / u², it is off by |v| / (u √r) of the combined
standard uncertainty of the tape and of that expectation (W. Baarda, "A testing procedure for use in
geodetic networks", 1968).
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
    adjusted = _with(joint, used) if used else joint
    while used:
        off, worst = max((_off(adjusted, tape), k) for k, tape in enumerate(used))
        if off <= MISTYPED:
            break
        tape = used.pop(worst)
        adjusted = _with(joint, used)
        findings.append(_mistyped(tape, *_distance(adjusted, tape)))
    if used and _print_off(adjusted) > ODD_PRINT:
        adjusted = _with(_unknown_print(joint), used)
        findings.append(_odd_print(adjusted, len(used)))
    return adjusted, tuple(findings)


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


def _distance(joint: Joint, tape: Tape) -> tuple[float, float]:
    """The distance that a tape is of, as adjusted, and its standard uncertainty."""
    length, row = taped_distance(joint.solution.network, _pair(joint, tape))
    return length, math.sqrt(float(row @ joint.solution.covariance @ row))


def _off(joint: Joint, tape: Tape) -> float:
    """How far a tape is off what everything else expects (see the module)."""
    length, u_mm = _distance(joint, tape)
    redundancy = max(1 - (u_mm / tape.u_mm) ** 2, np.finfo(float).eps)
    return abs(tape.length_mm - length) / (tape.u_mm * math.sqrt(redundancy))


def _mistyped(tape: Tape, expected_mm: float, expected_u_mm: float) -> Finding:
    return Finding(
        Level.SERIOUS,
        str(tape),
        f"It says {tape.length_mm:.0f} mm where the photographs and the other tapes expect "
        f"{expected_mm:.0f} ± {2 * expected_u_mm:.1f} mm; it was not used.",
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
