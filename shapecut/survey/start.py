"""First estimates: each photograph by itself, then all of them in one frame.

A card seen alone gives two poses of the plane (T. Collins and A. Bartoli, "Infinitesimal
plane-based pose estimation", IJCV 109, 2014).  The one is taken in which all cards of the
photograph best keep their shape.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.shape.placement import Placement
from shapecut.survey.beforehand import Beforehand
from shapecut.survey.least_squares import CameraPrior, Solution, least_squares
from shapecut.survey.network import CornerSightings, Network
from shapecut.survey.view import Camera, PhotoView

__all__ = ["LEAST_CORNERS", "card_poses", "rigid_fit", "solved_alone", "supposed_camera"]

Array = NDArray[np.float64]

LEAST_CORNERS = 4
"""Points of one card in a photograph that give the plane's pose."""

MOST_POSED = 3
"""Cards of a photograph that poses are tried from; one good card is enough."""

NEAR_ENOUGH = 1.0
"""A photograph by itself is adjusted until a step lowers its sum of squares by less than this: it
is a start for the joint adjustment."""

LOST_SHAPE = 0.3
"""A card that misses its shape by this fraction of its size tells nothing more of a pose."""


def solved_alone(
    photo: Photo, sightings: Sequence[Sighting], names: Sequence[str], beforehand: Beforehand
) -> Solution:
    """Adjust one photograph by itself, its first card being the datum.

    Args:
        photo: The photograph.
        sightings: Its sightings.
        names: Names of the cards in it, each once; the network's cards in this order.
        beforehand: What is known of its camera and of the print.
    """
    prior = beforehand.camera_prior(photo)
    known = beforehand.known([prior])
    corners = CornerSightings.of(sightings, names)
    corners = replace(corners, photo=np.zeros_like(corners.photo))
    starts = (
        _plane_in_sight(supposed_camera(photo, prior, log_focal), corners)
        for log_focal in beforehand.log_focals(photo)
    )
    return min(
        (least_squares(start, corners, known, settled=NEAR_ENOUGH) for start in starts),
        key=lambda found: found.chi2,
    )


def supposed_camera(photo: Photo, prior: CameraPrior, log_focal: float) -> Camera:
    """The camera of a photograph as its prior has it, with a focal length (logarithm of pixels)."""
    _, x, y, k1, k2, p1, p2, k3 = map(float, prior.mean)
    return Camera(photo.size, math.exp(log_focal), (x, y), (k1, k2, p1, p2, k3))


def _plane_in_sight(camera: Camera, corners: CornerSightings) -> Network:
    """The pose, of all that single cards give, in which the cards best keep their shape."""
    rays = np.column_stack([camera.rays_from_px(corners.px), np.ones(len(corners.px))])
    return min(
        (
            _cards_laid(camera, rotation, translation, corners, rays)
            for card in _largest_in_picture(corners)
            for rotation, translation in card_poses(camera, corners.where(corners.card == card))
        ),
        key=lambda laid: laid[0],
    )[1]


def _largest_in_picture(corners: CornerSightings) -> list[int]:
    """The cards that tell a pose best, the best first."""
    reach = {
        int(card): float(np.linalg.norm(np.ptp(corners.px[corners.card == card], axis=0)))
        for card in np.flatnonzero(np.bincount(corners.card) >= LEAST_CORNERS)
    }
    return sorted(reach, key=lambda card: -reach[card])[:MOST_POSED]


def card_poses(camera: Camera, corners: CornerSightings) -> list[tuple[Array, Array]]:
    """Rotations (3, 3) and translations (3,), camera from card, mm, that explain one card."""
    flat = np.column_stack([corners.mm, np.zeros(len(corners.mm))])
    _, turns, shifts, _ = cv2.solvePnPGeneric(
        flat, camera.rays_from_px(corners.px), np.eye(3), None, flags=cv2.SOLVEPNP_IPPE
    )
    return [
        (np.asarray(cv2.Rodrigues(turn)[0], float), np.asarray(shift, float).ravel())
        for turn, shift in zip(turns, shifts, strict=True)
    ]


def _cards_laid(
    camera: Camera, rotation: Array, translation: Array, corners: CornerSightings, rays: Array
) -> tuple[float, Network]:
    """Lay all cards, seen along (N, 3) rays, on the plane of a pose.

    Returns:
        How badly they lose their shape, and the network.
    """
    position = PhotoView(0, camera, rotation, translation).position
    directions = rays @ rotation
    below = directions[:, 2] * position[2] < 0
    plane = position[:2] - directions[:, :2] * (position[2] / directions[:, 2])[:, None]
    cost, placements = 0.0, []
    for card in range(int(corners.card.max()) + 1):
        rows = corners.card == card
        placement, misfit = rigid_fit(corners.mm[rows], plane[rows])
        lost = misfit / float(np.std(corners.mm[rows], axis=0).max())
        cost += min(lost, LOST_SHAPE) if below[rows].all() else 1.0
        placements.append([*placement.origin, placement.turn_rad])
    heights = np.zeros(len(placements))
    return cost, Network(
        (camera,), (0,), rotation[None], translation[None], np.array(placements), heights
    )


def rigid_fit(local: Array, plane: Array) -> tuple[Placement, float]:
    """The placement that best takes (N, 2) local points to (N, 2) plane points, N ≥ 2.

    Returns:
        The placement, and the root mean square distance that remains, mm.
    """
    local_middle, plane_middle = local.mean(axis=0), plane.mean(axis=0)
    a, b = local - local_middle, plane - plane_middle
    turn = math.atan2(float(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])), float(np.sum(a * b)))
    x, y = plane_middle - Placement(turn_rad=turn).points_to_plane(local_middle[None])[0]
    placement = Placement((float(x), float(y)), turn)
    left = plane - placement.points_to_plane(local)
    return placement, float(np.sqrt(np.mean(np.sum(left**2, axis=1))))
