"""Projection into a photograph with what its pixels depend on.

Columns of a camera: log focal length, principal point x and y (pixels), k1, k2, p1, p2, k3; of a
pose: a small turn in the camera frame (radians), then the translation (mm).

Formulas: collinearity with Brown distortion as in `view`; derivatives by hand.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.survey.view import Camera

__all__ = ["CAMERA_COLUMNS", "POSE_COLUMNS", "Projection", "cross_matrices", "projected"]

Array = NDArray[np.float64]

CAMERA_COLUMNS = 8
POSE_COLUMNS = 6


@dataclass(frozen=True)
class Projection:
    """Plane points in a picture and what their pixels depend on.

    Attributes:
        px: (N, 2) pixels.
        by_camera: (N, 2, 8) derivatives by the camera's columns.
        by_pose: (N, 2, 6) derivatives by the photograph's columns.
        by_point: (N, 2, 3) derivatives by the point itself, pixels per mm.
    """

    px: Array
    by_camera: Array
    by_pose: Array
    by_point: Array

    @property
    def by_plane(self) -> Array:
        """(N, 2, 2) derivatives by the point's place in the plane, pixels per mm."""
        return self.by_point[:, :, :2]


def projected(camera: Camera, rotation: Array, translation: Array, points: Array) -> Projection:
    """Project (N, 2) plane points at z = 0, or (N, 3) points above it, with all derivatives."""
    turned = points @ rotation[:, : points.shape[1]].T
    seen = turned + translation
    depth = seen[:, 2]
    x, y = (seen[:, :2] / depth[:, None]).T
    rays, r2 = np.column_stack([x, y]), x * x + y * y
    bent = camera.distorted(rays) * camera.focal_px
    by_ray = camera.distorted_by_ray(rays) * camera.focal_px

    ray_by_seen = np.zeros((len(points), 2, 3))
    ray_by_seen[:, 0, 0] = ray_by_seen[:, 1, 1] = 1 / depth
    ray_by_seen[:, 0, 2], ray_by_seen[:, 1, 2] = -x / depth, -y / depth
    by_seen = by_ray @ ray_by_seen

    by_camera = np.zeros((len(points), 2, CAMERA_COLUMNS))
    by_camera[:, :, 0] = bent
    by_camera[:, 0, 1] = by_camera[:, 1, 2] = 1
    for column, factor in ((3, r2), (4, r2 * r2), (7, r2 * r2 * r2)):
        by_camera[:, 0, column], by_camera[:, 1, column] = x * factor, y * factor
    by_camera[:, 0, 5], by_camera[:, 1, 5] = 2 * x * y, r2 + 2 * y * y
    by_camera[:, 0, 6], by_camera[:, 1, 6] = r2 + 2 * x * x, 2 * x * y
    by_camera[:, :, 3:] *= camera.focal_px

    return Projection(
        px=bent + np.array(camera.centre_px),
        by_camera=by_camera,
        by_pose=np.concatenate([-by_seen @ cross_matrices(turned), by_seen], axis=2),
        by_point=by_seen @ rotation,
    )


def cross_matrices(vectors: Array) -> Array:
    """(N, 3, 3) matrices that take the cross product with (N, 3) vectors from the left."""
    matrices = np.zeros((len(vectors), 3, 3))
    x, y, z = vectors.T
    matrices[:, 0, 1], matrices[:, 0, 2], matrices[:, 1, 2] = -z, y, -x
    matrices[:, 1, 0], matrices[:, 2, 0], matrices[:, 2, 1] = z, -y, x
    return matrices
