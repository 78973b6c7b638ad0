"""Where the geometry of a survey is weak: what a fitter should improve before trusting it."""

import math
from collections.abc import Iterator, Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.findings import Finding, Level
from shapecut.survey.joint import Joint
from shapecut.survey.network import Network

__all__ = ["odd_cameras", "weaknesses"]

Array = NDArray[np.float64]

GOOD_NUMBER_OF_CARDS = 4
"""With fewer cards a single bad one can hardly be told from the good ones."""

LEAST_SPREAD = 0.2
"""Cards whose middles spread across by less than this fraction of their spread along lie in a
row."""

LEAST_SHARE_OF_PICTURE = 0.08
"""Cards that span less than this fraction of every picture are huddled together."""

STEEPEST_TILT_DEG = 60.0
"""A photograph tilted more than this from straight above measures badly in its depth."""

WORST_RELATIVE_U = 1 / 1000
"""A point's uncertainty above this fraction of the cards' span is worth a finding."""

ODD_CAMERA = 4.0
"""A camera whose value is this many standard uncertainties off what is known of cameras is odd."""

CAMERA_TRAITS = (
    "its focal length is far from the one it states",
    "its axis is far to one side of the picture's middle",
    "its axis is far above or below the picture's middle",
    *2 * ("it bends straight lines more than lenses do",),
    *2 * ("its lens is out of centre more than lenses are",),
    "it bends straight lines more than lenses do",
)
"""What is odd of each of a camera's columns (see `network`)."""

ROUGH = 2.0
"""Residuals below this many stated uncertainties are never rough: stated pixels are coarse."""

ROUGH_PX = 0.4
"""Residuals above this are no noise: paper or floor is not flat, or the lens not as modelled."""


def weaknesses(photos: Sequence[Photo], joint: Joint, u_mm: float) -> tuple[Finding, ...]:
    """All weak points of a survey.

    Args:
        photos: The photographs.
        joint: Their adjustment.
        u_mm: Standard uncertainty of a plane point, mm.
    """
    network = joint.solution.network
    return (
        *_of_the_cards(photos, joint),
        *_of_the_cameras(photos, joint),
        *_of_the_photographs(photos, network),
        *_of_the_result(joint, u_mm),
    )


def odd_cameras(joint: Joint) -> Iterator[tuple[int, str]]:
    """The first photograph of each camera that came out as cameras hardly are, and what is odd."""
    network = joint.solution.network
    for camera, prior in enumerate(joint.known.cameras):
        off = np.abs(network.camera_vector(camera) - prior.mean) / prior.u
        if off.max() > ODD_CAMERA:
            yield network.camera_of.index(camera), CAMERA_TRAITS[int(off.argmax())]


def _of_the_cards(photos: Sequence[Photo], joint: Joint) -> Iterator[Finding]:
    network, corners = joint.solution.network, joint.corners
    count = len(network.placements)
    lone = [seen.card for seen in joint.sightings if seen.stands_alone] if count == 1 else []
    if lone:
        yield Finding(
            Level.CHECK,
            lone[0],
            "Everything was measured from it alone, so that nothing would show if it is not as "
            "stated.",
            "Check two long dimensions of the result with a tape, or lay printed cards as well.",
        )
    elif count < GOOD_NUMBER_OF_CARDS:
        yield Finding(
            Level.CHECK,
            "cards",
            f"Only {count} cards were used, so that a bad one would hardly be noticed.",
            "Lay at least four, better six, round the template.",
        )
    along, across = _spread(network.placements[:, :2])
    if across < LEAST_SPREAD * along:
        yield Finding(
            Level.CHECK,
            "cards",
            "The cards lie nearly in one row; away from that row the plane is hardly held.",
            "Lay cards on all sides of the template.",
        )
    if not any(
        _among_the_cards(photo, corners.px[corners.photo == index])
        for index, photo in enumerate(photos)
    ):
        yield Finding(
            Level.CHECK,
            "cards",
            "All cards lie to one side of the middle of every photograph; away from them the plane "
            "is only supposed to go on.",
            "Lay cards on all sides of the template.",
        )
    shares = [
        _area(corners.px[corners.photo == index]) / math.prod(photo.size)
        for index, photo in enumerate(photos)
    ]
    if max(shares) < LEAST_SHARE_OF_PICTURE:
        yield Finding(
            Level.CHECK,
            "cards",
            f"The cards span only {max(shares):.0%} of the picture at best.",
            "Lay them round the whole template and fill the picture with it.",
        )


def _of_the_cameras(photos: Sequence[Photo], joint: Joint) -> Iterator[Finding]:
    network = joint.solution.network
    for photo, trait in odd_cameras(joint):
        calibrated = joint.known.cameras[network.camera_of[photo]].name
        if calibrated:
            yield Finding(
                Level.SERIOUS,
                photos[photo].name,
                f"By its marks it was not taken with the camera of {calibrated}: {trait}.",
                "Use the photograph as it came from the camera, and the file of that camera and "
                f"zoom; or leave {calibrated} out of the job.",
            )
            continue
        yield Finding(
            Level.SERIOUS,
            photos[photo].name,
            f"By its marks it was taken with a camera that hardly exists: {trait}.",
            "Use the photograph as it came from the camera, not cropped or edited, and see "
            "that all cards are flat and of the stated size.",
        )


def _of_the_photographs(photos: Sequence[Photo], network: Network) -> Iterator[Finding]:
    for index, photo in enumerate(photos):
        tilt = math.degrees(math.acos(min(1.0, abs(float(network.rotations[index][2, 2])))))
        if tilt > STEEPEST_TILT_DEG:
            yield Finding(
                Level.CHECK,
                photo.name,
                f"It was taken {tilt:.0f}° away from straight above; its far side is measured "
                "badly.",
                "Hold the camera higher above the template.",
            )


def _of_the_result(joint: Joint, u_mm: float) -> Iterator[Finding]:
    plane = joint.solution.network.plane_points(joint.corners)
    residual_px = joint.solution.residual_px
    span = float(np.linalg.norm(np.ptp(plane, axis=0)))
    if u_mm > WORST_RELATIVE_U * span:
        yield Finding(
            Level.CHECK,
            "survey",
            f"Points among the cards are uncertain by {u_mm:.2g} mm over a span of {span:.0f} mm.",
            "Take a further photograph from another side, nearer, or lay more cards.",
        )
    if residual_px > max(ROUGH_PX, ROUGH * float(joint.corners.u_px.mean())):
        yield Finding(
            Level.CHECK,
            "survey",
            f"The marks miss their places by {residual_px:.2g} pixels, far more than noise would.",
            "See that the cards are flat, the floor is even and the pictures are not edited.",
        )


def _spread(points: Array) -> tuple[float, float]:
    """Standard deviations of (N, 2) points along and across their main direction."""
    across, along = np.linalg.eigvalsh(np.cov(points.T, bias=True))
    return math.sqrt(max(float(along), 0.0)), math.sqrt(max(float(across), 0.0))


def _among_the_cards(photo: Photo, points: Array) -> bool:
    """Whether a photograph's middle, where the template is, lies among (N, 2) marks."""
    width, height = photo.size
    hull = cv2.convexHull(points.astype(np.float32))
    return cv2.pointPolygonTest(hull, ((width - 1) / 2, (height - 1) / 2), False) >= 0


def _area(points: Array) -> float:
    """Area of the convex hull of (N, 2) points."""
    hull = cv2.convexHull(points.astype(np.float32))
    return float(cv2.contourArea(hull))
