"""Regions as shapely polygons: for predicates, tests and pictures, never for a cut line."""

import numpy as np
import shapely
from numpy.typing import NDArray

from shapecut.shape.outline import Outline, Ring
from shapecut.shape.region import Loop, Region

__all__ = [
    "GRID_MM",
    "areas_of",
    "flattened",
    "outline_polygon",
    "region_contains",
    "region_polygon",
]

GRID_MM = 1e-4
"""Polygons are intersected and joined on a grid of this.  Without one, GEOS takes two that differ
in the last digit only for two that have nothing in common."""


def flattened(loop: Loop | Ring, *, tolerance_mm: float) -> NDArray[np.float64]:
    """The corner points of a loop whose arcs are replaced by chords.

    Args:
        loop: Sides of a region or a ring of an outline.
        tolerance_mm: Greatest distance of a chord from its arc.

    Returns:
        (N, 2) in mm, in the loop's order; the first point is not repeated at the end.
    """
    parts = loop.edges if isinstance(loop, Ring) else loop
    points = np.vstack([part.curve.flattened(tolerance_mm)[:-1] for part in parts])
    # A loop all of which lies within the tolerance of one chord still has to enclose something.
    return points if len(points) > 2 else flattened(loop, tolerance_mm=tolerance_mm / 4)


def areas_of(shape: shapely.Geometry) -> shapely.MultiPolygon:
    """What of an overlay has area; where edges only graze, it gives lines and points too."""
    parts = shapely.get_parts(shape)
    return shapely.multipolygons(parts[shapely.get_dimensions(parts) == 2])


def region_polygon(region: Region, *, tolerance_mm: float = 0.01) -> shapely.Polygon:
    """A region as a polygon; see `flattened` for the tolerance."""
    outer, *holes = (flattened(loop, tolerance_mm=tolerance_mm) for loop in region.loops)
    return shapely.Polygon(outer, holes)


def outline_polygon(outline: Outline, *, tolerance_mm: float = 0.01) -> shapely.Polygon:
    """An outline as a polygon; see `flattened` for the tolerance."""
    outer, *holes = (flattened(ring, tolerance_mm=tolerance_mm) for ring in outline.rings)
    return shapely.Polygon(outer, holes)


def region_contains(
    region: Region, points: NDArray[np.float64], *, tolerance_mm: float = 0.01
) -> NDArray[np.bool_]:
    """Which of some points lie in a region.

    Args:
        region: In mm.
        points: (N, 2) in the same frame.
        tolerance_mm: Of the flattening; within it of an arc either answer may come.

    Returns:
        (N,) booleans.
    """
    polygon = region_polygon(region, tolerance_mm=tolerance_mm)
    return np.asarray(shapely.contains_xy(polygon, points[:, 0], points[:, 1]))
