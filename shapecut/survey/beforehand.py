"""What is known of cameras and print before the marks are looked at."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.survey.calibrated import CalibratedCamera
from shapecut.survey.least_squares import CameraPrior, Known

__all__ = ["Beforehand"]

FULL_FRAME_DIAGONAL_MM = math.hypot(36, 24)
"""Diagonal that 35 mm equivalent focal lengths refer to (CIPA DCG-001)."""

COMMON_FOCALS_35MM = (26.0, 50.0, 14.0, 85.0)
"""Where to start when a photograph does not state its focal length: phones first."""

STATED_FOCAL_RELATIVE_U = 0.05
"""Standard uncertainty of a stated 35 mm equivalent: rounding, cropping, focusing."""

UNSTATED_FOCAL_RELATIVE_U = 0.5
"""The same when nothing is stated and a phone's wide lens is supposed."""

CENTRE_RELATIVE_U = 0.01
"""Standard uncertainty of the principal point about the middle, as a fraction of the diagonal."""

CROPPED_CENTRE_RELATIVE_U = 0.15
"""The same when the photograph was cropped, nobody knows where."""

RADIAL_U = 0.2
"""Standard uncertainty of k1 and k2 about zero: covers phones and ordinary wide lenses."""

THIRD_RADIAL_U = 0.05
"""The same of k3, a small term where it can be told at all: +0.09 (standard uncertainty 0.17) and
-0.07 (0.06) for the two wide lenses of `tests/benchmarks/real_chessboards.py`."""

TANGENTIAL_U = 5e-4
"""Standard uncertainty of p1 and p2 about zero: lenses are centred about that well."""

CARD_HEIGHT_U_MM = 0.3
"""Standard uncertainty of a card's height about the plane that all cards lie on: floors and paper
are not flat (from memory; a screeded floor is within 2 mm under a 2 m straightedge)."""

STRETCH_SHARE = math.sqrt(0.5)
"""Standard uncertainty of a print's stretch over that of its scale: along and across the sheet were
read, or left to the printer, independently, on top of an error that both have in common."""

LEAST_PRINT_U = 1e-6
"""No print is known better than this, as a fraction."""


@dataclass(frozen=True)
class Beforehand:
    """What is known before the marks are looked at.

    Attributes:
        relative_u: Standard uncertainty of the cards' scale, as a fraction.
        camera: The camera that took all photographs, where it was calibrated.
        apart: Indices of photographs that share their camera with no other, whatever they state.
    """

    relative_u: float
    camera: CalibratedCamera | None = None
    apart: frozenset[int] = frozenset()

    def camera_prior(self, photo: Photo) -> CameraPrior:
        """What is known of a photograph's camera.

        Raises:
            SurveyError: If it was not taken with the calibrated camera.
        """
        if self.camera is None:
            return _by_its_own_data(photo)
        known = self.camera.known_for(photo)
        camera = known.camera
        mean = np.array([math.log(camera.focal_px), *camera.centre_px, *camera.distortion])
        return CameraPrior(mean, known.covariance, self.camera.name)

    def log_focals(self, photo: Photo) -> tuple[float, ...]:
        """Logarithms of the focal lengths in pixels to try for a photograph."""
        if self.camera is not None or photo.focal_35mm:
            return (float(self.camera_prior(photo).mean[0]),)
        return tuple(_log_focal(photo, focal) for focal in COMMON_FOCALS_35MM)

    def known(self, cameras: Sequence[CameraPrior]) -> Known:
        """All that is known besides the corners, of these cameras."""
        scale_u = max(self.relative_u, LEAST_PRINT_U)
        return Known(tuple(cameras), (scale_u, STRETCH_SHARE * scale_u), CARD_HEIGHT_U_MM)


def _by_its_own_data(photo: Photo) -> CameraPrior:
    """What a photograph's own data say of its camera."""
    focal_u = STATED_FOCAL_RELATIVE_U if photo.focal_35mm else UNSTATED_FOCAL_RELATIVE_U
    width, height = photo.size
    relative_u = CROPPED_CENTRE_RELATIVE_U if photo.cropped else CENTRE_RELATIVE_U
    centre_u = relative_u * math.hypot(width, height)
    log_focal = _log_focal(photo, photo.focal_35mm or COMMON_FOCALS_35MM[0])
    lens_u = (RADIAL_U, RADIAL_U, TANGENTIAL_U, TANGENTIAL_U, THIRD_RADIAL_U)
    middle = ((width - 1) / 2, (height - 1) / 2)
    u = (focal_u, centre_u, centre_u, *lens_u)
    return CameraPrior(
        np.array([log_focal, *middle, *np.zeros(len(lens_u))]),
        np.diag(np.square(u)),
    )


def _log_focal(photo: Photo, focal_35mm: float) -> float:
    """Of a focal length stated for the whole of what the camera took."""
    whole = photo.taken_size if photo.taken_size and photo.cropped else photo.size
    return math.log(focal_35mm / FULL_FRAME_DIAGONAL_MM * math.hypot(*whole))
