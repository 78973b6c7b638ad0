"""How sure each traced edge is (JCGM 100:2008, 5.1.2: independent parts add by their squares)."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Curve
from shapecut.survey.survey import Survey
from shapecut.trace.ring import TracedRing
from shapecut.trace.samples import RingSamples
from shapecut.trace.slab import Slab

__all__ = ["edge_uncertainties"]

_PLACES = (0.1, 0.3, 0.5, 0.7, 0.9)
"""Where along an edge the plane's uncertainty is worked out, as fractions of its length."""


def edge_uncertainties(ring: TracedRing, survey: Survey, slab: Slab) -> tuple[float, ...]:
    """Standard uncertainty of each edge's place across itself, mm, scale aside, typical along it.

    Made up of the scatter of the edge's samples about it, of what they err in common (blur, tone
    curve, a cut face in sight), of what the thickness may be off, and of the plane's own.

    Args:
        ring: As traced.
        survey: How the pictures see the plane, and how sure that is.
        slab: As measured.
    """
    found, parts = ring.samples, []
    for curve, scatter, index in zip(
        ring.fitted.curves, ring.fitted.u_mm, ring.fitted.samples, strict=True
    ):
        variance = scatter**2 + _plane_u_mm(curve, found, index, survey, slab) ** 2
        if len(index):
            variance += float(np.mean(found.shared_u_mm[index] ** 2))
            variance += float(np.mean(found.per_thickness[index]) * slab.top_u_mm) ** 2
        parts.append(float(np.sqrt(variance)))
    return tuple(parts)


def _plane_u_mm(
    curve: Curve, found: RingSamples, index: NDArray[np.intp], survey: Survey, slab: Slab
) -> float:
    """What the cameras and their places may be off, across an edge seen in several pictures."""
    if not survey.precision.views or not len(index):
        return survey.point_u_mm
    exact_scale = replace(survey.precision, relative_u=0.0)
    places = np.array([curve.at(f) for f in _PLACES])
    along = np.array([curve.direction(f) for f in _PLACES])
    normals = np.column_stack([along[:, 1], -along[:, 0]])
    raised = np.column_stack([places, np.full(len(places), slab.top_mm)])
    shares = found.shares[:, index].mean(axis=1)
    moved = sum(
        share
        * np.einsum(
            "ni,nik->nk",
            normals,
            exact_scale.factor(view.photo, view.px_from_mm(raised), slab.top_mm).reshape(
                len(places), 2, -1
            ),
        )
        for share, view in zip(shares, survey.views, strict=True)
    )
    local = exact_scale.local_u_mm * float(np.linalg.norm(shares))
    return float(np.hypot(np.sqrt(np.mean(np.sum(np.square(moved), axis=1))), local))
