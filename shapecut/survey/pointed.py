"""Taped points as the survey takes them: settled by their tapes, a misread one left out by name."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import STATED_U_PX, Sighting
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.shape.placement import Point
from shapecut.survey.beforehand import Beforehand
from shapecut.survey.joint import card_names
from shapecut.survey.misread_tape import COVERAGE, agreed_points, between, misses
from shapecut.survey.start import LEAST_CORNERS, solved_alone
from shapecut.survey.taped_points import TapedPoints
from shapecut.survey.tapes import Tape

__all__ = ["POINTS", "SettledPoints", "settled_points"]

POINTS = "taped points"
"""What the points together are called where a card's name would stand."""


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

    def miss(placed: TapedPoints) -> float:
        # All trials weigh the pixels alike, whatever the tapes left say of the points.
        return _miss(photos, _sightings(placed, seen, widened=0.0), others, beforehand)

    agreed = agreed_points(tapes, picture, miss=miss)
    points, widened, findings = agreed.points, 1.0, [misses(agreed.points, POINTS)]
    if agreed.misread:
        findings.insert(0, _misread(agreed.misread, points))
    if agreed.contradict:
        widened = math.sqrt(points.chi2 / max(points.freedom, 1))
        findings.insert(0, _contradiction(points, agreed.suspects))
    return SettledPoints(points, _sightings(points, seen, widened=widened), tuple(findings))


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
    likeliest = f" ({' or '.join(map(between, suspects))} the likeliest)" if suspects else ""
    return Finding(
        Level.SERIOUS,
        POINTS,
        f"The tapes contradict each other by up to {worst:.1f} mm after adjustment, more than they "
        f"are uncertain by; one may be misread{likeliest}, and the result is so much less sure.",
        "Tape them again and correct the job file.",
    )
