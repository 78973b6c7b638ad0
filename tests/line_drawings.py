"""Lines drawn along outlines with a pencil or a marker: their strokes, and scans of them."""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.shape.curves import Arc, Curve
from shapecut.shape.outline import Outline
from shapecut.survey.survey import Survey
from shapecut.survey.view import ScanView
from shapecut.trace.profile import linear_light

__all__ = ["line_scan", "stroke", "strokes_along"]

Array = NDArray[np.float64]

TIMES, SHIFT = 4, 8
"""Drawn pixels per pixel along each axis, and fractional bits of a drawn corner's place."""
FLATTENING_MM = 0.005
BLUR_PX = 0.6
"""Standard deviation of a scanner's blur."""


def strokes_along(
    outline: Outline,
    *,
    width_mm: float,
    over_mm: float = 0.0,
    breaks: Sequence[tuple[str, float, float]] = (),
) -> Array:
    """Corners (N, 4, 2) of quads that together draw every edge, each with a stroke of its own.

    Args:
        outline: The middle of the strokes.
        width_mm: Of the strokes.
        over_mm: How far straight strokes are drawn past the corners where they meet.
        breaks: (edge's name, middle as a fraction of its length, width in mm) left undrawn.
    """
    quads = []
    for edge in outline.edges:
        gaps = [(at, wide / edge.curve.length) for name, at, wide in breaks if name == edge.name]
        over = over_mm / edge.curve.length
        first = -over if _corner_at(outline, edge.curve.start) else 0.0
        last = 1 + over if _corner_at(outline, edge.curve.end) else 1.0
        for at, wide in [*sorted(gaps), (last, 0.0)]:
            quads.append(stroke(_way(edge.curve, first, at - wide / 2), width_mm))
            first = at + wide / 2
    return np.concatenate(quads)


def _corner_at(outline: Outline, place: tuple[float, float]) -> bool:
    """Whether two straight edges meet at a place."""
    meeting = [edge.curve for edge in outline.edges if place in (edge.curve.start, edge.curve.end)]
    return not any(isinstance(curve, Arc) for curve in meeting)


def stroke(way: Array, width_mm: float) -> Array:
    """Quads (N − 1, 4, 2) along a way (N, 2), blunt at its ends."""
    along = np.diff(way, axis=0)
    normal = np.column_stack([-along[:, 1], along[:, 0]]) / np.hypot(*along.T)[:, None]
    half = normal * (width_mm / 2)
    # Chords of an arc share their corners, halfway between their normals.
    inner = (half[:-1] + half[1:]) / 2
    left = np.concatenate([half[:1], inner, half[-1:]])
    a, b = way[:-1], way[1:]
    return np.stack([a - left[:-1], b - left[1:], b + left[1:], a + left[:-1]], axis=1)


def _way(curve: Curve, first: float, last: float) -> Array:
    """Points (N, 2) of a stretch of a curve from one fraction of its length to another."""
    count = 2 if not isinstance(curve, Arc) else len(curve.flattened(FLATTENING_MM)) + 1
    return np.array([_at(curve, f) for f in np.linspace(first, last, count)])


def _at(curve: Curve, fraction: float) -> Array:
    if isinstance(curve, Arc):
        return np.array(curve.at(fraction))
    start, end = np.array(curve.start), np.array(curve.end)
    return np.asarray(start + fraction * (end - start))


def _light(code: int) -> float:
    """Linear light of an sRGB code value."""
    return float(linear_light()[code])


def line_scan(
    quads: Array,
    *,
    dpi: float,
    size_mm: tuple[float, float],
    ink: int = 40,
    sheet: int = 245,
    noise: float = 2.0,
    name: str = "scan.png",
) -> tuple[Photo, Survey]:
    """Scan strokes (N, 4, 2) round the plane's origin; edges covered to a sixteenth of a pixel."""
    mm_per_px = 25.4 / dpi
    width, height = (round(side / mm_per_px) for side in size_mm)
    view = ScanView(0, (mm_per_px, mm_per_px), ((width - 1) / 2, (height - 1) / 2))
    fine = np.full((height * TIMES, width * TIMES), _light(sheet), np.float32)
    corners = (view.px_from_mm(quads.reshape(-1, 2)) + 0.5) * TIMES - 0.5
    for quad in np.round(corners.reshape(-1, 4, 2) * 2**SHIFT).astype(np.int32):
        cv2.fillConvexPoly(fine, quad, _light(ink), cv2.LINE_8, SHIFT)
    light = cv2.resize(fine, (width, height), interpolation=cv2.INTER_AREA)
    light = cv2.GaussianBlur(light, (0, 0), BLUR_PX)
    code = 255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    code += np.random.default_rng(1).normal(0, noise, code.shape)
    pixels = np.repeat(np.clip(np.round(code), 0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return Photo(name, pixels), Survey((view,), (), 0.0, 1e-4, 0.0, 0.0)
