"""Whether a measurement is good enough to cut by, in words with their numbers."""

from dataclasses import dataclass

from shapecut.findings import Level
from shapecut.papers.length_uncertainty import COVERAGE, length_u95_mm
from shapecut.papers.markup import Lengths
from shapecut.shape.outline import Edge, Outline
from shapecut.survey.survey import Survey

__all__ = ["COVERAGE", "Verdict", "measurement_verdict"]

MOSTLY = 0.7
"""From this share of the uncertainty on, the print scale is what is in doubt."""

DOUBTFUL_FACTOR = 2.0
"""Up to this many tolerances a measurement is to be checked, beyond it not to be cut by."""


@dataclass(frozen=True)
class Verdict:
    """What can be said of a measurement.

    Attributes:
        level: NOTE when it is good enough.
        headline: In a few words.
        detail: The numbers, in one sentence.
        longest_u95_mm: 95 % uncertainty of the longest edge's length; None when not measured.
    """

    level: Level
    headline: str
    detail: str
    longest_u95_mm: float | None = None


def measurement_verdict(
    outline: Outline, survey: Survey | None, *, tolerance_mm: float, lengths: Lengths | None = None
) -> Verdict:
    """Compare what is known of the longest edge's length with the tolerance of the work.

    Args:
        outline: With each edge's uncertainty, where measured.
        survey: Where the outline comes from photographs; None when it was typed or taped.
        tolerance_mm: Compared with the 95 % uncertainty.
        lengths: How they are written; in mm first if left out.

    Returns:
        The verdict.
    """
    lengths = lengths or Lengths()
    longest = max(
        ((ring, index) for ring in outline.rings for index in range(len(ring.edges))),
        key=lambda place: place[0].edges[place[1]].curve.length,
    )
    u95 = length_u95_mm(*longest, relative_u=survey.relative_u if survey else 0.0)
    if u95 is None:
        return Verdict(
            Level.CHECK,
            "Not measured here",
            "The outline was given, not measured from photographs, so nothing is known here of "
            "how sure it is: check its longest and its diagonal dimensions with a tape.",
        )
    ring, index = longest
    if survey is None:
        return _as_stated(ring.edges[index], u95, tolerance_mm, lengths)
    length = ring.edges[index].curve.length
    worst = max(outline.edges, key=lambda edge: edge.u_mm or 0.0)
    scale_u95 = COVERAGE * survey.relative_u * length
    level, headline = _graded(u95, tolerance_mm)
    return Verdict(
        level,
        headline,
        f"The longest edge, {ring.edges[index].name}, is {lengths.short(length)} "
        f"{lengths.within(u95)} (95 %), against a tolerance of {lengths.within(tolerance_mm)}; "
        f"the print scale's share is {lengths.within(scale_u95)}, and the least sure edge, "
        f"{worst.name}, lies within {lengths.within(COVERAGE * (worst.u_mm or 0.0), 2)}."
        f"{_cure(level, scale_u95 / u95)}",
        u95,
    )


def _as_stated(longest: Edge, u95_mm: float, tolerance_mm: float, lengths: Lengths) -> Verdict:
    """The verdict on an outline that was given with its uncertainties: taped, or measured before.

    What all its lengths have in common, its scale, is not among them.
    """
    level, headline = _graded(u95_mm, tolerance_mm)
    if level is Level.NOTE:
        level, headline = Level.CHECK, "Good enough if its scale is right"
    return Verdict(
        level,
        headline,
        f"By the uncertainties given with the outline, the longest edge, {longest.name}, is "
        f"{lengths.short(longest.curve.length)} {lengths.within(u95_mm)} (95 %), against a "
        f"tolerance of {lengths.within(tolerance_mm)}, a scale common to all lengths aside: "
        "compare that edge with a second tape.",
        u95_mm,
    )


def _cure(level: Level, scale_share: float) -> str:
    """What would make a doubtful measurement better."""
    if level is Level.NOTE:
        return ""
    if scale_share > MOSTLY:
        return " Tape that edge on the template itself: if it agrees, the whole agrees."
    return " Photograph again, from nearer above and from more sides, with more cards around."


def _graded(u95_mm: float, tolerance_mm: float) -> tuple[Level, str]:
    if u95_mm <= tolerance_mm:
        return Level.NOTE, "Good enough to cut by"
    if u95_mm <= DOUBTFUL_FACTOR * tolerance_mm:
        return Level.CHECK, "Check with a tape before cutting"
    return Level.SERIOUS, "Not good enough to cut by"
