"""Whether a measurement is good enough to cut by, in words with their numbers."""

import math
from dataclasses import dataclass

from shapecut.findings import Level
from shapecut.shape.outline import Outline
from shapecut.survey.survey import Survey

__all__ = ["COVERAGE", "Verdict", "measurement_verdict"]

COVERAGE = 2.0
"""Coverage factor k for about 95 % (JCGM 100:2008, GUM, 6.3.3)."""

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


def measurement_verdict(outline: Outline, survey: Survey | None, *, tolerance_mm: float) -> Verdict:
    """Compare what is known of the longest edge with the tolerance of the work.

    A length between two corners is as sure as the edges that bound it and the scale:
    u² = 2·u_edge² + (length · u_scale)², with the least sure edge for both (GUM, 5.1.2).

    Args:
        outline: With each edge's uncertainty, where measured.
        survey: Where the outline comes from photographs; None when it was typed.
        tolerance_mm: Compared with the 95 % uncertainty.

    Returns:
        The verdict.
    """
    known = [edge for edge in outline.edges if edge.u_mm is not None]
    if survey is None or not known:
        return Verdict(
            Level.CHECK,
            "Not measured here",
            "The outline was given, not measured from photographs, so nothing is known here of "
            "how sure it is: check its longest and its diagonal dimensions with a tape.",
        )
    longest = max(edge.curve.length for edge in outline.edges)
    worst = max(known, key=lambda edge: edge.u_mm or 0.0)
    edge_u = worst.u_mm or 0.0
    scale_u = survey.relative_u * longest
    u95 = COVERAGE * math.hypot(math.sqrt(2) * edge_u, scale_u)
    marks = f" Marks fit to {survey.residual_px:.2f} px." if survey.cards else ""
    level, headline = _graded(u95, tolerance_mm)
    return Verdict(
        level,
        headline,
        f"The longest edge, {longest:.0f} mm, is known to ±{u95:.1f} mm (95 %), against a "
        f"tolerance of ±{tolerance_mm:.1f} mm; the print scale's share is "
        f"±{COVERAGE * scale_u:.1f} mm, and the least sure edge, {worst.name}, lies within "
        f"±{COVERAGE * edge_u:.2f} mm.{marks}",
        u95,
    )


def _graded(u95_mm: float, tolerance_mm: float) -> tuple[Level, str]:
    if u95_mm <= tolerance_mm:
        return Level.NOTE, "Good enough to cut by"
    if u95_mm <= DOUBTFUL_FACTOR * tolerance_mm:
        return Level.CHECK, "Check with a tape before cutting"
    return Level.SERIOUS, "Not good enough to cut by"
