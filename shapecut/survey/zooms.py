"""Photographs that state one camera and were not taken with it: another zoom, or cropped since."""

import math
from collections.abc import Sequence
from dataclasses import replace

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.survey.beforehand import Beforehand
from shapecut.survey.joint import Joint, joint_adjustment

__all__ = ["with_own_cameras"]

UNEASY = 1.5
"""With a variance factor up to this the photographs agree well enough to share a camera."""

SETTLED = 3.0
"""A camera of its own explains a photograph's contradiction when the variance factor falls below
this: cards that were moved or bent would leave more."""

DECISIVE = 90.0
"""The chi-square must fall by this many times the variance factor that is left: three times what
eight more unknowns bring by chance once in ten thousand times."""

OTHER_FOCAL = 0.02
OTHER_CENTRE = 0.015
"""A camera is another one when its focal length differs by more than this fraction, or its
principal point by more than this fraction of the diagonal."""


def with_own_cameras(
    photos: Sequence[Photo], sightings: Sequence[Sighting], beforehand: Beforehand
) -> tuple[Joint, tuple[Finding, ...]]:
    """Give photographs that share a camera by what they state, but not by their marks, their own.

    Args:
        photos: The photographs.
        sightings: The marks seen in them.
        beforehand: What is known of cameras and print.

    Returns:
        The adjustment, those photographs now apart, and a finding on each.

    Raises:
        SurveyError: If the photographs do not show one arrangement of cards.
    """
    findings: tuple[Finding, ...] = ()
    together = shared = joint_adjustment(photos, sightings, beforehand)
    if len(photos) < 2 or beforehand.camera is not None:
        return together, findings
    while shared.solution.variance_factor > UNEASY:
        candidates = [
            (index, known, apart)
            for index in _sharing(shared)
            for known in [replace(beforehand, apart=beforehand.apart | {index})]
            if (apart := _adjusted(photos, sightings, known)) is not None
        ]
        if not candidates:
            break
        # Of two photographs that share a camera either may have it: the later one gets its own.
        index, known, apart = min(candidates, key=lambda one: (one[2].solution.chi2, -one[0]))
        left = max(apart.solution.variance_factor, 1.0)
        what = _difference(apart, index)
        if shared.solution.chi2 - apart.solution.chi2 < DECISIVE * left or what is None:
            break
        findings = (*findings, _apart(photos[index], what))
        beforehand, shared = known, apart
    if shared.solution.variance_factor > SETTLED:
        return together, ()
    return shared, findings


def _sharing(joint: Joint) -> list[int]:
    """Photographs whose camera took another one too."""
    camera_of = joint.solution.network.camera_of
    return [index for index, camera in enumerate(camera_of) if camera_of.count(camera) > 1]


def _adjusted(
    photos: Sequence[Photo], sightings: Sequence[Sighting], beforehand: Beforehand
) -> Joint | None:
    try:
        return joint_adjustment(photos, sightings, beforehand)
    except SurveyError:
        return None


def _difference(apart: Joint, index: int) -> str | None:
    """In what a photograph's own camera differs from that of the others; None if in nothing."""
    network = apart.solution.network
    own = network.camera_vector(network.camera_of[index])
    others = next(k for k in range(len(network.camera_of)) if k != index)
    theirs = network.camera_vector(network.camera_of[others])
    camera = network.cameras[network.camera_of[index]]
    ratio = math.exp(own[0] - theirs[0])
    if abs(math.log(ratio)) > OTHER_FOCAL:
        return f"its focal length is {ratio:.2f} times theirs"
    if math.dist(own[1:3], theirs[1:3]) > OTHER_CENTRE * math.hypot(*camera.size):
        return "its axis meets the picture elsewhere"
    return None


def _apart(photo: Photo, what: str) -> Finding:
    return Finding(
        Level.CHECK,
        photo.name,
        "By its marks it was taken at another zoom than the other photographs, or cropped "
        f"({what}); it was given a camera of its own.",
        "Use the photographs as they came from the camera, all taken at one zoom.",
    )
