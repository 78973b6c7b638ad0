"""Least squares over a network: what the corners and the priors together say.

Gauss-Newton with Marquardt's damping (D. W. Marquardt, J. SIAM 11(2), 1963).  Weights come from the
stated uncertainties, so the sum of squares is a chi-square with as many degrees of freedom as there
are more equations than unknowns.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.survey.network import CornerSightings, Network

__all__ = ["CameraPrior", "Solution", "least_squares"]

Array = NDArray[np.float64]

MOST_STEPS = 60
"""Steps after which the solution is taken as it is; from a fair start it takes five to ten."""

SETTLED = 1e-10
"""A step that lowers the sum of squares by less than this fraction ends the search."""


@dataclass(frozen=True)
class CameraPrior:
    """What is known of a camera before the marks are looked at.

    Attributes:
        mean: (7,) values of the camera's columns (see `network`).
        u: (7,) their standard uncertainties.
    """

    mean: Array
    u: Array


@dataclass(frozen=True)
class Solution:
    """The network that fits best.

    Attributes:
        network: As adjusted.
        residuals: (N, 2) measured less predicted, pixels.
        jacobian: (2 N, columns) of the predicted pixels over their uncertainty.
        covariance: (columns, columns) by the stated uncertainties; zero for the datum.
        chi2: Sum of squares of all equations, each over its uncertainty.
        freedom: Equations less unknowns.
    """

    network: Network
    residuals: Array
    jacobian: Array
    covariance: Array
    chi2: float
    freedom: int

    @property
    def variance_factor(self) -> float:
        """Chi-square per degree of freedom; about 1 if the stated uncertainties are right."""
        return self.chi2 / max(self.freedom, 1)

    @property
    def residual_px(self) -> float:
        """Root mean square residual per axis, pixels."""
        return float(np.sqrt(np.mean(self.residuals**2)))


@dataclass(frozen=True)
class _Equations:
    """All equations at one network: squares, normal equations, and the corners' part."""

    chi2: float
    normal: Array
    right: Array
    residuals: Array
    jacobian: Array


def least_squares(
    network: Network, corners: CornerSightings, priors: Sequence[CameraPrior]
) -> Solution:
    """Adjust a network to the corners seen and to what is known of its cameras.

    Args:
        network: The start; a few per cent off is near enough.
        corners: What was measured; every photograph and card of the network occurs in it.
        priors: One for each camera of the network.
    """
    free = network.free
    now = _equations(network, corners, priors)
    damping = 1e-4
    for _ in range(MOST_STEPS):
        normal = now.normal[np.ix_(free, free)]
        step = np.zeros(network.columns)
        damped = normal + damping * np.diag(np.diag(normal))
        step[free] = np.linalg.solve(damped, now.right[free])
        moved = network.moved(step)
        tried = _equations(moved, corners, priors)
        if tried.chi2 < now.chi2:
            settled = now.chi2 - tried.chi2 < SETTLED * now.chi2
            network, now, damping = moved, tried, damping / 10
            if settled:
                break
        elif damping > 1e8:
            break
        else:
            damping *= 10
    covariance = np.zeros((network.columns, network.columns))
    covariance[np.ix_(free, free)] = np.linalg.inv(now.normal[np.ix_(free, free)])
    equations = 2 * len(corners.px) + sum(len(prior.mean) for prior in priors)
    return Solution(
        network,
        now.residuals,
        now.jacobian,
        covariance,
        now.chi2,
        equations - int(np.count_nonzero(free)),
    )


def _equations(
    network: Network, corners: CornerSightings, priors: Sequence[CameraPrior]
) -> _Equations:
    """Weigh the corners and the priors together; a point behind a camera costs infinitely."""
    px, by_column = network.predicted(corners)
    residuals = corners.px - px
    jacobian = (by_column / corners.u_px[:, None, None]).reshape(-1, network.columns)
    off = (residuals / corners.u_px[:, None]).ravel()
    chi2 = float(off @ off)
    normal, right = jacobian.T @ jacobian, jacobian.T @ off
    for k, prior in enumerate(priors):
        columns = network.camera_columns(k)
        missing = (prior.mean - network.camera_vector(k)) / prior.u
        chi2 += float(missing @ missing)
        normal[columns, columns] += np.diag(prior.u**-2.0)
        right[columns] += missing / prior.u
    points, _ = network.plane_points(corners)
    depth = np.sum(network.rotations[corners.photo, 2, :2] * points, axis=1)
    if (depth + network.translations[corners.photo, 2]).min() <= 0 or not np.isfinite(chi2):
        chi2 = float("inf")
    return _Equations(chi2, normal, right, residuals, jacobian)
