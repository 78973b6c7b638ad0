"""Which boundary samples lie along which edge."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve
from shapecut.shape.outline import Ring
from shapecut.trace.raster import Points
from shapecut.trace.traced import Traced

__all__ = ["EdgeSamples", "along_mm", "inside_mm", "nearest_edges", "samples_of_ring"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class EdgeSamples:
    """The samples nearest to one edge, from all pictures, in the order of the edge.

    Attributes:
        mm: (N, 2) in the plane.
        u_mm: (N,) standard uncertainty of each across the boundary.
        along_mm: (N,) from the start of the edge.
    """

    mm: Points
    u_mm: Array
    along_mm: Array


def samples_of_ring(traced: Traced, number: int) -> tuple[EdgeSamples, ...]:
    """The samples along each edge of a ring.

    Args:
        traced: The outline and its samples.
        number: Of the ring in the outline, 0 for the outer one.
    """
    ring = traced.outline.rings[number]
    found = [samples for samples in traced.samples if samples.ring == number]
    mm = np.concatenate([samples.mm for samples in found] or [np.zeros((0, 2))])
    u_mm = np.concatenate([samples.u_mm for samples in found] or [np.zeros(0)])
    nearest = nearest_edges(ring, mm)
    edges = []
    for k, edge in enumerate(ring.edges):
        own = np.flatnonzero(nearest == k)
        along = along_mm(edge.curve, mm[own])
        order = np.argsort(along)
        edges.append(EdgeSamples(mm[own][order], u_mm[own][order], along[order]))
    return tuple(edges)


def along_mm(curve: Curve, points: Points) -> Array:
    """(N,) distance along a curve from its start to the place nearest to each point."""
    if isinstance(curve, Arc):
        offsets = points - np.array(curve.centre)
        turned = np.arctan2(offsets[:, 1], offsets[:, 0]) - curve.start_rad
        sweep = curve.sweep_rad
        # Points beyond an end are counted to the nearer one.
        middle = np.remainder(turned * np.sign(sweep) - abs(sweep) / 2 + np.pi, 2 * np.pi) - np.pi
        return np.asarray(curve.radius * np.clip(middle + abs(sweep) / 2, 0.0, abs(sweep)))
    dx, dy = curve.direction()
    offsets = points - np.array(curve.start)
    return np.asarray(np.clip(offsets[:, 0] * dx + offsets[:, 1] * dy, 0.0, curve.length))


def inside_mm(curve: Curve, points: Points) -> Array:
    """(N,) distance of points to the left of a curve, where the material is."""
    if isinstance(curve, Arc):
        out = np.hypot(*(points - np.array(curve.centre)).T) - curve.radius
        return np.asarray(-out if curve.ccw else out)
    dx, dy = curve.direction()
    off = points - np.array(curve.start)
    return np.asarray(dx * off[:, 1] - dy * off[:, 0])


def nearest_edges(ring: Ring, mm: Points) -> NDArray[np.intp]:
    """(N,) index of the edge of a ring that each (N, 2) point is nearest to."""
    distances = np.empty((len(ring.edges), len(mm)))
    for k, edge in enumerate(ring.edges):
        curve = edge.curve
        share = along_mm(curve, mm) / curve.length
        if isinstance(curve, Arc):
            angle = curve.start_rad + share * curve.sweep_rad
            feet = np.column_stack([np.cos(angle), np.sin(angle)]) * curve.radius + curve.centre
        else:
            feet = curve.start + share[:, None] * (np.array(curve.end) - curve.start)
        distances[k] = np.hypot(*(mm - feet).T)
    return np.asarray(np.argmin(distances, axis=0))
