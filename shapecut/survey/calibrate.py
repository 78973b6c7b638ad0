"""Calibrating a camera once from photographs of a printed sheet, with its uncertainty.

The adjustment is OpenCV's (Z. Zhang, "A flexible new technique for camera calibration", IEEE PAMI
22(11), 2000) with square pixels and the lens model of `view`.  The covariance is worked out here,
because the corners of one photograph do not err independently: the sheet is never quite flat, and
the light pulls them the same way.  So the photographs, not the corners, count as the independent
observations (K.-Y. Liang and S. Zeger, "Longitudinal data analysis using generalized linear
models", Biometrika 73, 1986).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.chessboard import SeenSheet
from shapecut.errors import SurveyError
from shapecut.findings import Finding, Level
from shapecut.survey.view import Camera

__all__ = ["Calibration", "calibrated"]

Array = NDArray[np.float64]

LEAST_PHOTOS = 4
"""Photographs of the sheet that the calibration needs; ten or more are good."""

WORST_FOCAL_U = 0.005
"""A focal length less sure than this fraction is no better than what photographs state."""

OUTLIER_RATIO = 3.0
OUTLIER_PX = 0.3
"""A photograph is left out when its corners miss by more than this many times the median and by
more than this many pixels."""


@dataclass(frozen=True)
class Calibration:
    """What the sheet says of a camera.

    Attributes:
        camera: The camera.
        covariance: (8, 8) of log focal length, principal point x and y (px), k1, k2, p1, p2, k3.
        used: Indices of the photographs used.
        residual_px: Root mean square residual per axis, pixels.
        findings: Photographs left out.
    """

    camera: Camera
    covariance: Array
    used: tuple[int, ...]
    residual_px: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class _Fit:
    """One adjustment: the camera, and of each photograph its residuals and derivatives."""

    camera: Camera
    residuals: tuple[Array, ...]
    by_camera: tuple[Array, ...]
    by_pose: tuple[Array, ...]

    @property
    def rms_px(self) -> Array:
        """(P,) root mean square residual per axis of each photograph."""
        return np.array([np.sqrt(np.mean(left**2)) for left in self.residuals])


def calibrated(
    seen: Sequence[SeenSheet], names: Sequence[str], size: tuple[int, int]
) -> Calibration:
    """Calibrate a camera.

    Args:
        seen: The sheet in each photograph, all taken with one camera, zoom and size.
        names: The photographs' names.
        size: (width, height) of the pictures in pixels.

    Raises:
        SurveyError: If there are too few photographs, or they leave the focal length unsure.
    """
    used = list(range(len(seen)))
    findings: list[Finding] = []
    while True:
        _refuse_too_few(len(used))
        fit = _fitted([seen[k] for k in used], size)
        worst = int(fit.rms_px.argmax())
        limit = max(OUTLIER_PX, OUTLIER_RATIO * float(np.median(fit.rms_px)))
        if fit.rms_px[worst] <= limit:
            break
        findings.append(_left_out(names[used.pop(worst)], float(fit.rms_px[worst]), limit))
    covariance = _covariance(fit)
    focal_u = float(np.sqrt(covariance[0, 0]))
    if focal_u > WORST_FOCAL_U:
        raise SurveyError(
            f"These photographs tell the focal length only to within {focal_u:.1%}: photograph the "
            "sheet from more sides, tilted 30 to 45 degrees, so that it fills the picture."
        )
    residual = float(np.sqrt(np.mean(np.concatenate(fit.residuals) ** 2)))
    return Calibration(fit.camera, covariance, tuple(used), residual, tuple(findings))


def _refuse_too_few(count: int) -> None:
    if count < LEAST_PHOTOS:
        raise SurveyError(
            f"Only {count} photographs show the sheet well, and at least {LEAST_PHOTOS} are "
            "needed: take ten or so, from all sides, tilted 30 to 45 degrees."
        )


def _fitted(seen: Sequence[SeenSheet], size: tuple[int, int]) -> _Fit:
    """OpenCV's adjustment, and its derivatives."""
    spatial = [
        np.column_stack([sheet.mm, np.zeros(len(sheet.mm))]).astype(np.float32) for sheet in seen
    ]
    flat = [sheet.px.astype(np.float32) for sheet in seen]
    _, matrix, lens, turns, shifts = cv2.calibrateCamera(
        spatial,
        flat,
        size,
        np.eye(3),
        np.zeros(5),
        flags=cv2.CALIB_FIX_ASPECT_RATIO,
    )
    k1, k2, p1, p2, k3 = map(float, np.ravel(lens)[:5])
    camera = Camera(
        size,
        float(matrix[0, 0]),
        (float(matrix[0, 2]), float(matrix[1, 2])),
        (k1, k2, p1, p2, k3),
    )
    residuals, by_camera, by_pose = [], [], []
    for sheet, points, turn, shift in zip(seen, spatial, turns, shifts, strict=True):
        px, jacobian = cv2.projectPoints(points, turn, shift, matrix, np.array(camera.distortion))
        # OpenCV's columns: turn 3, shift 3, focal x and y, centre x and y, k1, k2, p1, p2, k3.
        log_focal = (jacobian[:, 6] + jacobian[:, 7]) * camera.focal_px
        residuals.append(np.asarray(sheet.px - px.reshape(-1, 2), dtype=np.float64).ravel())
        by_camera.append(np.asarray(np.column_stack([log_focal, jacobian[:, 8:15]]), float))
        by_pose.append(np.asarray(jacobian[:, :6], float))
    return _Fit(camera, tuple(residuals), tuple(by_camera), tuple(by_pose))


def _covariance(fit: _Fit) -> Array:
    """The camera's covariance (8, 8), its poses eliminated.

    Its correlations are those of independent corners.  Each standard uncertainty is what the
    scatter from photograph to photograph asks for in its own direction, but not less than that
    scatter asks for on the mean of all eight, nor than independent corners do: from ten
    photographs a single direction's scatter is itself known only to a fourth or so.
    """
    normal, scores = np.zeros((8, 8)), []
    for left, by_camera, by_pose in zip(fit.residuals, fit.by_camera, fit.by_pose, strict=True):
        free = by_camera - by_pose @ np.linalg.lstsq(by_pose, by_camera, rcond=None)[0]
        normal += free.T @ free
        scores.append(free.T @ left)
    count = len(scores)
    equations = sum(len(left) for left in fit.residuals)
    unknowns = normal.shape[0] + 6 * count
    independent = sum(float(left @ left) for left in fit.residuals) / (equations - unknowns)
    between = np.array(scores).T @ np.array(scores) * count / (count - 1)
    inverse = np.linalg.inv(normal)
    clustered = np.diag(inverse @ between @ inverse) / np.diag(inverse)
    on_the_mean = float(np.trace(inverse @ between)) / len(inverse)
    widened = np.sqrt(np.maximum(clustered, max(independent, on_the_mean)))
    return np.asarray(inverse * np.outer(widened, widened))


def _left_out(name: str, rms_px: float, limit_px: float) -> Finding:
    return Finding(
        Level.CHECK,
        name,
        f"Its corners miss by {rms_px:.2f} pixels, where up to {limit_px:.2f} go with the other "
        "photographs; it was not used.",
        "See whether the sheet was bent, moving, or partly hidden.",
    )
