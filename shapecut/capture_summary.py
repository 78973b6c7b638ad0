"""What `camera` and `check` say: lines for whoever stands beside the sheet or the cards."""

from collections.abc import Iterator

import numpy as np

from shapecut.calibrating import CameraCalibrated
from shapecut.findings import finding_lines
from shapecut.papers.length_uncertainty import COVERAGE

__all__ = ["camera_lines"]


def camera_lines(made: CameraCalibrated) -> Iterator[str]:
    """Say what a calibration found and how sure."""
    camera, u = made.camera.camera, np.sqrt(np.diag(made.camera.covariance))
    yield f"photos   {len(made.basis.photos)} used, corners within {made.basis.residual_px:.2f} px"
    yield f"focal    {camera.focal_px:.1f} ± {COVERAGE * camera.focal_px * u[0]:.1f} px"
    (x, y), (_, x_u, y_u, *_) = camera.centre_px, COVERAGE * u
    yield f"centre   {x:.1f} ± {x_u:.1f}, {y:.1f} ± {y_u:.1f} px"
    k1, k2, *_ = camera.distortion
    yield f"lens     k1 {k1:.4f} ± {COVERAGE * u[3]:.4f}, k2 {k2:.4f} ± {COVERAGE * u[4]:.4f}"
    yield from finding_lines(made.findings)
