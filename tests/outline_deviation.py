"""How far a measured outline is from the true one, wherever either frame lies."""

import numpy as np
import shapely
from numpy.typing import NDArray

from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement

__all__ = [
    "aligned",
    "deviations_mm",
    "longest_side_mm",
    "rough_placement",
    "sampled",
    "signed_distances_mm",
]

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
    points = sampled(measured)
    placement = aligned(points, true, start)
    return signed_distances_mm(placement.points_to_plane(points), true)


def aligned(
    points: Array, true: Outline, start: Placement, weights: Array | None = None
) -> Placement:
    """The rigid placement that brings points onto a true boundary with least squares.

    Args:
        points: (N, 2) in their own frame.
        true: In the true frame.
        start: A first guess of the placement.
        weights: (N,) of each point's square; all alike when not given.
    """
    a, b = _chords(true)
    tree = shapely.STRtree(shapely.linestrings(np.stack([a, b], axis=1)))
    along = (b - a) / np.linalg.norm(b - a, axis=1)[:, None]
    normals = np.column_stack([along[:, 1], -along[:, 0]])
    root = np.sqrt(np.ones(len(points)) if weights is None else weights)
    placement = start
    for _ in range(20):
        moved = placement.points_to_plane(points)
        nearest = tree.nearest(shapely.points(moved))
        normal = normals[nearest]
        distances = np.sum((moved - a[nearest]) * normal, axis=1)
        turning = moved[:, 0] * normal[:, 1] - moved[:, 1] * normal[:, 0]
        slopes = np.column_stack([normal, turning]) * root[:, None]
        x, y, turn = np.linalg.lstsq(slopes, -distances * root, rcond=None)[0]
        placement = Placement((float(x), float(y)), float(turn)).after(placement)
    return placement


def signed_distances_mm(points: Array, true: Outline) -> Array:
    """Distances (N,) of points (N, 2) from the true boundary, positive outside the material."""
    a, b = _chords(true)
    tree = shapely.STRtree(shapely.linestrings(np.stack([a, b], axis=1)))
    along = (b - a) / np.linalg.norm(b - a, axis=1)[:, None]
    normals = np.column_stack([along[:, 1], -along[:, 0]])
    nearest = tree.nearest(shapely.points(points))
    gap = shapely.distance(shapely.points(points), tree.geometries[nearest])
    side = np.sum((points - a[nearest]) * normals[nearest], axis=1)
    return np.asarray(np.copysign(gap, side))


def rough_placement(measured: Outline, true: Outline) -> Placement:
    """A first guess of the measured frame's placement: middles together, the best of 36 turns."""
    points = sampled(measured)
    boundary = shapely.linestrings(np.stack(_chords(true), axis=1))
    tree = shapely.STRtree(boundary)
    middle, own_middle = _middle(true), _middle(measured)

    def placement(turn: float) -> Placement:
        turned = Placement(turn_rad=turn).to_plane(own_middle)
        return Placement((middle[0] - turned[0], middle[1] - turned[1]), turn)

    def misfit(start: Placement) -> float:
        moved = shapely.points(start.points_to_plane(points))
        return float(np.sum(shapely.distance(moved, tree.geometries[tree.nearest(moved)]) ** 2))

    return min(map(placement, np.radians(np.arange(0.0, 360.0, 10.0))), key=misfit)


def _middle(outline: Outline) -> tuple[float, float]:
    """The centroid of what the outer ring encloses."""
    corners, _ = _chords(Outline(outline.outer))
    x, y = shapely.Polygon(corners).centroid.coords[0]
    return x, y


def longest_side_mm(outline: Outline) -> float:
    """The longer side of the outline's least enclosing rectangle."""
    box = shapely.minimum_rotated_rectangle(shapely.MultiPoint(_chords(outline)[0]))
    corners = shapely.get_coordinates(box)
    return float(np.linalg.norm(np.diff(corners, axis=0), axis=1).max())


def sampled(outline: Outline) -> Array:
    """Points (N, 2) evenly along all edges."""
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
