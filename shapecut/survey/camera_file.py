"""`camera.json`: a calibrated camera as a file that `camera` writes and jobs read.

All values are of the sensor's picture, before EXIF turns it upright; pixels as everywhere, the
centre of the top-left pixel being (0, 0).  `u` are standard uncertainties.
"""

import json
import math
from pathlib import Path
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from shapecut.errors import JobFileError
from shapecut.survey.calibrated import CalibratedCamera
from shapecut.survey.view import Camera

__all__ = ["Basis", "CameraFile", "calibrated_from_text", "camera_record", "read_camera"]

NAMES = ("focal", "centre x", "centre y", "k1", "k2", "p1", "p2", "k3")
"""What the rows and columns of the correlations stand for."""

LEAST_EIGENVALUE = 1e-12
"""Correlations with a smaller eigenvalue are no correlations."""


class Value(BaseModel):
    """A number and its standard uncertainty."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)

    value: float
    u: float = Field(gt=0, description="standard uncertainty")


def _positive(value: Value) -> Value:
    if value.value <= 0:
        raise ValueError("must be more than zero")
    return value


class Basis(BaseModel):
    """What the calibration rests on."""

    model_config = ConfigDict(extra="allow", frozen=True)

    sheet: str
    photos: tuple[str, ...] = Field(description="those used")
    residual_px: float = Field(description="root mean square per axis")


class CameraFile(BaseModel):
    """The whole of `camera.json`; its JSON Schema is published with the package."""

    model_config = ConfigDict(extra="allow", frozen=True, allow_inf_nan=False)

    camera: str | None = Field(None, description="maker and model as EXIF states them")
    focal_35mm: float | None = Field(None, gt=0, description="35 mm equivalent as EXIF states it")
    size_px: tuple[Annotated[int, Field(gt=0)], Annotated[int, Field(gt=0)]]
    focus: Literal["auto", "fixed"] = Field(
        "auto", description="auto: focused and stabilised anew for every photograph"
    )
    focal_px: Annotated[Value, AfterValidator(_positive)]
    centre_x_px: Value
    centre_y_px: Value
    k1: Value = Field(description="radial distortion, Brown's model in normalised coordinates")
    k2: Value
    p1: Value = Field(description="tangential distortion, OpenCV's order")
    p2: Value
    k3: Value = Field(description="radial distortion like k1 and k2, of the seventh order")
    correlations: Annotated[tuple[tuple[float, ...], ...], Field(min_length=8, max_length=8)] = (
        Field(description=f"of {', '.join(NAMES)}")
    )
    made_from: Basis | None = None


def camera_record(calibrated: CalibratedCamera, basis: Basis) -> CameraFile:
    """The file's content."""
    camera = calibrated.camera
    u = np.sqrt(np.diag(calibrated.covariance))
    correlations = calibrated.covariance / np.outer(u, u)
    k1, k2, p1, p2, k3 = camera.distortion
    return CameraFile(
        camera=calibrated.model,
        focal_35mm=calibrated.focal_35mm,
        size_px=camera.size,
        focus=calibrated.focus,
        focal_px=_value(camera.focal_px, camera.focal_px * u[0]),
        centre_x_px=_value(camera.centre_px[0], u[1]),
        centre_y_px=_value(camera.centre_px[1], u[2]),
        k1=_value(k1, u[3]),
        k2=_value(k2, u[4]),
        p1=_value(p1, u[5]),
        p2=_value(p2, u[6]),
        k3=_value(k3, u[7]),
        correlations=tuple(tuple(round(float(c), 9) for c in row) for row in correlations),
        made_from=basis,
    )


def read_camera(path: Path) -> CalibratedCamera:
    """Read a calibrated camera from its file.

    Raises:
        JobFileError: When it is missing, unreadable, or mistaken.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise JobFileError(
            f"The camera file {path} cannot be read ({reason.lower()}): write one with "
            "`shapecut camera`."
        ) from None
    return calibrated_from_text(text, path.name)


def calibrated_from_text(text: str, name: str) -> CalibratedCamera:
    """Read a calibrated camera.

    Args:
        text: The file's text.
        name: The file's name, for the sentences.

    Raises:
        JobFileError: Naming the first mistake and its place.
    """
    try:
        record = CameraFile.model_validate(json.loads(text))
    except (json.JSONDecodeError, RecursionError) as error:
        raise JobFileError(f"{name} is not JSON ({error}): calibrate again.") from None
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the top"
        raise JobFileError(f"{name}: at {place}: {first['msg']}: calibrate again.") from None
    lens = (record.k1, record.k2, record.p1, record.p2, record.k3)
    values = (record.focal_px, record.centre_x_px, record.centre_y_px, *lens)
    u = np.array([value.u for value in values])
    u[0] /= record.focal_px.value
    k1, k2, p1, p2, k3 = (value.value for value in lens)
    camera = Camera(
        record.size_px,
        record.focal_px.value,
        (record.centre_x_px.value, record.centre_y_px.value),
        (k1, k2, p1, p2, k3),
    )
    correlations = _correlations(record, name)
    return CalibratedCamera(
        name,
        record.camera,
        record.focal_35mm,
        camera,
        correlations * np.outer(u, u),
        record.focus,
    )


def _correlations(record: CameraFile, name: str) -> NDArray[np.float64]:
    if {len(row) for row in record.correlations} == {len(NAMES)}:
        matrix = np.array(record.correlations)
        symmetric = np.allclose(matrix, matrix.T) and np.allclose(np.diag(matrix), 1)
        if symmetric and np.linalg.eigvalsh(matrix).min() > LEAST_EIGENVALUE:
            return matrix
    raise JobFileError(f"{name}: its correlations are none: calibrate again.")


def _value(value: float, u: float) -> Value:
    """Rounded to three digits of the uncertainty."""
    places = 2 - math.floor(math.log10(u))
    return Value(value=round(float(value), places), u=round(float(u), places))
