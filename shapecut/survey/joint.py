"""The joint adjustment of all photographs, from their sightings alone."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.survey.beforehand import Beforehand
from shapecut.survey.join import Alone, joined
from shapecut.survey.least_squares import Known, Solution, least_squares
from shapecut.survey.network import CornerSightings, Network
from shapecut.survey.start import solved_alone

__all__ = ["Joint", "card_names", "joint_adjustment", "readjusted"]


@dataclass(frozen=True)
class Joint:
    """An adjustment and what went into it.

    Attributes:
        start: The network that it started from.
        solution: The network that fits best.
        sightings: Those used.
        corners: Their corners, as the solution counts them.
        cards: Names of the network's cards.
        known: What was known besides them.
    """

    start: Network
    solution: Solution
    sightings: tuple[Sighting, ...]
    corners: CornerSightings
    cards: tuple[str, ...]
    known: Known


def joint_adjustment(
    photos: Sequence[Photo], sightings: Sequence[Sighting], beforehand: Beforehand
) -> Joint:
    """Adjust cameras, poses and cards to all sightings at once.

    Photographs that state the same camera, size, focal length and way of being held share one
    camera.

    Args:
        photos: Each is sighted in at least once.
        sightings: `Sighting.photo` counts `photos`.
        beforehand: What is known of cameras and print.

    Raises:
        SurveyError: If the photographs do not show one arrangement of cards, or one was not taken
            with the calibrated camera.
    """
    keys = [
        (
            p.camera,
            p.size,
            p.focal_35mm,
            p.orientation,
            index if index in beforehand.apart else None,
        )
        for index, p in enumerate(photos)
    ]
    cameras = list(dict.fromkeys(keys))
    camera_of = [cameras.index(key) for key in keys]
    cards = card_names(sightings)
    start = joined(
        [_alone(photo, index, sightings, beforehand) for index, photo in enumerate(photos)],
        camera_of,
        cards,
    )
    corners = CornerSightings.of(sightings, cards)
    known = beforehand.known([beforehand.camera_prior(photos[keys.index(key)]) for key in cameras])
    return Joint(
        start, least_squares(start, corners, known), tuple(sightings), corners, cards, known
    )


def readjusted(joint: Joint, sightings: Sequence[Sighting]) -> Joint:
    """Adjust to some of an adjustment's sightings, from its own start.

    Where it ended is no place to start from: what contradicts the rest has bent it.
    """
    cards = card_names(sightings)
    kept = [joint.cards.index(card) for card in cards]
    placements, heights = joint.start.placements[kept], joint.start.heights[kept]
    start = replace(joint.start, placements=placements, heights=heights)
    corners = CornerSightings.of(sightings, cards)
    solution = least_squares(start, corners, joint.known)
    return Joint(start, solution, tuple(sightings), corners, cards, joint.known)


def card_names(sightings: Sequence[Sighting]) -> tuple[str, ...]:
    """Names of the cards sighted, each once."""
    return tuple(dict.fromkeys(seen.card for seen in sightings))


def _alone(
    photo: Photo, index: int, sightings: Sequence[Sighting], beforehand: Beforehand
) -> Alone:
    """One photograph solved by itself."""
    own = [seen for seen in sightings if seen.photo == index]
    cards = card_names(own)
    standing_alone = frozenset(seen.card for seen in own if seen.stands_alone)
    solution = solved_alone(photo, own, cards, beforehand)
    return Alone(index, photo.name, solution.network, cards, standing_alone)
