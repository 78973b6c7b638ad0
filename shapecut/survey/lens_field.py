"""Smooth displacements over a camera's pictures, beyond what its lens model can follow.

A field is a sum of bumps on a grid over the picture, one set along x and one along y, scaled so
that bumps of standard deviation 1 displace every pixel by a standard deviation of 1 along each
axis.  It is a low-rank stand-in for a normal process with a squared exponential covariance (C. E.
Rasmussen and C. K. I. Williams, "Gaussian Processes for Machine Learning", MIT Press 2006, 4.2 and
8.1).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["LensField"]

Array = NDArray[np.float64]

REACH = 0.08
"""Radius of a bump (its standard deviation) as a fraction of the picture's diagonal: what the lens
model lacks is of higher order than its own terms, and yet smooth over a card."""

SPACING = 1.5
"""Distance of neighbouring bumps over their radius; their sum is still without ripples."""


@dataclass(frozen=True)
class LensField:
    """The bumps over pictures of one size.

    Attributes:
        size: (width, height) of the pictures in pixels.
    """

    size: tuple[int, int]

    @property
    def bumps(self) -> int:
        """How many values make up a field: two for each bump."""
        return 2 * len(self._middles())

    def displacements(self, px: Array) -> Array:
        """(N, 2, bumps) pixels by which each bump displaces (N, 2) pixels."""
        off = (px[:, None] - self._middles()) / self._reach_px
        square = np.sum(off**2, axis=2)
        # From the nearest on, so that far outside the picture not all of them vanish.
        bumps = np.exp((np.min(square, axis=1, keepdims=True) - square) / 2)
        bumps /= np.linalg.norm(bumps, axis=1, keepdims=True)
        return np.concatenate([bumps[:, None] * side[:, None] for side in np.eye(2)], axis=2)

    @property
    def _reach_px(self) -> float:
        return REACH * math.hypot(*self.size)

    def _middles(self) -> Array:
        """(bumps / 2, 2) pixels."""
        apart = SPACING * self._reach_px
        along = [np.linspace(0, side - 1, max(2, 1 + round(side / apart))) for side in self.size]
        return np.stack(np.meshgrid(*along), axis=-1).reshape(-1, 2)
