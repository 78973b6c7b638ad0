"""How far a set of like unknowns spreads, by what the observations say of them.

Unknowns h that are drawn from one normal distribution about zero, whose standard deviation s nobody
knows: with every other unknown eliminated the observations say of them the normal matrix L and the
right-hand side b, so that the logarithm of the marginal likelihood is

    -1/2 log |I + s² L| + 1/2 bᵀ (L + I / s²)⁻¹ b

(restricted maximum likelihood: H. D. Patterson and R. Thompson, "Recovery of inter-block
information when block sizes are unequal", Biometrika 58, 1971).  Beforehand s follows
Student's distribution, folded: that leaves room for none at all, and for far more than supposed (A.
Gelman, "Prior distributions for variance parameters in hierarchical models", Bayesian Analysis 1,
2006).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Evidence"]

Array = NDArray[np.float64]

TAIL = 4
"""Degrees of freedom of s beforehand."""

TRIED = np.geomspace(0.01, 10.0, 70)
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

    def spread(self, supposed: float, *, absent: float = 0.0) -> float:
        """Root mean square of s over its distribution, given the observations.

        Args:
            supposed: Root mean square of s beforehand, where there is any.
            absent: Probability beforehand that there is none, s = 0.
        """
        tried = supposed * TRIED
        squares = tried[:, None] ** 2
        gain = 1 + squares * self.weight
        log = 0.5 * np.sum(self.pull**2 * squares / gain - np.log(gain), axis=1)
        # Of Student's distribution with this scale the root mean square is the supposed one.
        scale = supposed * math.sqrt((TAIL - 2) / TAIL)
        before = np.log(tried) - (TAIL + 1) / 2 * np.log1p((tried / scale) ** 2 / TAIL)
        log += before
        present = math.log(float(np.sum(np.exp(before))))
        most = max(0.0, float(log.max()) - present)
        density = (1 - absent) * np.exp(log - present - most)
        return math.sqrt(float(density @ tried**2 / (density.sum() + absent * math.exp(-most))))
