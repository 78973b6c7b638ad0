"""The survey of photographs: one joint adjustment of cameras, poses and cards."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.shape.placement import Placement
from shapecut.survey.join import Alone, joined
from shapecut.survey.least_squares import CameraPrior, Solution, least_squares
from shapecut.survey.network import CornerSightings, Network
from shapecut.survey.outliers import Group, Suspicion, worst_group
from shapecut.survey.precision import point_u_mm
from shapecut.survey.start import camera_prior, solved_alone
from shapecut.survey.survey import PlacedCard, Survey
from shapecut.survey.weakness import weaknesses

__all__ = ["LEAST_CARDS", "survey_photos"]

LEAST_CARDS = 3
"""Fewer cards lie on one line, and across that line nothing holds the plane (two cards: errors of
1 mm and more that no residual shows)."""

CONTRADICTION = 25.0
"""A group of sightings whose `Suspicion.ratio` is above this is left out; for good marks it stays
below 6."""

MOST_LEFT_OUT = 0.25
"""Greatest fraction of the sightings that may be left out before the cards are refused."""

BROKEN_PX = 1.5
"""Cards whose residuals are larger than this in the end do not lie on one plane as stated."""


@dataclass(frozen=True)
class _Adjusted:
    """The adjustment after contradicting marks were left out."""

    solution: Solution
    corners: CornerSightings
    sightings: tuple[Sighting, ...]
    cards: tuple[str, ...]
    left_out: tuple[Suspicion, ...]


def survey_photos(
    photos: Sequence[Photo],
    sightings: Sequence[Sighting],
    *,
    relative_u: float,
    height_mm: float,
) -> Survey:
    """Measure the plane that photographs of cards show.

    Photographs that state the same camera, size and focal length share one camera.  The plane's
    frame has its origin in the middle of the cards and its x axis along the first photograph's
    rows, so that this photograph shows the plane upright.

    Args:
        photos: The job's photographs.
        sightings: The marks seen in them; `Sighting.photo` counts `photos`.
        relative_u: Standard uncertainty of the cards' scale, as a fraction.
        height_mm: Height of the face to be measured above the plane the cards lie on.

    Raises:
        SurveyError: If a photograph shows no card, there are fewer than `LEAST_CARDS`, a photograph
            shows another arrangement than the rest, or the cards contradict each other.
    """
    _refuse_too_few(photos, sightings)
    camera_of, priors = _cameras(photos)
    adjusted = _without_contradictions(photos, sightings, camera_of, priors)
    solution = adjusted.solution
    network = solution.network.reframed(_upright_frame(solution.network))
    u_mm = point_u_mm(solution, adjusted.corners)
    return Survey(
        views=tuple(network.view(photo) for photo in range(len(photos))),
        cards=_placed_cards(network, adjusted),
        height_mm=height_mm,
        relative_u=relative_u,
        point_u_mm=u_mm,
        residual_px=solution.residual_px,
        findings=tuple(_left_out(suspicion, photos) for suspicion in adjusted.left_out)
        + weaknesses(photos, network, adjusted.corners, u_mm, solution.residual_px),
    )


def _refuse_too_few(photos: Sequence[Photo], sightings: Sequence[Sighting]) -> None:
    """Refuse photographs without a card, and a scene with hardly any."""
    for index, photo in enumerate(photos):
        if not any(seen.photo == index for seen in sightings):
            raise SurveyError(
                f"No card was found in {photo.name}: leave it out, or photograph again with the "
                "cards in the picture."
            )
    cards = _names(sightings)
    if len(cards) < LEAST_CARDS:
        count = "one card" if len(cards) == 1 else "two cards"
        raise SurveyError(
            f"Only {count} ({' and '.join(cards)}) can be seen, which is too few to measure by: "
            "lay at least four round the template and photograph again."
        )


def _names(sightings: Sequence[Sighting]) -> tuple[str, ...]:
    """Names of the cards sighted, each once."""
    return tuple(dict.fromkeys(seen.card for seen in sightings))


def _cameras(photos: Sequence[Photo]) -> tuple[tuple[int, ...], tuple[CameraPrior, ...]]:
    """Which photographs share a camera and zoom, and what is known of each camera."""
    keys = [(photo.camera, photo.size, photo.focal_35mm) for photo in photos]
    each = list(dict.fromkeys(keys))
    priors = tuple(camera_prior(photos[keys.index(key)]) for key in each)
    return tuple(each.index(key) for key in keys), priors


def _without_contradictions(
    photos: Sequence[Photo],
    sightings: Sequence[Sighting],
    camera_of: Sequence[int],
    priors: Sequence[CameraPrior],
) -> _Adjusted:
    """Adjust all, leaving out the worst group again and again until none contradicts the rest."""
    kept, left_out = tuple(sightings), tuple[Suspicion, ...]()
    while True:
        cards = _names(kept)
        alone = [_alone(photo, index, kept) for index, photo in enumerate(photos)]
        corners = CornerSightings.of(kept, cards)
        solution = least_squares(joined(alone, camera_of, cards), corners, priors)
        worst = worst_group(solution, corners, kept)
        if worst.ratio < CONTRADICTION:
            break
        rest = tuple(seen for seen in kept if not worst.group.holds(seen))
        if (
            len(sightings) - len(rest) > max(1.0, MOST_LEFT_OUT * len(sightings))
            or len(_names(rest)) < LEAST_CARDS
            or {seen.photo for seen in rest} != {seen.photo for seen in kept}
        ):
            raise SurveyError(_contradicting(worst, photos))
        kept, left_out = rest, (*left_out, worst)
    if solution.residual_px > BROKEN_PX:
        raise SurveyError(_contradicting(worst, photos))
    return _Adjusted(solution, corners, kept, cards, left_out)


def _alone(photo: Photo, index: int, sightings: Sequence[Sighting]) -> Alone:
    """One photograph solved by itself."""
    own = [seen for seen in sightings if seen.photo == index]
    cards = _names(own)
    return Alone(index, photo.name, solved_alone(photo, own, cards).network, cards)


def _upright_frame(network: Network) -> Placement:
    """Origin in the middle of the cards, x along the first photograph's rows."""
    x, y = network.placements[:, :2].mean(axis=0)
    right = network.rotations[0][0]
    return Placement((float(x), float(y)), math.atan2(right[1], right[0]))


def _placed_cards(network: Network, adjusted: _Adjusted) -> tuple[PlacedCard, ...]:
    """Every card used, with its residual and the photographs it was used in."""
    corners = adjusted.corners
    return tuple(
        PlacedCard(
            name,
            network.placement(card),
            float(np.sqrt(np.mean(adjusted.solution.residuals[corners.card == card] ** 2))),
            tuple(int(photo) for photo in np.unique(corners.photo[corners.card == card])),
        )
        for card, name in enumerate(adjusted.cards)
    )


def _pointed_at(group: Group, photos: Sequence[Photo]) -> str:
    """A group as a person would point at it."""
    mark = "" if group.mark is None else f", mark {group.mark}"
    return f"{group.card}{mark}" + (
        "" if group.photo is None else f" in {photos[group.photo].name}"
    )


def _left_out(suspicion: Suspicion, photos: Sequence[Photo]) -> Finding:
    return Finding(
        Level.CHECK,
        _pointed_at(suspicion.group, photos),
        f"It is {suspicion.off_px:.1f} pixels away from where the other cards put it; it was not "
        "used.",
        "See whether the card was moved, is bent, half covered, or of another size than stated.",
    )


def _contradicting(suspicion: Suspicion, photos: Sequence[Photo]) -> str:
    return (
        f"The cards contradict each other, {_pointed_at(suspicion.group, photos)} the most (by "
        f"{suspicion.off_px:.1f} pixels): see that none was moved between the photographs, that "
        "all lie flat on one floor and are of the stated size, then photograph again."
    )
