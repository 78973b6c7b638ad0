"""Places round the template where its boundary is looked for.

Glossary:
    station: a place on a rough outline with the outward normal there, in the plane.
    ring: stations in order, counter-clockwise round the template and clockwise round a hole, so
        that the material is on the left.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.raster import Mask, Points, Raster

__all__ = ["Stations", "stations_along", "stations_round"]

_LEAST_CELLS = 12
"""Contours of fewer cells than this are specks."""


@dataclass(frozen=True)
class Stations:
    """A ring of stations.

    Attributes:
        places: (N, 2) plane mm.
        normals: (N, 2) unit vectors away from the material.
        spacing_mm: Distance from one station to the next.
        edge: (N,) index of the fitted edge each lies along; all 0 on a rough outline.
    """

    places: Points
    normals: Points
    spacing_mm: float
    edge: NDArray[np.intp]


def stations_round(mask: Mask, raster: Raster, *, hole: bool) -> list[Stations]:
    """Stations round each component of a mask, about one cell apart, largest component first."""
    contours, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    rings = [c[:, 0, :].astype(float) for c in contours if len(c) >= _LEAST_CELLS]
    rings.sort(key=lambda ring: -abs(_area(ring)))
    return [_smoothed(ring if (_area(ring) > 0) != hole else ring[::-1], raster) for ring in rings]


def stations_along(
    points: Points, tangents: Points, spacing_mm: float, edge: NDArray[np.intp] | None = None
) -> Stations:
    """Stations at given places of an outline, material on the left of the tangents."""
    normals = np.column_stack([tangents[:, 1], -tangents[:, 0]])
    along = np.zeros(len(points), np.intp) if edge is None else edge
    return Stations(points, normals, spacing_mm, along)


def _area(ring: NDArray[np.float64]) -> float:
    x, y = ring.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) / 2


def _smoothed(ring: NDArray[np.float64], raster: Raster) -> Stations:
    points = raster.mm_from_cells(ring)
    closed = np.vstack([points, points[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(8, round(along[-1] / raster.cell_mm))
    at = np.linspace(0.0, along[-1], count, endpoint=False)
    even = np.column_stack([np.interp(at, along, closed[:, k]) for k in range(2)])
    kernel = np.array([1.0, 4.0, 6.0, 4.0, 1.0]) / 16
    smooth = sum(w * np.roll(even, k - 2, axis=0) for k, w in enumerate(kernel))
    tangents = np.roll(smooth, -2, axis=0) - np.roll(smooth, 2, axis=0)
    tangents = tangents / np.maximum(np.hypot(*tangents.T), 1e-9)[:, None]
    return stations_along(smooth, tangents, float(along[-1]) / count)
