"""Between a picture as the sensor delivered it and the same picture turned upright.

A phone writes the sensor's picture and, in EXIF, how it was held; reading turns the picture.  A
camera belongs to the sensor: its principal point and its tangential distortion turn with the
picture (Exif 2.32, tag Orientation; JEITA CP-3451X).
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shapecut.survey.view import Camera

__all__ = ["camera_turn", "sensor_px", "sensor_size", "upright_camera"]

Array = NDArray[np.float64]

_TURNS: dict[int, tuple[tuple[int, int], tuple[int, int]]] = {
    1: ((1, 0), (0, 1)),
    2: ((-1, 0), (0, 1)),
    3: ((-1, 0), (0, -1)),
    4: ((1, 0), (0, -1)),
    5: ((0, 1), (1, 0)),
    6: ((0, -1), (1, 0)),
    7: ((0, -1), (-1, 0)),
    8: ((0, 1), (-1, 0)),
}
"""By EXIF orientation: upright offsets from the picture's middle, from the sensor's."""


def sensor_size(size: tuple[int, int], orientation: int) -> tuple[int, int]:
    """(width, height) on the sensor of a picture with an upright size; and the other way."""
    return size if orientation < 5 else (size[1], size[0])


def sensor_px(px: Array, size: tuple[int, int], orientation: int) -> Array:
    """(N, 2) pixels of the sensor's picture, of pixels in the upright one.

    Args:
        px: (N, 2) pixels in the upright picture.
        size: (width, height) of the upright picture.
        orientation: EXIF's, 1 to 8.
    """
    offsets = px - _middle(size)
    return np.asarray(
        offsets @ np.array(_TURNS[orientation]) + _middle(sensor_size(size, orientation))
    )


def upright_camera(camera: Camera, orientation: int) -> Camera:
    """The camera as the upright picture shows it, of the camera of the sensor's picture."""
    turn, size = np.array(_TURNS[orientation]), sensor_size(camera.size, orientation)
    x, y = _middle(size) + turn @ (np.array(camera.centre_px) - _middle(camera.size))
    k1, k2, p1, p2, k3 = camera.distortion
    q2, q1 = turn @ (p2, p1)
    lens = (k1, k2, float(q1), float(q2), k3)
    return replace(camera, size=size, centre_px=(float(x), float(y)), distortion=lens)


def camera_turn(orientation: int) -> Array:
    """(8, 8): changes of the upright camera's columns (see `network`), of the sensor's camera's."""
    turn = np.array(_TURNS[orientation])
    change = np.eye(8)
    change[1:3, 1:3] = turn
    change[5:7, 5:7] = turn[::-1, ::-1]
    return change


def _middle(size: tuple[int, int]) -> Array:
    return (np.array(size) - 1) / 2
