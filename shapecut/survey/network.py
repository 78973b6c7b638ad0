"""The unknowns of a survey and how the marks' pixels depend on them.

Glossary:
    network: cameras, the pose of each photograph and the placement of each card, as estimated.
    column: one unknown's place in the vector of corrections: seven for each camera (log focal
        length, principal point x and y, k1, k2, p1, p2), then six for each photograph (a small
        turn in the camera frame, then the translation), then three for each card (x, y, turn).
    datum: the card that stands still, so that the plane's frame is tied to something.

Formulas: collinearity with Brown distortion as in `view`; derivatives by hand.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.sighting import Sighting
from shapecut.shape.placement import Placement
from shapecut.survey.view import Camera, PhotoView

__all__ = ["CAMERA_COLUMNS", "CornerSightings", "Network", "Projection", "projected"]

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

CAMERA_COLUMNS = 7
POSE_COLUMNS = 6
CARD_COLUMNS = 3


@dataclass(frozen=True)
class CornerSightings:
    """All mark corners as arrays of N rows, in the order of the sightings.

    Attributes:
        px: (N, 2) as measured, pixels.
        mm: (N, 2) in the card's frame.
        u_px: (N,) standard uncertainty per axis, pixels.
        photo: (N,) index of the photograph in the network.
        card: (N,) index of the card in the network.
        sighting: (N,) index of the sighting.
    """

    px: Array
    mm: Array
    u_px: Array
    photo: Indices
    card: Indices
    sighting: Indices

    @classmethod
    def of(cls, sightings: Sequence[Sighting], names: Sequence[str]) -> "CornerSightings":
        """Lay sightings out as arrays; cards are numbered as in `names`."""
        number = {name: k for k, name in enumerate(names)}
        counts = [len(seen.corners_px) for seen in sightings]
        return cls(
            px=np.concatenate([seen.corners_px for seen in sightings]),
            mm=np.concatenate([seen.corners_mm for seen in sightings]),
            u_px=np.repeat([seen.u_px for seen in sightings], counts),
            photo=np.repeat([seen.photo for seen in sightings], counts),
            card=np.repeat([number[seen.card] for seen in sightings], counts),
            sighting=np.repeat(np.arange(len(sightings)), counts),
        )

    def where(self, mask: NDArray[np.bool_]) -> "CornerSightings":
        """Only the rows of a mask; the indices stay."""
        return CornerSightings(
            self.px[mask],
            self.mm[mask],
            self.u_px[mask],
            self.photo[mask],
            self.card[mask],
            self.sighting[mask],
        )


@dataclass(frozen=True)
class Projection:
    """Plane points in a picture and what their pixels depend on.

    Attributes:
        px: (N, 2) pixels.
        by_camera: (N, 2, 7) derivatives by the camera's columns.
        by_pose: (N, 2, 6) derivatives by the photograph's columns.
        by_plane: (N, 2, 2) derivatives by the plane point, pixels per mm.
    """

    px: Array
    by_camera: Array
    by_pose: Array
    by_plane: Array


def projected(camera: Camera, rotation: Array, translation: Array, points: Array) -> Projection:
    """Project (N, 2) plane points at z = 0, with all derivatives."""
    turned = points @ rotation[:, :2].T
    seen = turned + translation
    depth = seen[:, 2]
    x, y = (seen[:, :2] / depth[:, None]).T
    k1, k2, p1, p2 = camera.distortion
    r2 = x * x + y * y
    radial, slope = 1 + r2 * (k1 + r2 * k2), 2 * k1 + 4 * k2 * r2
    bent = camera.distorted(np.column_stack([x, y])) * camera.focal_px

    by_ray = np.empty((len(points), 2, 2))
    by_ray[:, 0, 0] = radial + x * x * slope + 2 * p1 * y + 6 * p2 * x
    by_ray[:, 0, 1] = by_ray[:, 1, 0] = x * y * slope + 2 * p1 * x + 2 * p2 * y
    by_ray[:, 1, 1] = radial + y * y * slope + 6 * p1 * y + 2 * p2 * x
    by_ray *= camera.focal_px

    ray_by_seen = np.zeros((len(points), 2, 3))
    ray_by_seen[:, 0, 0] = ray_by_seen[:, 1, 1] = 1 / depth
    ray_by_seen[:, 0, 2], ray_by_seen[:, 1, 2] = -x / depth, -y / depth
    by_seen = by_ray @ ray_by_seen

    by_camera = np.zeros((len(points), 2, CAMERA_COLUMNS))
    by_camera[:, :, 0] = bent
    by_camera[:, 0, 1] = by_camera[:, 1, 2] = 1
    for column, factor in ((3, r2), (4, r2 * r2)):
        by_camera[:, 0, column], by_camera[:, 1, column] = x * factor, y * factor
    by_camera[:, 0, 5], by_camera[:, 1, 5] = 2 * x * y, r2 + 2 * y * y
    by_camera[:, 0, 6], by_camera[:, 1, 6] = r2 + 2 * x * x, 2 * x * y
    by_camera[:, :, 3:] *= camera.focal_px

    return Projection(
        px=bent + np.array(camera.centre_px),
        by_camera=by_camera,
        by_pose=np.concatenate([-by_seen @ _cross(turned), by_seen], axis=2),
        by_plane=by_seen @ rotation[:, :2],
    )


def _cross(vectors: Array) -> Array:
    """(N, 3, 3) matrices that take the cross product with (N, 3) vectors from the left."""
    matrices = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    matrices[:, 0, 1], matrices[:, 0, 2], matrices[:, 1, 2] = -z, y, -x
    matrices[:, 1, 0], matrices[:, 2, 0], matrices[:, 2, 1] = z, -y, x
    return matrices


def _turn(vector: Array) -> Array:
    """The (3, 3) rotation about a vector by its length (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    cross = _cross(vector[None])[0]
    if angle < 1e-9:
        return np.asarray(np.eye(3) + cross)
    return np.asarray(
        np.eye(3) + np.sin(angle) / angle * cross + (1 - np.cos(angle)) / angle**2 * (cross @ cross)
    )


@dataclass(frozen=True)
class Network:
    """Everything the survey estimates.

    Attributes:
        cameras: Each camera (and zoom) once.
        camera_of: For each photograph the index of its camera.
        rotations: (P, 3, 3) camera from plane.
        translations: (P, 3) camera from plane, mm.
        placements: (C, 3) x, y (mm) and turn (radians) of each card in the plane.
        datum: Index of the card that stands still.
    """

    cameras: tuple[Camera, ...]
    camera_of: tuple[int, ...]
    rotations: Array
    translations: Array
    placements: Array
    datum: int = 0

    @property
    def columns(self) -> int:
        """Length of the vector of corrections, the datum's three columns included."""
        return (
            CAMERA_COLUMNS * len(self.cameras)
            + POSE_COLUMNS * len(self.rotations)
            + CARD_COLUMNS * len(self.placements)
        )

    def camera_columns(self, camera: int) -> slice:
        """Columns of one camera."""
        return slice(CAMERA_COLUMNS * camera, CAMERA_COLUMNS * (camera + 1))

    def pose_columns(self, photo: int) -> slice:
        """Columns of one photograph's pose."""
        first = CAMERA_COLUMNS * len(self.cameras) + POSE_COLUMNS * photo
        return slice(first, first + POSE_COLUMNS)

    def card_columns(self, card: int) -> slice:
        """Columns of one card's placement."""
        first = self.columns - CARD_COLUMNS * (len(self.placements) - card)
        return slice(first, first + CARD_COLUMNS)

    @property
    def free(self) -> NDArray[np.bool_]:
        """Which columns may move: all but the datum's."""
        free = np.ones(self.columns, bool)
        free[self.card_columns(self.datum)] = False
        return free

    def camera_vector(self, camera: int) -> Array:
        """The seven values that a camera's columns correct."""
        known = self.cameras[camera]
        return np.array([np.log(known.focal_px), *known.centre_px, *known.distortion])

    def view(self, photo: int) -> PhotoView:
        """One photograph's view of the plane."""
        return PhotoView(
            photo,
            self.cameras[self.camera_of[photo]],
            self.rotations[photo],
            self.translations[photo],
        )

    def placement(self, card: int) -> Placement:
        """Where one card lies."""
        x, y, turn = self.placements[card]
        return Placement((float(x), float(y)), float(turn))

    def plane_points(self, corners: CornerSightings) -> tuple[Array, Array]:
        """(N, 2) plane points of the corners, and (N, 2) their derivatives by the card's turn."""
        place = self.placements[corners.card]
        c, s = np.cos(place[:, 2]), np.sin(place[:, 2])
        x, y = corners.mm.T
        arm = np.column_stack([c * x - s * y, s * x + c * y])
        return place[:, :2] + arm, np.column_stack([-arm[:, 1], arm[:, 0]])

    def predicted(self, corners: CornerSightings) -> tuple[Array, Array]:
        """(N, 2) pixels of the corners, and their (N, 2, columns) derivatives."""
        points, by_turn = self.plane_points(corners)
        px = np.empty((len(points), 2))
        jacobian = np.zeros((len(points), 2, self.columns))
        for photo, camera in enumerate(self.camera_of):
            rows = np.flatnonzero(corners.photo == photo)
            seen = projected(
                self.cameras[camera], self.rotations[photo], self.translations[photo], points[rows]
            )
            px[rows] = seen.px
            jacobian[rows, :, self.camera_columns(camera)] = seen.by_camera
            jacobian[rows, :, self.pose_columns(photo)] = seen.by_pose
            by_card = np.concatenate([seen.by_plane, seen.by_plane @ by_turn[rows, :, None]], 2)
            first = self.card_columns(0).start + CARD_COLUMNS * corners.card[rows]
            for k in range(CARD_COLUMNS):
                jacobian[rows, :, first + k] = by_card[:, :, k]
        return px, jacobian

    def moved(self, step: Array) -> "Network":
        """The network with corrections (columns,) applied."""
        cameras = []
        for k, known in enumerate(self.cameras):
            log_focal, x, y, k1, k2, p1, p2 = self.camera_vector(k) + step[self.camera_columns(k)]
            cameras.append(Camera(known.size, float(np.exp(log_focal)), (x, y), (k1, k2, p1, p2)))
        poses = [step[self.pose_columns(k)] for k in range(len(self.rotations))]
        return replace(
            self,
            cameras=tuple(cameras),
            rotations=np.array(
                [_turn(pose[:3]) @ r for pose, r in zip(poses, self.rotations, strict=True)]
            ),
            translations=self.translations + np.array([pose[3:] for pose in poses]),
            placements=self.placements
            + step[self.card_columns(0).start :].reshape(-1, CARD_COLUMNS),
        )

    def reframed(self, frame: Placement) -> "Network":
        """The same network seen from another frame of the plane.

        Args:
            frame: Placement of the new frame in the present one.
        """
        c, s = np.cos(frame.turn_rad), np.sin(frame.turn_rad)
        old_from_new = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        origin = np.array([*frame.origin, 0.0])
        centres = frame.inverse().points_to_plane(self.placements[:, :2])
        return replace(
            self,
            rotations=self.rotations @ old_from_new,
            translations=self.translations + self.rotations @ origin,
            placements=np.column_stack([centres, self.placements[:, 2] - frame.turn_rad]),
        )
