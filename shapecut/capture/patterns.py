"""The black and white cells of a mark, as OpenCV draws and reads them."""

from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.dictionaries import find_dictionary

__all__ = ["mark_cells", "opencv_dictionary"]


@lru_cache
def opencv_dictionary(name: str) -> cv2.aruco.Dictionary:
    """OpenCV's dictionary object for a plain name (see `find_dictionary`).

    Raises:
        CaptureError: If there is no dictionary of that name.
    """
    constant = getattr(cv2.aruco, find_dictionary(name).opencv)
    return cv2.aruco.getPredefinedDictionary(constant)


def mark_cells(name: str, number: int) -> NDArray[np.bool_]:
    """The cells of one mark, its border of one black cell included.

    OpenCV's plain detection (any corner refinement but `CORNER_REFINE_APRILTAG`) lists a mark's
    corners in the order top-left, top-right, bottom-right, bottom-left of this pattern.

    Args:
        name: Plain name of the dictionary.
        number: The mark's number in it, from 0.

    Returns:
        (N, N) bool, True where black, row 0 at the top as printed upright, column 0 at the left.
        The side of the printed mark is N cells.

    Raises:
        CaptureError: If there is no dictionary of that name.
    """
    dictionary = opencv_dictionary(name)
    cells = dictionary.markerSize + 2
    return np.asarray(dictionary.generateImageMarker(number, cells) == 0)
