"""How far a measured outline is from the true one, wherever either frame lies."""

import numpy as np
import shapely
from numpy.typing import NDArray

from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement

__all__ = ["deviations_mm", "longest_side_mm", "rough_placement"]

Array = NDArray[np.float64]

FLATTENING_MM = 0.002
SPACING_MM = 2.0


def deviations_mm(measured: Outline, true: Outline, start: Placement) -> Array:
    """Signed distances (N,) of points evenly along the measured outline from the true boundary.

    Both are first brought together by the rigid placement (no scale) that makes the sum of their
    squares least.

    Args:
        measured: In its own frame.
        true: In the true frame.
        start: A first guess of the measured frame's placement in the true one, near enough for
            most points to lie nearest to their own edge.
    """
    points = start.points_to_plane(_sampled(measured))
    a, b = _chords(true)
    tree = shapely.STRtree(shapely.linestrings(np.stack([a, b], axis=1)))
    along = (b - a) / np.linalg.norm(b - a, axis=1)[:, None]
    normals = np.column_stack([along[:, 1], -along[:, 0]])
    for _ in range(20):
        nearest = tree.nearest(shapely.points(points))
        normal, offset = normals[nearest], points - a[nearest]
        distances = np.sum(offset * normal, axis=1)
        turning = points[:, 0] * normal[:, 1] - points[:, 1] * normal[:, 0]
        slopes = np.column_stack([normal, turning])
        x, y, turn = np.linalg.lstsq(slopes, -distances, rcond=None)[0]
        points = Placement((float(x), float(y)), float(turn)).points_to_plane(points)
    nearest = tree.nearest(shapely.points(points))
    gap = shapely.distance(shapely.points(points), tree.geometries[nearest])
    side = np.sum((points - a[nearest]) * normals[nearest], axis=1)
    return np.asarray(np.copysign(gap, side))


def rough_placement(measured: Outline, true: Outline) -> Placement:
    """A first guess of the measured frame's placement: middles together, the best of 36 turns."""
    points, (corners, _) = _sampled(measured), _chords(true)
    boundary = shapely.linestrings(np.stack(_chords(true), axis=1))
    tree = shapely.STRtree(boundary)
    middle = shapely.Polygon(corners).centroid.coords[0]
    own_middle = shapely.Polygon(_chords(measured)[0]).centroid.coords[0]

    def placement(turn: float) -> Placement:
        turned = Placement(turn_rad=turn).to_plane(own_middle)
        return Placement((middle[0] - turned[0], middle[1] - turned[1]), turn)

    def misfit(start: Placement) -> float:
        moved = shapely.points(start.points_to_plane(points))
        return float(np.sum(shapely.distance(moved, tree.geometries[tree.nearest(moved)]) ** 2))

    return min(map(placement, np.radians(np.arange(0.0, 360.0, 10.0))), key=misfit)


def longest_side_mm(outline: Outline) -> float:
    """The longer side of the outline's least enclosing rectangle."""
    box = shapely.minimum_rotated_rectangle(shapely.MultiPoint(_chords(outline)[0]))
    corners = shapely.get_coordinates(box)
    return float(np.linalg.norm(np.diff(corners, axis=0), axis=1).max())


def _sampled(outline: Outline) -> Array:
    points = []
    for edge in outline.edges:
        count = max(2, round(edge.curve.length / SPACING_MM))
        points += [edge.curve.at(k / count) for k in range(count)]
    return np.array(points)


def _chords(outline: Outline) -> tuple[Array, Array]:
    edges = (edge for ring in outline.rings for edge in ring.edges)
    curves = [edge.curve.flattened(FLATTENING_MM) for edge in edges]
    starts = np.concatenate([curve[:-1] for curve in curves])
    return starts, np.concatenate([curve[1:] for curve in curves])
