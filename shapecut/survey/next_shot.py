"""What would improve a measurement most: which further photograph, or which taped distance.

Each candidate's equations are added to the normal equations of the adjustment, the unknown pose of
a new photograph eliminated, and the covariance of the plane compared: the uncertainty of a
measurement that has not been made yet does not depend on what it will read (E. Grafarend and
F. Sansò, eds., "Optimization and Design of Geodetic Networks", Springer 1985).
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from shapecut.survey.joint import Joint
from shapecut.survey.least_squares import TapedPair, taped_distance
from shapecut.survey.network import CornerSightings
from shapecut.survey.propagation import plane_precision, point_u_mm
from shapecut.survey.tapes import TAPE_U_MM
from shapecut.survey.unmodelled import Unmodelled, unmodelled
from shapecut.survey.view import PhotoView

__all__ = ["FurtherPhoto", "FurtherTape", "NextShot", "next_shot"]

Array = NDArray[np.float64]

TILTS_DEG = (20.0, 40.0)
"""Tilts from straight above that a person can take a photograph at."""

SIDES = (
    "from the right",
    "from the far right",
    "from the far side",
    "from the far left",
    "from the left",
    "from the near left",
    "from the near side",
    "from the near right",
)
"""Counter-clockwise as the first photograph shows the plane: its top is the far side."""

MARGIN = 0.04
"""Part of the picture, on each side, in which no card should lie."""

NEAREST = 0.6
STEP_BACK = 1.08
STEPS_BACK = 24
"""A candidate is tried from this fraction of the present distance and goes back in such steps until
all cards are in the picture."""


@dataclass(frozen=True)
class FurtherPhoto:
    """A photograph that might be taken.

    Attributes:
        side: From where, in words, as the first photograph shows the plane.
        tilt_deg: From straight above.
        distance_mm: From the middle of the cards.
        u_mm: Standard uncertainty of a point, scale aside, that it would leave.
    """

    side: str
    tilt_deg: float
    distance_mm: float
    u_mm: float


@dataclass(frozen=True)
class FurtherTape:
    """A distance that might be taped.

    Attributes:
        start: Name of one card.
        end: Name of the other.
        length_mm: What the tape will read, about.
        u_mm: Standard uncertainty of a point, scale included, that it would leave.
    """

    start: str
    end: str
    length_mm: float
    u_mm: float


@dataclass(frozen=True)
class NextShot:
    """What the measurement is good for now, and what would improve it most.

    Photographs sharpen the shape and tapes the scale, so each is judged by its own.

    Attributes:
        shape_u_mm: Typical standard uncertainty per axis of a point among the cards, scale aside.
        u_mm: The same, scale included.
        photo: The best further photograph; None if no candidate shows all cards.
        tape: The best further taped distance; None if there are no two cards.
    """

    shape_u_mm: float
    u_mm: float
    photo: FurtherPhoto | None
    tape: FurtherTape | None


def next_shot(joint: Joint) -> NextShot:
    """Try every candidate on an adjustment; a further photograph is of the first one's camera."""
    lacking = unmodelled(joint.solution, joint.corners)
    return NextShot(
        *_point_u_mm(joint, lacking, joint.solution.covariance),
        min(_further_photos(joint, lacking), key=lambda photo: photo.u_mm, default=None),
        min(_further_tapes(joint, lacking), key=lambda tape: tape.u_mm, default=None),
    )


def _point_u_mm(joint: Joint, lacking: Unmodelled, covariance: Array) -> tuple[float, float]:
    """Standard uncertainty per axis of a point among the cards, scale aside and scale included."""
    solution = replace(joint.solution, covariance=covariance)
    precision = plane_precision(solution, joint.corners, lacking)
    plane = solution.network.plane_points(joint.corners)
    arm = math.sqrt(float(np.mean((plane - plane.mean(axis=0)) ** 2)))
    shape_u_mm = point_u_mm(precision, solution, joint.corners)
    return shape_u_mm, math.hypot(shape_u_mm, precision.relative_u * arm)


# --- tapes ---------------------------------------------------------------------------------------


def _further_tapes(joint: Joint, lacking: Unmodelled) -> Iterator[FurtherTape]:
    taped = {frozenset((tape.start, tape.end)) for tape in joint.known.tapes}
    for start, end in combinations(range(len(joint.cards)), 2):
        if frozenset((start, end)) in taped:
            continue
        pair = TapedPair(start, end, 0.0, TAPE_U_MM)
        length, row = taped_distance(joint.solution.network, pair)
        # One equation more changes the covariance by a matrix of rank one (Sherman and Morrison).
        moved = joint.solution.covariance @ row
        less = np.outer(moved, moved) / (TAPE_U_MM**2 + row @ moved)
        _, u_mm = _point_u_mm(joint, lacking, joint.solution.covariance - less)
        yield FurtherTape(joint.cards[start], joint.cards[end], length, u_mm)


# --- photographs ---------------------------------------------------------------------------------


def _further_photos(joint: Joint, lacking: Unmodelled) -> Iterator[FurtherPhoto]:
    solution, network = joint.solution, joint.solution.network
    free = np.ix_(network.free, network.free)
    normal = np.linalg.inv(solution.covariance[free])
    right = network.rotations[0][0]
    upright = math.atan2(right[1], right[0])
    for tilt_deg in TILTS_DEG:
        for number, side in enumerate(SIDES):
            azimuth = upright + math.tau * number / len(SIDES)
            shot = _standing_back(joint, azimuth, math.radians(tilt_deg))
            if shot is not None:
                view, distance = shot
                covariance = np.zeros_like(solution.covariance)
                covariance[free] = np.linalg.inv(normal + _information(joint, view)[free])
                u_mm, _ = _point_u_mm(joint, lacking, covariance)
                yield FurtherPhoto(side, tilt_deg, distance, u_mm)


def _standing_back(joint: Joint, azimuth: float, tilt: float) -> tuple[PhotoView, float] | None:
    """The nearest view from a side that shows all cards, upright or on its side; its distance."""
    network = joint.solution.network
    camera = network.cameras[network.camera_of[0]]
    plane = network.plane_points(joint.corners)
    middle = np.append(plane.mean(axis=0), 0.0)
    present = [
        np.linalg.norm(network.view(k).position - middle) for k in range(len(network.rotations))
    ]
    size = np.array(camera.size)
    out = np.array(
        [math.cos(azimuth) * math.sin(tilt), math.sin(azimuth) * math.sin(tilt), math.cos(tilt)]
    )
    distance = NEAREST * float(np.mean(present))
    for _ in range(STEPS_BACK):
        for roll in (0.0, math.pi / 2):
            rotation = _looking_along(-out, roll)
            view = PhotoView(len(present), camera, rotation, -rotation @ (middle + distance * out))
            px = view.px_from_mm(plane)
            if np.all((px > MARGIN * size) & (px < (1 - MARGIN) * size)):
                return view, distance
        distance *= STEP_BACK
    return None


def _looking_along(forward: Array, roll: float) -> Array:
    """The rotation (camera from plane) of a level camera, turned about its axis."""
    right = np.cross(forward, (0.0, 0.0, 1.0))
    right /= np.linalg.norm(right)
    level = np.array([right, np.cross(forward, right), forward])
    c, s = math.cos(roll), math.sin(roll)
    return np.asarray(np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]]) @ level)


def _information(joint: Joint, view: PhotoView) -> Array:
    """The normal matrix (columns, columns) that a photograph adds, its own pose eliminated."""
    network = joint.solution.network
    wider = replace(
        network,
        camera_of=(*network.camera_of, network.camera_of[0]),
        rotations=np.concatenate([network.rotations, view.rotation[None]]),
        translations=np.concatenate([network.translations, view.translation[None]]),
    )
    _, by_column = wider.predicted(_as_seen_in(joint, view.photo))
    jacobian = by_column.reshape(-1, wider.columns) / float(np.median(joint.corners.u_px))
    pose = wider.pose_columns(view.photo)
    own = jacobian[:, pose]
    others = np.delete(jacobian, pose, axis=1)
    free = others - own @ np.linalg.lstsq(own, others, rcond=None)[0]
    return np.asarray(free.T @ free)


def _as_seen_in(joint: Joint, photo: int) -> CornerSightings:
    """All marks that were sighted anywhere, once each, as sighted in another photograph."""
    marks = {(seen.card, seen.mark): replace(seen, photo=photo) for seen in joint.sightings}
    return CornerSightings.of(tuple(marks.values()), joint.cards)
