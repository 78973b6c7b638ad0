"""From an adjustment's covariance to the precision of the plane."""

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.survey.least_squares import Solution
from shapecut.survey.lens_field import LensField
from shapecut.survey.network import CARD_COLUMNS, CornerSightings, Network
from shapecut.survey.precision import PhotoErrors, Precision
from shapecut.survey.projection import projected
from shapecut.survey.unmodelled import Unmodelled
from shapecut.survey.view import View

__all__ = ["plane_precision", "point_u_mm"]

Array = NDArray[np.float64]

GRID = 6
"""Points along each side of the grid among the cards at which the uncertainty is worked out."""


def plane_precision(solution: Solution, corners: CornerSightings, lacking: Unmodelled) -> Precision:
    """The precision of an adjusted plane, in the frame of the solution's network.

    Where the residuals are larger than the stated uncertainties of the marks allow, the causes are
    widened by the variance factor (the print's scale is not), and each point may be off by itself
    as far as the marks are: lens and floor are not as modelled, and nobody measured there.  Smooth
    displacements over the picture are further causes: they moved the marks, and with them all that
    was adjusted to these, and they move what is measured.
    """
    network = solution.network
    plane = network.plane_points(corners)
    middle = plane.mean(axis=0)
    causes, relative_u = _scale_aside(solution)
    bent = solution.covariance @ lacking.pull * lacking.lens_px
    causes = np.concatenate([causes * math.sqrt(lacking.variance_factor), bent], axis=1)
    frame = _frame_motion(network, corners, middle) @ causes
    views = []
    for photo, camera in enumerate(network.camera_of):
        pose = causes[network.pose_columns(photo)] + _pose_by_frame(network, photo, middle) @ frame
        by_cause = np.concatenate([causes[network.camera_columns(camera)], pose])
        bumps = _bumps_by_cause(network, camera, causes.shape[1]) * lacking.lens_px
        views.append(PhotoErrors(network.view(photo), by_cause, bumps))
    return Precision(
        tuple(views),
        relative_u,
        (float(middle[0]), float(middle[1])),
        lacking.noise_px * _mm_per_px(network, middle),
    )


def _bumps_by_cause(network: Network, camera: int, causes: int) -> Array:
    """(bumps, causes): the bumps of a camera, which are among the last of all causes."""
    counts = [LensField(known.size).bumps for known in network.cameras]
    first = causes - sum(counts[camera:])
    return np.eye(counts[camera], causes, first)


def _mm_per_px(network: Network, middle: Array) -> float:
    """Millimetres of the plane to a pixel, over all photographs."""
    areas = [
        np.linalg.det(
            projected(
                network.cameras[camera],
                network.rotations[photo],
                network.translations[photo],
                middle[None],
            ).by_plane[0]
        )
        for photo, camera in enumerate(network.camera_of)
    ]
    return float(np.mean(np.abs(areas) ** -0.5))


def point_u_mm(precision: Precision, solution: Solution, corners: CornerSightings) -> float:
    """Standard uncertainty per axis of plane points that are measured in a photograph, scale aside.

    The errors are carried to a grid among the cards; what is a mere shift or turn of the whole grid
    is taken out, since it moves the outline but does not change it; the rest is averaged over the
    grid and over the photographs.

    Returns:
        Root mean square standard uncertainty per axis, mm.
    """
    plane = solution.network.plane_points(corners)
    grid = _grid_over(plane)
    rigid = _rigid_motions(grid, grid.mean(axis=0))
    shape: Array = np.eye(rigid.shape[0]) - rigid @ np.linalg.pinv(rigid)
    squares = [
        np.mean(np.sum((shape @ _shape_factor(precision, errors.view, grid)) ** 2, axis=1))
        for errors in precision.views
    ]
    return float(np.sqrt(np.mean(squares)))


def _scale_aside(solution: Solution) -> tuple[Array, float]:
    """Independent causes (columns, causes) given the print's scale, and that scale's uncertainty.

    In Cholesky's factor with the scale first, the first column is what the scale moves, and all
    others are what is left when it is given.
    """
    network = solution.network
    scale = network.print_columns.start
    order = np.array([scale, *(k for k in np.flatnonzero(network.free) if k != scale)])
    root = np.linalg.cholesky(solution.covariance[np.ix_(order, order)])
    causes = np.zeros((network.columns, len(order) - 1))
    causes[order] = root[:, 1:]
    return causes, float(root[0, 0])


def _shape_factor(precision: Precision, view: View, grid: Array) -> Array:
    """(2 N, causes): the factor of grid points, scale left out."""
    return precision.given_scale.factor(view.photo, view.px_from_mm(grid))


def _frame_motion(network: Network, corners: CornerSightings, middle: Array) -> Array:
    """(3, columns): the shift and turn about the middle of all mark corners on the whole."""
    plane, by_card = network.plane_points(corners), network.plane_by_card(corners)
    moved = np.zeros((len(plane), 2, network.columns))
    rows = np.arange(len(plane))
    first = network.card_columns(0).start + CARD_COLUMNS * corners.card
    for k in range(3):
        moved[rows, :, first + k] = by_card[:, :, k]
    return np.asarray(
        np.linalg.pinv(_rigid_motions(plane, middle)) @ moved.reshape(-1, network.columns)
    )


def _pose_by_frame(network: Network, photo: int, middle: Array) -> Array:
    """(6, 3): how a pose changes when the plane's frame takes part in a shift and turn."""
    rotation = network.rotations[photo]
    change = np.zeros((6, 3))
    change[:3, 2] = rotation[:, 2]
    change[3:, :2] = rotation[:, :2]
    change[3:, 2] = -rotation @ np.array([-middle[1], middle[0], 0.0])
    return change


def _grid_over(plane: Array) -> Array:
    """(N, 2) points among plane points: those of a grid inside their hull, and its vertices.

    Outside the hull nothing holds the lens, and nobody measures there.
    """
    hull = cv2.convexHull(plane.astype(np.float32))
    (x0, y0), (x1, y1) = plane.min(axis=0), plane.max(axis=0)
    x, y = np.meshgrid(np.linspace(x0, x1, GRID), np.linspace(y0, y1, GRID))
    grid = np.column_stack([x.ravel(), y.ravel()])
    inside = [cv2.pointPolygonTest(hull, tuple(point), measureDist=False) > 0 for point in grid]
    return np.concatenate([grid[inside], hull[:, 0].astype(float)])


def _rigid_motions(points: Array, middle: Array) -> Array:
    """(2 N, 3) displacements of points under shifts in x and y and a turn about the middle."""
    motions = np.zeros((len(points), 2, 3))
    motions[:, 0, 0] = motions[:, 1, 1] = 1
    arm = points - middle
    motions[:, 0, 2], motions[:, 1, 2] = -arm[:, 1], arm[:, 0]
    return motions.reshape(-1, 3)
