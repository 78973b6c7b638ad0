"""Light across the boundary: profiles read from the original photograph along normals.

A profile is read in linear light from the photograph as it was taken (bilinear between its own
pixels), averaged over a few lanes side by side, and projected on the colour direction that best
separates template from floor just there (Fisher's discriminant), so that 1 is template and 0 is
floor.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.survey.view import View
from shapecut.trace.raster import Points
from shapecut.trace.stations import Stations

__all__ = ["Profiles", "linear_light", "read_profiles"]

_STEP_PX = 0.5
"""Distance between the places of a profile, pixels."""
_LANE_PX = 1.2
"""Distance between the lanes that are averaged, pixels."""
_STATIONS_AT_ONCE = 40
"""Stations whose surroundings are turned into light together."""
_LEAST_REACH_PX = 12.0
"""Profiles reach at least this far, so that blur and its surroundings fit into them, pixels."""


@dataclass(frozen=True)
class Profiles:
    """Colours across the boundary at each station, in one picture.

    Attributes:
        offsets_px: (K,) distance outward from the station, pixels.
        start_px: (N, 2) the stations in the picture.
        step_px: (N, 2) unit vectors outward in the picture.
        mm_per_px: (N,) millimetres across the boundary per pixel.
        colours: (N, K, 3) linear light.
        seen: (N,) whether the whole profile lies in the picture.
        edge: (N,) index of the fitted edge that each lies across (see `Stations`).
    """

    offsets_px: NDArray[np.float64]
    start_px: Points
    step_px: Points
    mm_per_px: NDArray[np.float64]
    colours: NDArray[np.float32]
    seen: NDArray[np.bool_]
    edge: NDArray[np.intp]

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
    photo: Photo, view: View, stations: Stations, *, height_mm: float, reach_mm: float
) -> Profiles:
    """Read the profiles of a picture across a ring of stations.

    Args:
        photo: The picture as it was taken.
        view: How it sees the plane.
        stations: Where to read, in ring order.
        height_mm: Height of the stations above the floor.
        reach_mm: How far to read on each side; never less than a few blurs.
    """
    height = np.full((len(stations.places), 1), height_mm)

    def px(points: Points) -> Points:
        return view.px_from_mm(np.hstack([points, height]))

    start = px(stations.places)
    across = (px(stations.places + stations.normals) - start).astype(float)
    tangents = np.column_stack([-stations.normals[:, 1], stations.normals[:, 0]])
    along = px(stations.places + tangents) - start
    scale = np.hypot(*across.T)
    step = across / scale[:, None]
    reach = max(reach_mm * float(np.median(scale)), _LEAST_REACH_PX)
    offsets = np.arange(-reach, reach + _STEP_PX / 2, _STEP_PX)
    width = stations.spacing_mm * float(np.median(np.hypot(*along.T)))
    lanes = np.linspace(-0.5, 0.5, max(1, int(width / _LANE_PX)) + 2)[1:-1] * stations.spacing_mm
    at = start[:, None, None] + offsets[None, :, None, None] * step[:, None, None]
    at = at + lanes[None, None, :, None] * along[:, None, None]
    seen = np.all((at > 0) & (at < np.array(photo.size) - 1), axis=(1, 2, 3))
    colours = _read(photo, at[seen], at.shape, seen)
    return Profiles(offsets, start, step, 1 / scale, colours, seen, stations.edge)


def _read(
    photo: Photo, at: NDArray[np.float64], shape: tuple[int, ...], seen: NDArray[np.bool_]
) -> NDArray[np.float32]:
    colours = np.zeros((shape[0], shape[1], 3), np.float32)
    # Only the surroundings of a few stations at a time are turned into light: the whole picture
    # would take ten times the memory of the photograph.
    parts = [
        _read_part(photo, part)
        for part in np.array_split(at, max(1, len(at) // _STATIONS_AT_ONCE))
        if len(part)
    ]
    if parts:
        colours[seen] = np.concatenate(parts)
    return colours


def _read_part(photo: Photo, at: NDArray[np.float64]) -> NDArray[np.float32]:
    """Mean light (N, K, 3) over the lanes at pixels (N, K, lanes, 2)."""
    low = np.floor(at.min(axis=(0, 1, 2))).astype(int)
    high = np.ceil(at.max(axis=(0, 1, 2))).astype(int) + 1
    crop = cv2.LUT(photo.pixels[low[1] : high[1], low[0] : high[0]], linear_light())
    where = (at - low).astype(np.float32).reshape(len(at), -1, 2)
    light = cv2.remap(crop, where[..., 0], where[..., 1], cv2.INTER_LINEAR)
    return np.asarray(light.reshape(*at.shape[:3], 3).mean(axis=2))
