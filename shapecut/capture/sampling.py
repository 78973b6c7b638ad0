"""Brightness between the pixels."""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = ["bilinear"]

Brightness = TypeVar("Brightness", np.uint8, np.float32)


def bilinear(
    grey: NDArray[Brightness], x: NDArray[np.float64], y: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Brightness at sub-pixel places of one shape; places off the picture take its border's."""
    height, width = grey.shape
    x, y = np.clip(x, 0, width - 1.001), np.clip(y, 0, height - 1.001)
    column, row = x.astype(np.intp), y.astype(np.intp)
    right, down = x - column, y - row
    flat, first = grey.ravel(), row * width + column
    upper = flat[first] * (1 - right) + flat[first + 1] * right
    lower = flat[first + width] * (1 - right) + flat[first + width + 1] * right
    return np.asarray(upper * (1 - down) + lower * down, dtype=np.float64)
