"""A camera that was calibrated before: what it says of the camera of a job's photographs."""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.errors import SurveyError
from shapecut.survey.upright import camera_turn, sensor_size, upright_camera
from shapecut.survey.view import Camera

__all__ = ["CalibratedCamera", "KnownCamera"]

SAME_FOCAL = 0.03
"""Stated 35 mm equivalents that differ by more than this fraction are of different lenses or
zooms; less is rounding to whole millimetres."""

REFOCUSED_FOCAL_U = 0.005
"""Standard uncertainty, as a fraction, that focusing anew adds to a focal length: a lens of 6 mm
lies 1.5 % farther from the sensor for a sheet at 0.4 m than for the far distance, 0.3 % for a
template at 2 m (thin lens: f / (distance - f))."""

STABILISED_CENTRE_U = 0.002
"""Standard uncertainty that a lens or sensor moved against shake adds to the principal point, as a
fraction of the diagonal (about a tenth of a degree; from experience, not from a standard)."""


@dataclass(frozen=True)
class KnownCamera:
    """A camera and how sure it is.

    Attributes:
        camera: The camera, in the frame of upright pictures.
        covariance: (8, 8) of its columns (see `network`).
    """

    camera: Camera
    covariance: NDArray[np.float64]


@dataclass(frozen=True)
class CalibratedCamera:
    """A calibration that later photographs can lean on.

    Attributes:
        name: The file's name, for the sentences.
        model: Maker and model from EXIF, or None.
        focal_35mm: 35 mm equivalent focal length from EXIF in mm, or None.
        camera: The camera, in the frame of the sensor's pictures (see `upright`).
        covariance: (8, 8) of its columns (see `network`).
        focus: `auto` when every photograph is focused and stabilised anew, as phones do; `fixed`
            when nothing in the lens moves.
    """

    name: str
    model: str | None
    focal_35mm: float | None
    camera: Camera
    covariance: NDArray[np.float64]
    focus: Literal["auto", "fixed"] = "auto"

    def known_for(self, photo: Photo) -> KnownCamera:
        """What it says of a photograph's camera.

        Raises:
            SurveyError: If the photograph was taken with another camera, zoom or picture size.
        """
        self._refuse_another(photo)
        covariance = self.covariance.copy()
        if self.focus == "auto":
            centre_u = STABILISED_CENTRE_U * math.hypot(*photo.size)
            covariance[0, 0] += REFOCUSED_FOCAL_U**2
            covariance[[1, 2], [1, 2]] += centre_u**2
        turn = camera_turn(photo.orientation)
        return KnownCamera(
            upright_camera(self.camera, photo.orientation), turn @ covariance @ turn.T
        )

    def _refuse_another(self, photo: Photo) -> None:
        size = sensor_size(photo.size, photo.orientation)
        cure = "take it out of the job file, or calibrate anew with photographs like this one."
        if photo.camera and self.model and photo.camera != self.model:
            raise SurveyError(
                f"{photo.name} was taken with a {photo.camera}, but {self.name} is for a "
                f"{self.model}: {cure}"
            )
        if size != self.camera.size:
            raise SurveyError(
                f"{photo.name} has {size[0]} x {size[1]} pixels, but {self.name} is for pictures "
                f"of {self.camera.size[0]} x {self.camera.size[1]}: use the photograph as it came "
                f"from the camera, or leave {self.name} out."
            )
        if photo.focal_35mm and self.focal_35mm:
            ratio = photo.focal_35mm / self.focal_35mm
            if abs(math.log(ratio)) > SAME_FOCAL:
                raise SurveyError(
                    f"{photo.name} was taken at {photo.focal_35mm:g} mm (35 mm equivalent), but "
                    f"{self.name} is for {self.focal_35mm:g} mm, another lens or zoom: {cure}"
                )
