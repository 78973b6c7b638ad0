"""Lengths in whole steps of a grid, as the solvers reckon them."""

import math

__all__ = ["steps_down", "steps_up"]

GRID_MM = 0.01
"""Step of the lengths that plans are made with; far below what a saw keeps."""

_SAME_STEP = 1e-6
"""A length this part of a grid step beyond a grid line lies on it: floats are not exact."""


def steps_up(length_mm: float) -> int:
    """A length in steps of the grid, rounded up."""
    return math.ceil(length_mm / GRID_MM - _SAME_STEP)


def steps_down(length_mm: float) -> int:
    """A length in steps of the grid, rounded down."""
    return math.floor(length_mm / GRID_MM + _SAME_STEP)
