"""Light across the boundary: profiles read from the original photograph along normals.

A profile is read in linear light from the photograph as it was taken (bilinear between its own
pixels), averaged over a few lanes side by side, and projected on the colour direction that best
separates template from floor just there (Fisher's discriminant), so that 1 is template and 0 is
floor.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.survey.view import View
from shapecut.trace.raster import Points
from shapecut.trace.stations import Stations

__all__ = ["Profiles", "linear_light", "read_profiles"]

Array = NDArray[np.float64]

_STEP_PX = 0.5
"""Distance between the places of a profile, pixels."""
_LANE_PX = 1.2
"""Distance between the lanes that are averaged, pixels."""
_MOST_LANES = 40
"""Lanes side by side, at most; farther apart then."""
_STATIONS_AT_ONCE = 40
"""Stations whose surroundings are turned into light together."""
_LEAST_REACH_PX = 12.0
"""Profiles reach at least this far, so that blur and its surroundings fit into them, pixels."""
_BESIDE_FACE_PX = 6.0
"""How far profiles reach beyond the widest cut face in sight, pixels."""
_GREATEST_REACH_PX = 80.0
"""Profiles never reach farther than this, whatever is said of the thickness, pixels."""


@dataclass(frozen=True)
class Profiles:
    """Colours across the boundary at each station, in one picture.

    Of a soft picture several pixels, along a side, are taken as one (see `softness`), here and in
    all that is worked out from it.

    Attributes:
        offsets_px: (K,) distance outward from the station, pixels.
        start_px: (N, 2) the stations in the picture.
        step_px: (N, 2) steps of one pixel outward, in the picture.
        mm_per_px: (N,) millimetres across the boundary per pixel.
        colours: (N, K, 3) linear light.
        seen: (N,) whether the whole profile lies in the picture.
        edge: (N,) index of the fitted edge that each lies across (see `Stations`).
        stations: Across which they were read.
    """

    offsets_px: NDArray[np.float64]
    start_px: Points
    step_px: Points
    mm_per_px: NDArray[np.float64]
    colours: NDArray[np.float32]
    seen: NDArray[np.bool_]
    edge: NDArray[np.intp]
    stations: Stations

    def places_mm(self) -> Points:
        """(N, K, 2) where in the plane the colours are."""
        out_mm = self.offsets_px[None, :, None] * self.mm_per_px[:, None, None]
        return self.stations.places[:, None] + out_mm * self.stations.normals[:, None]

    def srgb(self) -> NDArray[np.uint8]:
        """The colours as (N, K, 3) sRGB code values."""
        light = np.clip(self.colours, 0, 1)
        code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
        return np.round(255 * code).astype(np.uint8)


def linear_light() -> NDArray[np.float32]:
    """Linear light of each sRGB code value (IEC 61966-2-1), as a table of 256."""
    code = np.arange(256) / 255
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return light.astype(np.float32)


def read_profiles(
    photo: Photo,
    view: View,
    stations: Stations,
    *,
    height_mm: float,
    reach_mm: float,
    face_mm: float = 0.0,
    pixel: float = 1.0,
) -> Profiles:
    """Read the profiles of a picture across a ring of stations.

    Args:
        photo: The picture as it was taken.
        view: How it sees the plane.
        stations: Where to read, in ring order.
        height_mm: Height of the stations above the floor.
        reach_mm: How far to read on each side; never less than a few blurs.
        face_mm: Width of the widest cut face in sight; profiles reach over it.
        pixel: How many of the picture's pixels, along a side, to take as one.
    """
    height = np.full((len(stations.places), 1), height_mm)

    def px(points: Points) -> Points:
        return view.px_from_mm(np.hstack([points, height]))

    start = px(stations.places)
    across = (px(stations.places + stations.normals) - start) / pixel
    tangents = np.column_stack([-stations.normals[:, 1], stations.normals[:, 0]])
    along = px(stations.places + tangents) - start
    scale = np.hypot(*across.T)
    step = across * (pixel / scale[:, None])
    px_per_mm = float(np.median(scale))
    reach = max(reach_mm * px_per_mm, _LEAST_REACH_PX, face_mm * px_per_mm + _BESIDE_FACE_PX)
    reach = min(reach, _GREATEST_REACH_PX)
    offsets = np.arange(-reach, reach + _STEP_PX / 2, _STEP_PX)
    width = stations.spacing_mm * float(np.median(np.hypot(*along.T)))
    lanes = np.linspace(-0.5, 0.5, _lane_count(width) + 2)[1:-1] * stations.spacing_mm
    colours = np.zeros((len(start), len(offsets), 3), np.float32)
    seen = np.zeros(len(start), bool)
    # Only the surroundings of a few stations at a time are turned into light: the whole picture
    # would take ten times the memory of the photograph.
    for part in np.array_split(np.arange(len(start)), -(-len(start) // _STATIONS_AT_ONCE)):
        # Lanes first, x and y apart: their extremes and means then run along memory.
        x, y = (
            start[part, None, axis]
            + offsets * step[part, None, axis]
            + lanes[:, None, None] * along[part, None, axis]
            for axis in (0, 1)
        )
        seen[part] = _in_picture(photo, x, y)
        if seen[part].any():
            colours[part[seen[part]]] = _read(photo, x[:, seen[part]], y[:, seen[part]])
    return Profiles(offsets, start, step, 1 / scale, colours, seen, stations.edge, stations)


def _lane_count(width_px: float) -> int:
    return int(np.clip(width_px / _LANE_PX, 1, _MOST_LANES))


def _in_picture(photo: Photo, x: Array, y: Array) -> NDArray[np.bool_]:
    """(N,) whether all pixels (lanes, N, K) of a station lie in the picture."""
    width, height = photo.size
    inside = (x > 0) & (x < width - 1) & (y > 0) & (y < height - 1)
    return np.asarray(np.all(inside, axis=(0, 2)))


def _read(photo: Photo, x: Array, y: Array) -> NDArray[np.float32]:
    """Mean light (N, K, 3) over the lanes at pixels (lanes, N, K)."""
    left, top = math.floor(x.min()), math.floor(y.min())
    right, bottom = math.ceil(x.max()) + 2, math.ceil(y.max()) + 2
    crop = cv2.LUT(photo.pixels[top:bottom, left:right], linear_light())
    lanes, count, places = x.shape
    at_x, at_y = (
        (values - low).astype(np.float32).reshape(lanes * count, places)
        for values, low in ((x, left), (y, top))
    )
    light = cv2.remap(crop, at_x, at_y, cv2.INTER_LINEAR)
    return np.asarray(light.reshape(lanes, count, places, 3).mean(axis=0))
