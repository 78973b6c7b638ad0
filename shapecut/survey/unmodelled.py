"""What the residuals of an adjustment hold beyond the stated uncertainties of the marks.

Two things: marks that err more than stated, each by itself, and displacements that neighbouring
marks of the picture have in common (see `lens_field`), which no count of marks averages out.  The
spread of the latter is estimated from the residuals, all unknowns of the adjustment eliminated.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.survey.chance import chi2_by_chance
from shapecut.survey.least_squares import Solution
from shapecut.survey.lens_field import LensField
from shapecut.survey.network import CornerSightings, Network
from shapecut.survey.spread import Evidence

__all__ = ["Unmodelled", "unmodelled"]

Array = NDArray[np.float64]

SUPPOSED_LENS_PX = 0.2
"""Root mean square displacement per axis that is supposed before the residuals are looked at: a
phone's lens follows such a model to a tenth or three of a pixel (from memory)."""

NO_LENS = 0.5
"""Probability beforehand that there are none at all."""

ROUGHEST_LENS_PX = 0.5
"""Displacements of this spread explain whatever neighbours have in common; the rest is noise."""


@dataclass(frozen=True)
class Unmodelled:
    """What the model lacks.

    Attributes:
        lens_px: Standard deviation per axis of smooth displacements over the picture, pixels.
        variance_factor: Chi-square per degree of freedom without them, not below 1.
        noise_px: What single marks err beyond stated uncertainties and chance, per axis, pixels.
        pull: (columns, bumps of all cameras) of each bump on the right-hand side of the normal
            equations, that is, by the adjustment's covariance, on its unknowns.
    """

    lens_px: float
    variance_factor: float
    noise_px: float
    pull: Array


def unmodelled(solution: Solution, corners: CornerSightings) -> Unmodelled:
    """Estimate what the model lacks from an adjustment's residuals."""
    field = _displaced(solution.network, corners)
    over = (field / corners.u_px[:, None, None]).reshape(-1, field.shape[2])
    pull = solution.jacobian.T @ over
    normal = over.T @ over - pull.T @ (solution.covariance @ pull)
    left = (solution.residuals / corners.u_px[:, None]).ravel()
    evidence = Evidence.of(normal, over.T @ left)
    noise = max(1.0, _variance_factor(solution, evidence, ROUGHEST_LENS_PX)[0])
    lens_px = evidence.given_noise(noise).spread(SUPPOSED_LENS_PX, absent=NO_LENS)
    factor, freedom = _variance_factor(solution, evidence, lens_px)
    by_chance = factor * freedom <= chi2_by_chance(max(round(freedom), 1))
    stated = float(np.mean(corners.u_px**2))
    noise_px = 0.0 if by_chance else math.sqrt((factor - 1) * stated)
    return Unmodelled(lens_px, max(1.0, factor), noise_px, pull)


def _displaced(network: Network, corners: CornerSightings) -> Array:
    """(N, 2, bumps of all cameras) pixels by which each bump displaces the corners."""
    fields = [LensField(camera.size) for camera in network.cameras]
    camera_of = np.array(network.camera_of)[corners.photo]
    parts = []
    for camera, field in enumerate(fields):
        part = np.zeros((len(corners.px), 2, field.bumps))
        own = camera_of == camera
        part[own] = field.displacements(corners.px[own])
        parts.append(part)
    return np.concatenate(parts, axis=2)


def _variance_factor(solution: Solution, evidence: Evidence, lens_px: float) -> tuple[float, float]:
    """Chi-square per degree of freedom without smooth displacements of a spread, and the latter."""
    fall, determined = evidence.explained(lens_px)
    freedom = max(solution.freedom - determined, 1.0)
    return (solution.chi2 - fall) / freedom, freedom
