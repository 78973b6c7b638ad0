"""A picture as it was taken: pixels the right way up, and what the file says about the camera."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["Photo"]


@dataclass(frozen=True)
class Photo:
    """One picture, EXIF orientation already applied.

    Attributes:
        name: The file's name, as a person would point at it.
        pixels: (height, width, 3) uint8, sRGB in the order red, green, blue.
        camera: Maker and model from EXIF, or None.
        focal_35mm: 35 mm equivalent focal length from EXIF in mm, or None.
        dpi: Resolution along x and y stated by the file, or None; only a scan's is believed.
    """

    name: str
    pixels: NDArray[np.uint8]
    camera: str | None = None
    focal_35mm: float | None = None
    dpi: tuple[float, float] | None = None

    @property
    def size(self) -> tuple[int, int]:
        """(width, height) in pixels."""
        return (self.pixels.shape[1], self.pixels.shape[0])
