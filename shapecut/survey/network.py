"""The unknowns of a survey and how the marks' pixels depend on them.

Glossary:
    network: cameras, the pose of each photograph, the print's scale and the placement of each card,
        as estimated.
    column: one unknown's place in the vector of corrections: eight for each camera (log focal
        length, principal point x and y, k1, k2, p1, p2, k3), then six for each photograph (a small
        turn in the camera frame, then the translation), then two for the print (scale, stretch),
        then four for each card (x, y, turn, height).
    scale, stretch: a card's x is printed 1 + scale + stretch times as long as stated, its y
        1 + scale - stretch times; the same for all cards, which came from one printer.
    height: of a card off the plane; the plane is the one that the cards as a whole lie on.
    datum: the card that stands still in the plane, so that its frame is tied to something.

Formulas: collinearity with Brown distortion as in `view`; derivatives by hand.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.sighting import Sighting
from shapecut.shape.placement import Placement
from shapecut.survey.projection import (
    CAMERA_COLUMNS,
    POSE_COLUMNS,
    cross_matrices,
    projected,
)
from shapecut.survey.view import Camera, PhotoView

__all__ = ["CARD_COLUMNS", "CornerSightings", "Network"]

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

PRINT_COLUMNS = 2
LEAST_FOCAL_CHANGE = 0.5
"""One step shortens a focal length to this fraction at the most."""

CARD_COLUMNS = 4


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


def _turn(vector: Array) -> Array:
    """The (3, 3) rotation about a vector by its length (Rodrigues' formula)."""
    angle = float(np.linalg.norm(vector))
    cross = cross_matrices(vector[None])[0]
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
        heights: (C,) of each card off the plane, mm.
        print_scale: Scale and stretch of the print, as fractions.
        datum: Index of the card that stands still.
    """

    cameras: tuple[Camera, ...]
    camera_of: tuple[int, ...]
    rotations: Array
    translations: Array
    placements: Array
    heights: Array
    print_scale: tuple[float, float] = (0.0, 0.0)
    datum: int = 0

    @property
    def columns(self) -> int:
        """Length of the vector of corrections, the datum's columns included."""
        return (
            CAMERA_COLUMNS * len(self.cameras)
            + POSE_COLUMNS * len(self.rotations)
            + PRINT_COLUMNS
            + CARD_COLUMNS * len(self.placements)
        )

    def camera_columns(self, camera: int) -> slice:
        """Columns of one camera."""
        return slice(CAMERA_COLUMNS * camera, CAMERA_COLUMNS * (camera + 1))

    def pose_columns(self, photo: int) -> slice:
        """Columns of one photograph's pose."""
        first = CAMERA_COLUMNS * len(self.cameras) + POSE_COLUMNS * photo
        return slice(first, first + POSE_COLUMNS)

    @property
    def print_columns(self) -> slice:
        """Columns of the print's scale and stretch."""
        first = self.card_columns(0).start
        return slice(first - PRINT_COLUMNS, first)

    @property
    def height_columns(self) -> slice:
        """Columns of the cards' heights."""
        return slice(self.card_columns(0).stop - 1, self.columns, CARD_COLUMNS)

    def card_columns(self, card: int) -> slice:
        """Columns of one card's placement and height."""
        first = self.columns - CARD_COLUMNS * (len(self.placements) - card)
        return slice(first, first + CARD_COLUMNS)

    @property
    def free(self) -> NDArray[np.bool_]:
        """Which columns may move: all but the datum's place and turn."""
        free = np.ones(self.columns, bool)
        first = self.card_columns(self.datum).start
        free[first : first + 3] = False
        return free

    def camera_vector(self, camera: int) -> Array:
        """The eight values that a camera's columns correct."""
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

    def plane_points(self, corners: CornerSightings) -> Array:
        """(N, 2) plane points of the corners."""
        return np.asarray(self.placements[corners.card, :2] + self._arms(corners, self._printed()))

    def plane_by_card(self, corners: CornerSightings) -> Array:
        """(N, 2, 3) derivatives of the corners' plane points by their card's x, y and turn."""
        arms = self._arms(corners, self._printed())
        by_card = np.zeros((len(arms), 2, 3))
        by_card[:, 0, 0] = by_card[:, 1, 1] = 1
        by_card[:, 0, 2], by_card[:, 1, 2] = -arms[:, 1], arms[:, 0]
        return by_card

    def _printed(self) -> tuple[float, float]:
        """True over stated length along a card's x and y."""
        scale, stretch = self.print_scale
        return 1 + scale + stretch, 1 + scale - stretch

    def _arms(self, corners: CornerSightings, printed: tuple[float, float]) -> Array:
        """(N, 2) from the middle of each corner's card to the corner, in the plane."""
        turn = self.placements[corners.card, 2]
        c, s = np.cos(turn), np.sin(turn)
        x, y = (corners.mm * printed).T
        return np.column_stack([c * x - s * y, s * x + c * y])

    def predicted(self, corners: CornerSightings) -> tuple[Array, Array]:
        """(N, 2) pixels of the corners, and their (N, 2, columns) derivatives."""
        points = np.column_stack([self.plane_points(corners), self.heights[corners.card]])
        by_card = self.plane_by_card(corners)
        by_print = np.stack([self._arms(corners, (1, sign)) for sign in (1, -1)], axis=2)
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
            jacobian[rows, :, self.print_columns] = seen.by_plane @ by_print[rows]
            by_columns = np.concatenate(
                [seen.by_plane @ by_card[rows], seen.by_point[:, :, 2:]], axis=2
            )
            first = self.card_columns(0).start + CARD_COLUMNS * corners.card[rows]
            for k in range(CARD_COLUMNS):
                jacobian[rows, :, first + k] = by_columns[:, :, k]
        return px, jacobian

    def moved(self, step: Array) -> "Network":
        """The network with corrections (columns,) applied."""
        cameras = []
        for k, known in enumerate(self.cameras):
            change = step[self.camera_columns(k)]
            _, x, y, k1, k2, p1, p2, k3 = map(float, self.camera_vector(k) + change)
            # Focal length and distance hardly part when seen from straight above.  In proportion
            # they leave the picture as it is; so a straight step must change both linearly.
            grown = max(1 + float(change[0]), LEAST_FOCAL_CHANGE)
            lens = (k1, k2, p1, p2, k3)
            cameras.append(Camera(known.size, known.focal_px * grown, (x, y), lens))
        poses = [step[self.pose_columns(k)] for k in range(len(self.rotations))]
        by_card = step[self.card_columns(0).start :].reshape(-1, CARD_COLUMNS)
        scale, stretch = np.array(self.print_scale) + step[self.print_columns]
        return replace(
            self,
            cameras=tuple(cameras),
            rotations=np.array(
                [_turn(pose[:3]) @ r for pose, r in zip(poses, self.rotations, strict=True)]
            ),
            translations=self.translations + np.array([pose[3:] for pose in poses]),
            placements=self.placements + by_card[:, :3],
            heights=self.heights + by_card[:, 3],
            print_scale=(float(scale), float(stretch)),
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
