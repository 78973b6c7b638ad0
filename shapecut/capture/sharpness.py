"""How blurred a picture is by its own sharpest edges, marks or no marks."""

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["BLURRED_PX", "edge_blur_px"]

BLURRED_PX = 2.0
"""Edges blurred by more than this standard deviation come from shake or missed focus; the lenses,
sensors and sharpening of phones leave 0.6 to 1.3."""


WINDOW_PX = 31
"""Contrast is the difference between the lightest and the darkest within this window."""

STRONGEST = 0.002
"""Share of the pixels, those of the greatest slope, that are taken for the picture's edges."""

OWN_VARIANCE = 1 + 1 / 3
"""What looking adds, pixels²: a smoothing of one pixel, and slopes taken over two."""


def edge_blur_px(grey: NDArray[np.uint8]) -> float:
    """Standard deviation of the blur across a picture's steepest edges, pixels.

    A step of height c blurred by a normal distribution of standard deviation s rises by at most
    c / (s √(2π)) a pixel.  Good to a third or so: enough to tell a blurred picture.

    Args:
        grey: (height, width) brightness.
    """
    smooth = cv2.GaussianBlur(grey, (0, 0), 1.0).astype(np.float32)
    slope = np.hypot(cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1)) / 8
    window = np.ones((WINDOW_PX, WINDOW_PX), np.uint8)
    contrast = cv2.dilate(smooth, window) - cv2.erode(smooth, window)
    steep = slope >= np.quantile(slope[::4, ::4], 1 - STRONGEST)
    spread = contrast[steep] / np.maximum(slope[steep], 1e-3) / np.sqrt(2 * np.pi)
    return float(np.sqrt(max(np.median(spread) ** 2 - OWN_VARIANCE, 0.0)))
