"""Cards that stand on another plane than the rest: on a wall, a box, a riser.

Each card by itself tells how its plane is turned to the camera (T. Collins and A. Bartoli,
"Infinitesimal plane-based pose estimation", IJCV 109, 2014), to some degrees, and a small one in
two ways of which one is right.  The turn that most cards of a photograph share is the floor's.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.survey.beforehand import Beforehand
from shapecut.survey.joint import card_names
from shapecut.survey.network import CornerSightings
from shapecut.survey.outliers import enough_cards
from shapecut.survey.start import LEAST_CORNERS, card_poses, supposed_camera
from shapecut.survey.view import Camera, PhotoView

__all__ = ["lying_flat"]

Array = NDArray[np.float64]

SAME_PLANE_RAD = math.radians(15.0)
"""Cards whose normals differ by less may lie on one plane: a small mark tells no better."""

STANDING_RAD = math.radians(35.0)
"""A card stands on another plane where its possible normals are all off the floor's by more."""

UNDECIDED_PX = 0.5
"""Of two poses the worse is ruled out if it misses the corners by more than this, on top of
`UNDECIDED_TIMES` what the better one misses them by: noise, and a lens that is not yet known."""

UNDECIDED_TIMES = 2.0


def lying_flat(
    photos: Sequence[Photo], sightings: Sequence[Sighting], beforehand: Beforehand
) -> tuple[tuple[Sighting, ...], tuple[Finding, ...]]:
    """Leave out the cards that do not lie on the plane that most of them share.

    Args:
        photos: The job's photographs.
        sightings: `Sighting.photo` counts `photos`.
        beforehand: What is known of their cameras.

    Returns:
        The sightings of the cards that may lie flat, and a finding for each card that does not.

    Raises:
        SurveyError: If too few cards are left, or no plane carries most of them.
    """
    standing = _standing(photos, sightings, beforehand)
    if not standing:
        return tuple(sightings), ()
    kept = tuple(seen for seen in sightings if seen.card not in standing)
    if len(standing) > 1 or not enough_cards(kept):
        names = ", ".join(standing)
        raise SurveyError(
            f"The cards lie on two planes, as on a wall and a floor: {names} stand"
            f"{'' if len(standing) > 1 else 's'} at about {_degrees(standing)} to the others. Lay "
            "all cards flat on the plane that the template lies on, and photograph again."
        )
    return kept, tuple(
        Finding(
            Level.CHECK,
            name,
            f"It stands at about {_degrees({name: angle})} to the other cards, as on a wall; it "
            "was not used.",
            "Lay it flat on the plane that the template lies on.",
        )
        for name, angle in standing.items()
    )


def _degrees(standing: dict[str, float]) -> str:
    """The mean angle, to ten degrees."""
    return f"{10 * round(math.degrees(sum(standing.values()) / len(standing)) / 10)}°"


def _standing(
    photos: Sequence[Photo], sightings: Sequence[Sighting], beforehand: Beforehand
) -> dict[str, float]:
    """The cards that stand in every photograph that shows them, and their mean angle."""
    angles: dict[str, list[float]] = {}
    for index, photo in enumerate(photos):
        own = [seen for seen in sightings if seen.photo == index]
        for name, angle in _off_the_floor(photo, own, beforehand).items():
            angles.setdefault(name, []).append(angle)
    return {name: sum(off) / len(off) for name, off in angles.items() if min(off) > STANDING_RAD}


def _off_the_floor(
    photo: Photo, sightings: Sequence[Sighting], beforehand: Beforehand
) -> dict[str, float]:
    """How far the cards of one photograph are turned off its floor, rad; none without a floor."""
    names = card_names(sightings)
    corners = CornerSightings.of(sightings, names)
    best: tuple[float, dict[str, float]] | None = None
    for log_focal in beforehand.log_focals(photo):
        camera = supposed_camera(photo, beforehand.camera_prior(photo), log_focal)
        normals = {
            name: _normals(camera, corners.where(corners.card == card))
            for card, name in enumerate(names)
            if np.count_nonzero(corners.card == card) >= LEAST_CORNERS
        }
        for floor in (normal for pair in normals.values() for normal in pair):
            off = {name: _least_angle(floor, pair) for name, pair in normals.items()}
            disagreement = sum(min(angle, STANDING_RAD) for angle in off.values())
            if best is None or disagreement < best[0]:
                best = (disagreement, off)
    if best is None:
        return {}
    lying = sum(angle < SAME_PLANE_RAD for angle in best[1].values())
    return best[1] if 2 * lying >= len(best[1]) and lying > 1 else {}


def _normals(camera: Camera, corners: CornerSightings) -> list[Array]:
    """Normals that one card's corners allow its plane, towards the camera; (3,), camera frame."""
    poses = [PhotoView(0, camera, *pose) for pose in card_poses(camera, corners)]
    misses_px = [
        float(np.sqrt(np.mean((view.px_from_mm(corners.mm) - corners.px) ** 2))) for view in poses
    ]
    allowed_px = UNDECIDED_PX + UNDECIDED_TIMES * min(misses_px)
    return [
        view.rotation[:, 2]
        for view, miss_px in zip(poses, misses_px, strict=True)
        if miss_px <= allowed_px
    ]


def _least_angle(floor: Array, normals: Sequence[Array]) -> float:
    return min(math.acos(float(np.clip(floor @ normal, -1.0, 1.0))) for normal in normals)
