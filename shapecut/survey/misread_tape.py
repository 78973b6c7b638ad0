"""Which of several taped distances was misread, where they hold each other."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.shape.placement import Point
from shapecut.survey.chance import chi2_by_chance
from shapecut.survey.taped_points import TapedPoints, adjusted_points
from shapecut.survey.tapes import Tape
from shapecut.units import MILLIMETRES, MM_PER_INCH, LengthStyle

__all__ = ["COVERAGE", "AgreedPoints", "agreed_points", "between", "misses"]

COVERAGE = 2.0
"""Standard uncertainties in what is stated with a ±, for about 95 % (JCGM 100:2008, 6.2)."""

DISTINCT = 4.0
"""A tape is the misread one when everything fits this many times better without it than without
any other."""

NAMED_SUSPECTS = 2
"""How many tapes are named where none is the misread one for certain."""


@dataclass(frozen=True)
class AgreedPoints:
    """Points as adjusted by the tapes that agree.

    Attributes:
        points: As adjusted.
        misread: The tape that was left out; None if all were used.
        contradict: Whether tapes that were used contradict each other by more than chance.
        suspects: Those that may be misread then, the likeliest first.
    """

    points: TapedPoints
    misread: Tape | None = None
    contradict: bool = False
    suspects: tuple[Tape, ...] = ()


@dataclass(frozen=True)
class _Trial:
    """The points without one tape, and how badly everything fits then."""

    left_out: Tape
    points: TapedPoints
    chi2: float


def _nothing_more(_: TapedPoints) -> float:
    return 0.0


def agreed_points(
    tapes: Sequence[Tape],
    picture: Mapping[str, Point],
    *,
    miss: Callable[[TapedPoints], float] = _nothing_more,
) -> AgreedPoints:
    """Adjust taped points; where the tapes contradict each other, find the misread one.

    Each tape is left out in turn.  If everything fits without one of them and without no other, it
    is left out; otherwise all are kept.

    Args:
        tapes: Between the points.
        picture: See `adjusted_points`.
        miss: How badly points fit what else is known of them, as chi-square.

    Raises:
        SurveyError: See `adjusted_points`.
    """
    points = adjusted_points(tapes, picture)
    if not _contradict(points):
        return AgreedPoints(points)
    trials = sorted(_trials(tapes, picture, miss), key=lambda trial: trial.chi2)
    if _stands_out(trials):
        return AgreedPoints(trials[0].points, misread=trials[0].left_out)
    suspects = tuple(trial.left_out for trial in trials[:NAMED_SUSPECTS])
    return AgreedPoints(points, contradict=True, suspects=suspects)


def _contradict(points: TapedPoints) -> bool:
    """Whether the tapes contradict each other by more than chance."""
    return points.chi2 > chi2_by_chance(max(points.freedom, 1))


def _stands_out(trials: Sequence[_Trial]) -> bool:
    """Whether the first trial, and it alone, explains everything."""
    if len(trials) < 2 or _contradict(trials[0].points):
        return False
    return trials[1].chi2 > DISTINCT * max(trials[0].chi2, 1.0)


def _trials(
    tapes: Sequence[Tape], picture: Mapping[str, Point], miss: Callable[[TapedPoints], float]
) -> list[_Trial]:
    """Every tape left out once, but for those that the points cannot do without."""
    trials = []
    for k, tape in enumerate(tapes):
        try:
            points = adjusted_points([*tapes[:k], *tapes[k + 1 :]], picture)
        except SurveyError:
            continue
        trials.append(_Trial(tape, points, points.chi2 + miss(points)))
    return trials


def between(tape: Tape) -> str:
    """A tape's two points in short."""
    return f"{tape.start}–{tape.end}"


def misses(points: TapedPoints, where: str, lengths: LengthStyle = MILLIMETRES) -> Finding:
    """What every tape is off after adjustment."""
    unit, decimals = (MM_PER_INCH, 2) if lengths.units == "in" else (1.0, 1)
    each = ", ".join(
        f"{between(tape)} {round(miss / unit, decimals) + 0.0:+.{decimals}f}"  # no minus before 0
        for tape, miss in zip(points.tapes, points.residuals_mm, strict=True)
    )
    said = f"The tapes read more than the adjusted distances by {each} {lengths.units}."
    return Finding(Level.NOTE, where, said)
