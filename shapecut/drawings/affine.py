"""Affine maps of the plane: what a drawing does to the coordinates of its parts."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.placement import Point

__all__ = ["Affine"]


@dataclass(frozen=True)
class Affine:
    """x' = a x + c y + e, y' = b x + d y + f; the six numbers of SVG's `matrix` in its order."""

    a: float = 1.0
    b: float = 0.0
    c: float = 0.0
    d: float = 1.0
    e: float = 0.0
    f: float = 0.0

    @staticmethod
    def scaling(x: float, y: float) -> "Affine":
        """Coordinates multiplied."""
        return Affine(a=x, d=y)

    @staticmethod
    def turning(angle_rad: float) -> "Affine":
        """The x axis turned towards the y axis."""
        c, s = math.cos(angle_rad), math.sin(angle_rad)
        return Affine(c, s, -s, c)

    @staticmethod
    def shifting(x: float, y: float) -> "Affine":
        """Coordinates added to."""
        return Affine(e=x, f=y)

    @property
    def determinant(self) -> float:
        """Areas grow by this; negative for mirror images."""
        return self.a * self.d - self.b * self.c

    def point(self, point: Point) -> Point:
        """A point mapped."""
        x, y = self.vector(point)
        return (x + self.e, y + self.f)

    def vector(self, vector: Point) -> Point:
        """A difference of two points mapped."""
        x, y = vector
        return (self.a * x + self.c * y, self.b * x + self.d * y)

    def points(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """(N, 2) points mapped."""
        return np.asarray(
            points @ np.array([[self.a, self.b], [self.c, self.d]]) + (self.e, self.f)
        )

    def after(self, inner: "Affine") -> "Affine":
        """The map that does first `inner`, then this one."""
        (a, b), (c, d) = self.vector((inner.a, inner.b)), self.vector((inner.c, inner.d))
        return Affine(a, b, c, d, *self.point((inner.e, inner.f)))
