"""How sure the measured plane is, scale aside (JCGM 100:2008, 5.1: propagation of uncertainty)."""

import numpy as np
from numpy.typing import NDArray

from shapecut.survey.least_squares import Solution
from shapecut.survey.network import CornerSightings, Network, projected

__all__ = ["point_u_mm"]

Array = NDArray[np.float64]

GRID = 6
"""Points along each side of the grid over the cards at which the uncertainty is worked out."""


def point_u_mm(solution: Solution, corners: CornerSightings) -> float:
    """Standard uncertainty per axis of plane points that are measured in a photograph.

    A point marked without error in a photograph comes to the plane with the errors of the camera
    and of the pose.  These are carried to a grid over the cards; what is a mere shift or turn of
    the whole grid is taken out, since it moves the outline but does not change it; the rest is
    averaged over the grid and over the photographs.

    Returns:
        Root mean square standard uncertainty per axis, mm; the stated uncertainties of the marks
        are widened by the variance factor where the residuals are larger than they allow.
    """
    network = solution.network
    plane, _ = network.plane_points(corners)
    grid = _grid_over(plane)
    rigid = _rigid_motions(grid)
    shape = np.eye(rigid.shape[0]) - rigid @ np.linalg.pinv(rigid)
    variances = []
    for photo in range(len(network.rotations)):
        moving = shape @ _moved_by(network, photo, grid)
        variances.append(np.trace(moving @ solution.covariance @ moving.T) / moving.shape[0])
    return float(np.sqrt(np.mean(variances) * max(1.0, solution.variance_factor)))


def _grid_over(plane: Array) -> Array:
    """(GRID², 2) points over the bounding box of plane points."""
    (x0, y0), (x1, y1) = plane.min(axis=0), plane.max(axis=0)
    x, y = np.meshgrid(np.linspace(x0, x1, GRID), np.linspace(y0, y1, GRID))
    return np.column_stack([x.ravel(), y.ravel()])


def _rigid_motions(grid: Array) -> Array:
    """(2 N, 3) displacements of the grid under shifts in x and y and a turn about its middle."""
    motions = np.zeros((len(grid), 2, 3))
    motions[:, 0, 0] = motions[:, 1, 1] = 1
    arm = grid - grid.mean(axis=0)
    motions[:, 0, 2], motions[:, 1, 2] = -arm[:, 1], arm[:, 0]
    return motions.reshape(-1, 3)


def _moved_by(network: Network, photo: int, grid: Array) -> Array:
    """(2 N, columns): how errors of the unknowns move plane points of given pixels."""
    camera = network.camera_of[photo]
    seen = projected(
        network.cameras[camera], network.rotations[photo], network.translations[photo], grid
    )
    moved = np.zeros((len(grid), 2, network.columns))
    moved[:, :, network.camera_columns(camera)] = -np.linalg.solve(seen.by_plane, seen.by_camera)
    moved[:, :, network.pose_columns(photo)] = -np.linalg.solve(seen.by_plane, seen.by_pose)
    return moved.reshape(-1, network.columns)
