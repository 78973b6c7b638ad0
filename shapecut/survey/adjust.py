"""The survey of photographs: cameras, poses and cards from the marks seen."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.shape.placement import Placement
from shapecut.survey.beforehand import Beforehand
from shapecut.survey.calibrated import CalibratedCamera
from shapecut.survey.evenness import evenness_estimated
from shapecut.survey.joint import Joint, card_names
from shapecut.survey.network import Network
from shapecut.survey.outliers import (
    Contradiction,
    cleared,
    enough_cards,
    pointed_at,
)
from shapecut.survey.propagation import plane_precision, point_u_mm
from shapecut.survey.standing import lying_flat
from shapecut.survey.survey import PlacedCard, Survey
from shapecut.survey.tapes import Tape, taped
from shapecut.survey.unmodelled import unmodelled
from shapecut.survey.weakness import odd_cameras, weaknesses
from shapecut.survey.zooms import with_own_cameras

__all__ = ["Adjusted", "adjusted_photos", "survey_photos"]

BROKEN_PX = 1.5
"""Cards whose residuals are larger than this in the end do not lie on one plane as stated."""

MISFIT = 3.0
"""Residuals above this many stated uncertainties are no noise."""

BENT = 9.0
"""A variance factor above this, together with an odd camera, means that the camera was bent and the
cards lifted to make contradicting cards agree."""


def survey_photos(
    photos: Sequence[Photo],
    sightings: Sequence[Sighting],
    *,
    relative_u: float,
    height_mm: float,
    tapes: Sequence[Tape] = (),
    calibrated: CalibratedCamera | None = None,
) -> Survey:
    """Measure the plane that photographs of cards show.

    The plane's frame has its origin in the middle of the cards and its x axis along the first
    photograph's rows, so that this photograph shows the plane upright.

    Args:
        photos: The job's photographs; those that state the same camera, size and focal length
            share one camera.
        sightings: The marks seen in them; `Sighting.photo` counts `photos`.
        relative_u: Standard uncertainty of the cards' scale, as a fraction.
        height_mm: Height of the face to be measured above the plane the cards lie on.
        tapes: Distances taped between cards.
        calibrated: The camera of all photographs, where it was calibrated before.

    Raises:
        SurveyError: If a photograph shows no card, there are too few (see `enough_cards`) or they
            lie on two planes, a photograph shows another arrangement than the rest, the cards
            contradict each other, a tape ends at a card that no photograph shows, or a photograph
            was not taken with the calibrated camera.
    """
    adjusted = adjusted_photos(
        photos, sightings, relative_u=relative_u, tapes=tapes, calibrated=calibrated
    )
    return adjusted.survey(height_mm)


@dataclass(frozen=True)
class Adjusted:
    """Photographs adjusted together, and what they left out.

    Attributes:
        photos: The photographs.
        joint: Their adjustment, in the frame of one of the cards.
        findings: The contradicting marks and tapes that were left out.
    """

    photos: tuple[Photo, ...]
    joint: Joint
    findings: tuple[Finding, ...]

    def survey(self, height_mm: float) -> Survey:
        """The measured plane (see `survey_photos`)."""
        joint, solution = self.joint, self.joint.solution
        frame = _upright_frame(solution.network)
        network = solution.network.reframed(frame)
        lacking = unmodelled(solution, joint.corners)
        precision = plane_precision(solution, joint.corners, lacking)
        u_mm = point_u_mm(precision, solution, joint.corners)
        return Survey(
            views=tuple(network.view(photo) for photo in range(len(self.photos))),
            cards=_placed_cards(network, joint),
            height_mm=height_mm,
            relative_u=precision.relative_u,
            point_u_mm=u_mm,
            residual_px=solution.residual_px,
            precision=precision.placed(frame.inverse()),
            findings=self.findings + weaknesses(self.photos, joint, u_mm),
        )


def adjusted_photos(
    photos: Sequence[Photo],
    sightings: Sequence[Sighting],
    *,
    relative_u: float,
    tapes: Sequence[Tape] = (),
    calibrated: CalibratedCamera | None = None,
) -> Adjusted:
    """Adjust photographs of cards, leaving out what contradicts the rest.

    Arguments and errors are those of `survey_photos`.
    """
    _refuse_too_few(photos, sightings)
    stated = Beforehand(relative_u, calibrated)
    lying, standing = lying_flat(photos, sightings, stated)
    started, zoomed = with_own_cameras(photos, lying, stated)
    clear = cleared(photos, started)
    _refuse_contradicting(photos, clear.joint)
    joint, on_tapes = taped(evenness_estimated(clear.joint), tapes, card_names(lying))
    left_out = tuple(_left_out(worst, photos) for worst in clear.left_out)
    return Adjusted(tuple(photos), joint, standing + zoomed + left_out + on_tapes)


def _refuse_too_few(photos: Sequence[Photo], sightings: Sequence[Sighting]) -> None:
    """Refuse photographs without a card, and a scene with hardly any."""
    for index, photo in enumerate(photos):
        if not any(seen.photo == index for seen in sightings):
            raise SurveyError(
                f"No card was found in {photo.name}: leave it out, or photograph again with the "
                "cards in the picture."
            )
    cards = card_names(sightings)
    if not enough_cards(sightings):
        count = "one card" if len(cards) == 1 else "two cards"
        raise SurveyError(
            f"Only {count} ({' and '.join(cards)}) can be seen, which is too few to measure by: "
            "lay at least four round the template and photograph again. If more lie there, they "
            "may come from another print: state their dictionary and side as own marks."
        )


def _refuse_contradicting(photos: Sequence[Photo], joint: Joint) -> None:
    """Refuse cards that fit no plane, or none that a real camera would show."""
    residual_px = joint.solution.residual_px
    worst = max(_placed_cards(joint.solution.network, joint), key=lambda card: card.residual_px)
    stated_px = float(joint.corners.u_px.mean())
    if residual_px > max(BROKEN_PX, MISFIT * stated_px):
        raise SurveyError(
            f"The cards contradict each other by {residual_px:.1f} pixels, {worst.name} the most: "
            "see that all lie flat on one floor and are of the stated size, then photograph again."
        )
    if joint.solution.variance_factor > BENT:
        for photo, trait in odd_cameras(joint):
            raise SurveyError(
                f"The cards contradict each other, {worst.name} the most, or {photos[photo].name} "
                f"was cropped or edited (by its marks {trait}): see that all cards lie flat on one "
                "floor and are of the stated size, and use the photograph as it came from the "
                "camera."
            )


def _upright_frame(network: Network) -> Placement:
    """Origin in the middle of the cards, x along the first photograph's rows."""
    x, y = network.placements[:, :2].mean(axis=0)
    right = network.rotations[0][0]
    return Placement((float(x), float(y)), math.atan2(right[1], right[0]))


def _placed_cards(network: Network, joint: Joint) -> tuple[PlacedCard, ...]:
    """Every card used, with its residual and the photographs it was used in."""
    corners = joint.corners
    return tuple(
        PlacedCard(
            name,
            network.placement(card),
            float(np.sqrt(np.mean(joint.solution.residuals[corners.card == card] ** 2))),
            tuple(int(photo) for photo in np.unique(corners.photo[corners.card == card])),
        )
        for card, name in enumerate(joint.cards)
    )


def _left_out(worst: Contradiction, photos: Sequence[Photo]) -> Finding:
    return Finding(
        Level.CHECK,
        pointed_at(worst.group, photos),
        f"It is {worst.off_mm:.1f} mm off where and how the other cards have it; it was not used.",
        "See whether the card was moved, is bent, half covered, or of another size than stated.",
    )
