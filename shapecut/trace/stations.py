"""Places round the template where its boundary is looked for.

Glossary:
    station: a place on a rough outline with the outward normal there, in the plane.
    ring: stations in order, counter-clockwise round the template and clockwise round a hole, so
        that the material is on the left.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from skimage.measure import find_contours

from shapecut.trace.raster import Mask, Points, Raster

__all__ = ["Stations", "stations_along", "stations_round", "thinned"]

_LEAST_CELLS = 12
"""Outlines of fewer points than this are specks."""


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
    rings = [ring for ring in _outlines(mask) if len(ring) >= _LEAST_CELLS]
    rings.sort(key=lambda ring: -abs(_area(ring)))
    return [_smoothed(ring if (_area(ring) > 0) != hole else ring[::-1], raster) for ring in rings]


def stations_along(
    points: Points, tangents: Points, spacing_mm: float, edge: NDArray[np.intp] | None = None
) -> Stations:
    """Stations at given places of an outline, material on the left of the tangents."""
    normals = np.column_stack([tangents[:, 1], -tangents[:, 0]])
    along = np.zeros(len(points), np.intp) if edge is None else edge
    return Stations(points, normals, spacing_mm, along)


def thinned(ring: Stations, spacing_mm: float) -> Stations:
    """Fewer stations of a rough ring, about `spacing_mm` apart, each the mean of its neighbours."""
    count = round(len(ring.places) * ring.spacing_mm / spacing_mm)
    if count >= len(ring.places) / 1.5 or count < _LEAST_CELLS:
        return ring
    parts = np.array_split(ring.places, count)
    places = np.array([part.mean(axis=0) for part in parts])
    return stations_along(places, _tangents(places, 1), ring.spacing_mm * len(ring.places) / count)


def _outlines(mask: Mask) -> list[NDArray[np.float64]]:
    """The outer outline (N, 2) of each component, x and y in cells, between its cells and others.

    Marching squares, so that the outline runs midway between cells rather than through the last
    one inside (W. Lorensen and H. Cline, "Marching cubes", SIGGRAPH 1987).
    """
    # Cells off the mask's rim count as outside, so that every outline closes.
    contours: list[Points] = find_contours(
        np.pad(mask, 1).astype(float), 0.5, positive_orientation="high"
    )
    rings = [contour[:-1, ::-1] - 1.0 for contour in contours]
    return [ring for ring in rings if _area(ring) < 0]


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
    return stations_along(smooth, _tangents(smooth, 2), float(along[-1]) / count)


def _tangents(places: Points, reach: int) -> Points:
    """Unit vectors from `reach` places before to as many after."""
    ways = np.roll(places, -reach, axis=0) - np.roll(places, reach, axis=0)
    return np.asarray(ways / np.maximum(np.hypot(*ways.T), 1e-9)[:, None])
