"""Where a local frame lies in the template plane: a turn and a shift, never a scale or a mirror."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Placement", "Point"]

Point = tuple[float, float]
"""(x, y) in mm; x right, y up."""


@dataclass(frozen=True)
class Placement:
    """A rigid placement of a local frame: plane = origin + R(turn_rad) · local.

    Attributes:
        origin: The local frame's origin in the plane, mm.
        turn_rad: Counter-clockwise turn of the local x axis from the plane's x axis.
    """

    origin: Point = (0.0, 0.0)
    turn_rad: float = 0.0

    def to_plane(self, point: Point) -> Point:
        """Map one point from the local frame to the plane."""
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        x, y = point
        return (self.origin[0] + c * x - s * y, self.origin[1] + s * x + c * y)

    def to_local(self, point: Point) -> Point:
        """Map one point from the plane to the local frame; the inverse of `to_plane`."""
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        x, y = point[0] - self.origin[0], point[1] - self.origin[1]
        return (c * x + s * y, -s * x + c * y)

    def inverse(self) -> "Placement":
        """The placement of the plane in the local frame."""
        return Placement(self.to_local((0.0, 0.0)), -self.turn_rad)

    def after(self, inner: "Placement") -> "Placement":
        """The placement that maps first by `inner`, then by this one."""
        return Placement(self.to_plane(inner.origin), self.turn_rad + inner.turn_rad)

    def points_to_plane(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Map an (N, 2) array from the local frame to the plane."""
        c, s = math.cos(self.turn_rad), math.sin(self.turn_rad)
        return np.asarray(points @ np.array([[c, s], [-s, c]]) + np.array(self.origin))
