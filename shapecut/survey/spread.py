"""How far a set of like unknowns spreads, by what the observations say of them.

Unknowns h that are drawn from one normal distribution about zero, whose standard deviation s nobody
knows: with every other unknown eliminated the observations say of them the normal matrix L and the
right-hand side b, so that the logarithm of the marginal likelihood is

    -1/2 log |I + s² L| + 1/2 bᵀ (L + I / s²)⁻¹ b

(restricted maximum likelihood: H. D. Patterson and R. Thompson, "Recovery of inter-block
information when block sizes are unequal", Biometrika 58, 1971).  Beforehand s is half-normal: that
leaves room for none at all, where a supposed number of pseudo-observations would not (A. Gelman,
"Prior distributions for variance parameters in hierarchical models", Bayesian Analysis 1, 2006).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Evidence"]

Array = NDArray[np.float64]

TRIED = np.geomspace(0.01, 4.0, 60)
"""Standard deviations at which the distribution is summed, as multiples of the supposed one."""


@dataclass(frozen=True)
class Evidence:
    """What the observations say of some like unknowns, along directions that they do not mix.

    Attributes:
        weight: (K,) eigenvalues of the normal matrix L.
        pull: (K,) the right-hand side b along its eigenvectors.
    """

    weight: Array
    pull: Array

    @classmethod
    def of(cls, normal: Array, right: Array) -> "Evidence":
        """From the normal matrix (K, K), the others eliminated, and the right-hand side (K,)."""
        weight, directions = np.linalg.eigh((normal + normal.T) / 2)
        return cls(np.maximum(weight, 0.0), right @ directions)

    def given_noise(self, variance_factor: float) -> "Evidence":
        """The same where the observations' variances are this many times as large as stated."""
        return Evidence(self.weight / variance_factor, self.pull / variance_factor)

    def explained(self, spread: float) -> tuple[float, float]:
        """By how much the unknowns, spread like this, lower the chi-square, and how many they are.

        Returns:
            The fall of the chi-square, and the number of unknowns that the observations determine.
        """
        if spread == 0:
            return 0.0, 0.0
        held = self.weight + spread**-2
        return float(np.sum(self.pull**2 / held)), float(np.sum(self.weight / held))

    def spread(self, supposed: float) -> float:
        """Root mean square of s over its distribution, given the observations.

        Args:
            supposed: Root mean square of s beforehand.
        """
        tried = supposed * TRIED
        squares = tried[:, None] ** 2
        gain = 1 + squares * self.weight
        log = 0.5 * np.sum(self.pull**2 * squares / gain - np.log(gain), axis=1)
        log += np.log(tried) - tried**2 / (2 * supposed**2)
        density = np.exp(log - log.max())
        return math.sqrt(float(density @ tried**2 / density.sum()))
