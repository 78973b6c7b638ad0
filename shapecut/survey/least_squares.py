"""Least squares over a network: what the corners, the tapes and the priors together say.

Gauss-Newton with Marquardt's damping (D. W. Marquardt, J. SIAM 11(2), 1963).  Weights come from the
stated uncertainties, so the sum of squares is a chi-square with as many degrees of freedom as there
are more equations than unknowns.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.survey.network import CornerSightings, Network
from shapecut.survey.projection import CAMERA_COLUMNS

__all__ = ["CameraPrior", "Known", "Solution", "TapedPair", "least_squares", "taped_distance"]

Array = NDArray[np.float64]

MOST_STEPS = 60
"""Steps after which the solution is taken as it is; from a fair start it takes five to ten."""

SETTLED = 1e-4
"""The search ends when the next step is foretold to lower the sum of squares by less than this: it
would move no unknown by more than a hundredth of its standard uncertainty."""


@dataclass(frozen=True)
class CameraPrior:
    """What is known of a camera before the marks are looked at.

    Attributes:
        mean: (8,) values of the camera's columns (see `network`).
        covariance: (8, 8) of them.
        name: Of the file it comes from; None when the photographs themselves state it.
    """

    mean: Array
    covariance: Array
    name: str | None = None

    @property
    def u(self) -> Array:
        """(8,) standard uncertainties."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def whitening(self) -> Array:
        """(8, 8) matrix that makes independent values of standard deviation 1 of them."""
        return np.linalg.inv(np.linalg.cholesky(self.covariance))


@dataclass(frozen=True)
class TapedPair:
    """A distance taped between the middles of two cards.

    Attributes:
        start: Index of one card in the network.
        end: Index of the other.
        length_mm: As taped.
        u_mm: Its standard uncertainty.
    """

    start: int
    end: int
    length_mm: float
    u_mm: float


@dataclass(frozen=True)
class Known:
    """What is known besides the corners.

    Attributes:
        cameras: One for each camera of the network.
        print_u: Standard uncertainty of the print's scale and stretch about zero, as fractions.
        height_u_mm: Standard uncertainty of a card's height about the plane.
        tapes: Distances taped between cards.
    """

    cameras: tuple[CameraPrior, ...]
    print_u: tuple[float, float]
    height_u_mm: float
    tapes: tuple[TapedPair, ...] = ()


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

    count: int
    chi2: float
    normal: Array
    right: Array
    residuals: Array
    jacobian: Array


def least_squares(
    network: Network, corners: CornerSightings, known: Known, *, settled: float = SETTLED
) -> Solution:
    """Adjust a network to the corners seen and to what is known besides.

    Args:
        network: The start; a few per cent off is near enough.
        corners: What was measured; every photograph and card of the network occurs in it.
        known: Of its cameras, its print, its cards and the distances between them.
        settled: The search ends when a step is foretold to lower the sum of squares by less.
    """
    free = network.free
    now = _equations(network, corners, known)
    damping = 1e-4
    for _ in range(MOST_STEPS):
        normal = now.normal[np.ix_(free, free)]
        step = np.zeros(network.columns)
        damped = normal + damping * np.diag(np.diag(normal))
        step[free] = np.linalg.solve(damped, now.right[free])
        if float(step @ now.right) < settled:
            break
        moved = network.moved(step)
        tried = _equations(moved, corners, known)
        if tried.chi2 < now.chi2:
            network, now, damping = moved, tried, damping / 10
        elif damping > 1e8:
            break
        else:
            damping *= 10
    covariance = np.zeros((network.columns, network.columns))
    covariance[np.ix_(free, free)] = np.linalg.inv(now.normal[np.ix_(free, free)])
    return Solution(
        network,
        now.residuals,
        now.jacobian,
        covariance,
        now.chi2,
        now.count - int(np.count_nonzero(free)),
    )


def _equations(network: Network, corners: CornerSightings, known: Known) -> _Equations:
    """Weigh everything together; a point behind a camera costs infinitely."""
    px, by_column = network.predicted(corners)
    residuals = corners.px - px
    jacobian = (by_column / corners.u_px[:, None, None]).reshape(-1, network.columns)
    off = (residuals / corners.u_px[:, None]).ravel()
    stated = _stated(network, known)
    chi2 = float(off @ off + stated.off @ stated.off)
    normal = jacobian.T @ jacobian + stated.jacobian.T @ stated.jacobian
    right = jacobian.T @ off + stated.jacobian.T @ stated.off
    points = network.plane_points(corners)
    depth = np.sum(network.rotations[corners.photo, 2, :2] * points, axis=1)
    if (depth + network.translations[corners.photo, 2]).min() <= 0 or not np.isfinite(chi2):
        chi2 = float("inf")
    return _Equations(len(off) + len(stated.off), chi2, normal, right, residuals, jacobian)


@dataclass(frozen=True)
class _Stated:
    """The equations of what is known besides the corners, each over its uncertainty."""

    off: Array
    jacobian: Array


def _stated(network: Network, known: Known) -> _Stated:
    """Stated less present value, and the present value's derivatives."""
    rows, off = [], []
    for k, prior in enumerate(known.cameras):
        whitened = np.zeros((CAMERA_COLUMNS, network.columns))
        whitened[:, network.camera_columns(k)] = prior.whitening
        rows.append(whitened)
        off.append(prior.whitening @ (prior.mean - network.camera_vector(k)))
    values = np.concatenate([network.print_scale, network.heights])
    u = np.concatenate([known.print_u, np.full(len(network.heights), known.height_u_mm)])
    columns = np.r_[network.print_columns, network.height_columns]
    single = np.zeros((len(columns), network.columns))
    single[np.arange(len(columns)), columns] = 1 / u
    rows.append(single)
    off.append(-values / u)
    for pair in known.tapes:
        length, row = taped_distance(network, pair)
        rows.append(row[None] / pair.u_mm)
        off.append(np.array([(pair.length_mm - length) / pair.u_mm]))
    return _Stated(np.concatenate(off), np.concatenate(rows))


def taped_distance(network: Network, pair: TapedPair) -> tuple[float, Array]:
    """The present distance between two cards' middles, and its (columns,) derivatives."""
    along = network.placements[pair.end, :2] - network.placements[pair.start, :2]
    length = float(np.linalg.norm(along))
    row = np.zeros(network.columns)
    for card, sign in ((pair.start, -1), (pair.end, 1)):
        first = network.card_columns(card).start
        row[first : first + 2] = sign * along / length
    return length, row
