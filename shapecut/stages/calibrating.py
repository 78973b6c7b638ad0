"""From photographs of a printed sheet to a calibrated camera: capture and survey, in that order.

Takes and returns values; no file is read or written.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from shapecut.capture.chessboard import Chessboard, SeenSheet, find_chessboard
from shapecut.capture.photo import Photo
from shapecut.errors import CaptureError
from shapecut.findings import Finding, Level
from shapecut.progress import Report, quiet, side_by_side
from shapecut.survey.calibrate import calibrated
from shapecut.survey.calibrated import CalibratedCamera
from shapecut.survey.camera_file import Basis
from shapecut.survey.upright import sensor_px, sensor_size

__all__ = ["CameraCalibrated", "calibrate_camera"]


@dataclass(frozen=True)
class CameraCalibrated:
    """A calibrated camera and what it was calibrated from.

    Attributes:
        camera: The camera.
        basis: What it rests on.
        findings: Photographs that were not used, and why.
    """

    camera: CalibratedCamera
    basis: Basis
    findings: tuple[Finding, ...]


def calibrate_camera(
    photos: Sequence[Photo],
    sheet: Chessboard,
    *,
    name: str = "camera.json",
    focus: Literal["auto", "fixed"] = "auto",
    report: Report = quiet,
) -> CameraCalibrated:
    """Calibrate the camera that took photographs of a printed sheet.

    Args:
        photos: Ten or so photographs of the flat sheet, from all sides, tilted 30 to 45 degrees.
        sheet: What is printed on it.
        name: What to call the camera in later sentences.
        focus: See `CalibratedCamera`.
        report: Called with a few words before each step.

    Raises:
        CaptureError: If two photographs are of different cameras, zooms or sizes, or none shows
            the sheet.
        SurveyError: If the photographs do not determine the camera.
    """
    _refuse_mixed(photos)
    report("finding the sheet")
    found = side_by_side(lambda photo: find_chessboard(photo, sheet), photos)
    shown = [(photo, seen) for photo, seen in zip(photos, found, strict=True) if seen is not None]
    if not shown:
        columns, rows = (count - 1 for count in sheet.squares)
        raise CaptureError(
            f"No photograph shows a sheet of {sheet} ({columns} x {rows} inner corners): count all "
            "squares along both sides, black and white, and have the whole sheet in the picture."
        )
    report("calibrating the camera")
    first = photos[0]
    calibration = calibrated(
        [_on_the_sensor(photo, seen) for photo, seen in shown],
        [photo.name for photo, _ in shown],
        sensor_size(first.size, first.orientation),
    )
    camera = CalibratedCamera(
        name, first.camera, first.focal_35mm, calibration.camera, calibration.covariance, focus
    )
    missing = (
        _not_found(photo, sheet) for photo, seen in zip(photos, found, strict=True) if seen is None
    )
    basis = Basis(
        sheet=f"{sheet} of {sheet.square_mm:g} mm",
        photos=tuple(shown[k][0].name for k in calibration.used),
        residual_px=round(calibration.residual_px, 4),
    )
    return CameraCalibrated(camera, basis, (*missing, *calibration.findings))


def _refuse_mixed(photos: Sequence[Photo]) -> None:
    """Refuse photographs of two cameras, zooms or sizes."""

    def told(photo: Photo) -> tuple[tuple[str, object], ...]:
        width, height = sensor_size(photo.size, photo.orientation)
        return (
            ("camera", photo.camera or "unnamed"),
            ("picture size", f"{width} x {height}"),
            ("zoom", f"{photo.focal_35mm:g} mm" if photo.focal_35mm else "not stated"),
        )

    for photo in photos[1:]:
        for (what, here), (_, there) in zip(told(photo), told(photos[0]), strict=True):
            if here != there:
                raise CaptureError(
                    f"{photo.name} differs from {photos[0].name} in its {what} ({here} against "
                    f"{there}): calibrate with photographs of one camera, zoom and size."
                )


def _on_the_sensor(photo: Photo, seen: SeenSheet) -> SeenSheet:
    return replace(seen, px=sensor_px(seen.px, photo.size, photo.orientation))


def _not_found(photo: Photo, sheet: Chessboard) -> Finding:
    return Finding(
        Level.CHECK,
        photo.name,
        f"The sheet of {sheet} was not found in it; it was not used.",
        "Have the whole sheet in the picture, sharp and evenly lit.",
    )
