"""Taped points as the survey takes them: settled by their tapes, a misread one left out by name."""

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import STATED_U_PX, Sighting
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.shape.placement import Point
from shapecut.survey.beforehand import Beforehand
from shapecut.survey.chance import chi2_by_chance
from shapecut.survey.joint import card_names
from shapecut.survey.start import LEAST_CORNERS, solved_alone
from shapecut.survey.taped_points import TapedPoints, adjusted_points
from shapecut.survey.tapes import Tape

__all__ = ["POINTS", "SettledPoints", "settled_points"]

POINTS = "taped points"
"""What the points together are called where a card's name would stand."""

COVERAGE = 2.0
"""Standard uncertainties in what is stated with a ±, for about 95 % (JCGM 100:2008, 6.2)."""

DISTINCT = 4.0
"""A tape is the misread one when the photographs fit this many times better without it than without
any other."""


@dataclass(frozen=True)
class SettledPoints:
    """Points, where photographs show them, and what their tapes were like.

    Attributes:
        points: As adjusted.
        sightings: One for each point and photograph, all of the one card `POINTS`.
        findings: Of the tapes.
    """

    points: TapedPoints
    sightings: tuple[Sighting, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class _Trial:
    """The points without one tape, and how badly tapes and photographs fit then."""

    left_out: Tape
    points: TapedPoints
    chi2: float


def settled_points(
    photos: Sequence[Photo],
    tapes: Sequence[Tape],
    seen: Mapping[str, Mapping[int, Point]],
    *,
    others: Sequence[Sighting],
    beforehand: Beforehand,
) -> SettledPoints:
    """Adjust taped points and sight them in the photographs.

    Where the tapes contradict each other by more than chance, each is left out in turn; the
    photographs tell which of them was misread.  If they cannot, all tapes are kept and the points
    are so much less sure.

    Args:
        photos: The photographs.
        tapes: Between the points.
        seen: For each point, by photograph, its pixel.
        others: Marks of cards seen in the photographs.
        beforehand: What is known of cameras and tape.

    Raises:
        SurveyError: If no photograph shows all points, one shows too few, or the tapes do not hold
            the points.
    """
    picture = _whole_picture(photos, seen)
    points = adjusted_points(tapes, picture)
    if not _contradict(points):
        return SettledPoints(points, _sightings(points, seen, widened=1.0), (_misses(points),))

    def miss(placed: TapedPoints) -> float:
        # All trials weigh the pixels alike, whatever the tapes left say of the points.
        return _miss(photos, _sightings(placed, seen, widened=0.0), others, beforehand)

    trials = sorted(_trials(tapes, picture, miss), key=lambda trial: trial.chi2)
    if _stands_out(trials):
        settled = trials[0].points
        findings = (_misread(trials[0].left_out, settled), _misses(settled))
        return SettledPoints(settled, _sightings(settled, seen, widened=1.0), findings)
    widened = math.sqrt(points.chi2 / max(points.freedom, 1))
    findings = (_contradiction(points, [trial.left_out for trial in trials[:2]]), _misses(points))
    return SettledPoints(points, _sightings(points, seen, widened=widened), findings)


def _contradict(points: TapedPoints) -> bool:
    """Whether the tapes contradict each other by more than chance."""
    return points.chi2 > chi2_by_chance(max(points.freedom, 1))


def _stands_out(trials: Sequence[_Trial]) -> bool:
    """Whether the first trial, and it alone, explains everything."""
    if len(trials) < 2 or _contradict(trials[0].points):
        return False
    return trials[1].chi2 > DISTINCT * max(trials[0].chi2, 1.0)


def _whole_picture(
    photos: Sequence[Photo], seen: Mapping[str, Mapping[int, Point]]
) -> dict[str, Point]:
    """The points in the first photograph that shows all of them."""
    for index, photo in enumerate(photos):
        here = [name for name in seen if index in seen[name]]
        if 0 < len(here) < LEAST_CORNERS:
            raise SurveyError(
                f"{photo.name} shows only {len(here)} of the taped points ({', '.join(here)}): "
                f"give the places of at least {LEAST_CORNERS} there, or of none."
            )
    for index in range(len(photos)):
        if all(index in places for places in seen.values()):
            return {name: places[index] for name, places in seen.items()}
    raise SurveyError(
        f"No photograph shows all the taped points {', '.join(seen)}: give the place of every "
        "point in one of them."
    )


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


def _miss(
    photos: Sequence[Photo],
    sightings: Sequence[Sighting],
    others: Sequence[Sighting],
    beforehand: Beforehand,
) -> float:
    """How badly points and cards fit together in the photographs that show points, as chi-square.

    Each photograph is taken by itself, so that it need not fit the others.
    """
    chi2 = 0.0
    for index in sorted({seen.photo for seen in sightings}):
        own = [seen for seen in (*others, *sightings) if seen.photo == index]
        chi2 += solved_alone(photos[index], own, card_names(own), beforehand).chi2
    return chi2


def _sightings(
    points: TapedPoints, seen: Mapping[str, Mapping[int, Point]], *, widened: float
) -> tuple[Sighting, ...]:
    """The points in the photographs, the doubt about their places added to that of their pixels.

    Every photograph shows the same wrong places, so that several do not average them out: hence the
    root of their number.
    """
    photos = sorted({index for places in seen.values() for index in places})
    sightings: list[Sighting] = []
    for index in photos:
        names = [name for name in points.names if index in seen[name]]
        rows = [points.names.index(name) for name in names]
        px = np.array([seen[name][index] for name in names], float)
        px_per_mm = float(np.std(px, axis=0).sum() / np.std(points.places[rows], axis=0).sum())
        place_u_px = widened * math.sqrt(len(photos)) * px_per_mm * points.u_mm[rows]
        sightings += [
            Sighting(
                photo=index,
                card=POINTS,
                mark=f"point {name}",
                corners_px=px[k : k + 1],
                corners_mm=points.places[rows[k] : rows[k] + 1],
                u_px=float(np.hypot(STATED_U_PX, place_u_px[k])),
                stands_alone=True,
            )
            for k, name in enumerate(names)
        ]
    return tuple(sightings)


def _between(tape: Tape) -> str:
    return f"{tape.start}–{tape.end}"


def _misses(points: TapedPoints) -> Finding:
    misses = ", ".join(
        f"{_between(tape)} {miss:+.1f}"
        for tape, miss in zip(points.tapes, points.residuals_mm, strict=True)
    )
    return Finding(
        Level.NOTE, POINTS, f"The tapes read more than the adjusted distances by {misses} mm."
    )


def _misread(odd: Tape, points: TapedPoints) -> Finding:
    expected, u_mm = points.distance_mm(odd.start, odd.end)
    return Finding(
        Level.CHECK,
        str(odd),
        f"It reads {odd.length_mm:.0f} mm where the other tapes and the photographs expect "
        f"{expected:.0f} ± {COVERAGE * u_mm:.0f} mm; it was not used.",
        "Tape it again and correct the job file.",
    )


def _contradiction(points: TapedPoints, suspects: Sequence[Tape]) -> Finding:
    worst = float(np.abs(points.residuals_mm).max())
    likeliest = f" ({' or '.join(map(_between, suspects))} the likeliest)" if suspects else ""
    return Finding(
        Level.SERIOUS,
        POINTS,
        f"The tapes contradict each other by up to {worst:.1f} mm after adjustment, more than they "
        f"are uncertain by; one may be misread{likeliest}, and the result is so much less sure.",
        "Tape them again and correct the job file.",
    )
