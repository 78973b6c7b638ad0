"""The traced outline and how sure it is, drawn over a photograph small enough for a report."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.papers.edge_bands import band_enlargement, band_round
from shapecut.papers.edge_points import points_beside
from shapecut.progress import side_by_side
from shapecut.shape.outline import Outline, whole_name
from shapecut.survey.survey import Survey
from shapecut.survey.view import View

__all__ = ["Overlay", "overlays"]

LARGEST_SIDES_PX = (1600, 1280, 1024, 800, 640, 480)
"""Longest sides tried, largest first, until the picture is small enough."""

QUALITY = 78

POINT_SPACING_MM = 10.0
"""Edges are drawn through points this close."""

SUBPIXEL_BITS = 4

BAND_COVERS = 0.45
"""How much of the photograph a band hides."""

RIM, LINE = (255, 255, 255), (196, 0, 98)
"""Colours (red, green, blue): a dark line in a white rim shows on light and on dark floors."""


@dataclass(frozen=True)
class Overlay:
    """A reduced photograph with the outline drawn over it.

    Attributes:
        photo: Its name.
        jpeg: The picture.
        enlarged: How many times wider than it is the band round each edge is drawn, in which the
            edge lies with 95 %; None where nothing is known of how sure it is.
    """

    photo: str
    jpeg: bytes
    enlarged: int | None = None


def overlays(
    photos: Sequence[Photo], survey: Survey, outline: Outline, *, largest_bytes: int
) -> tuple[Overlay, ...]:
    """Draw an outline and its edges' names over every photograph that sees it.

    Args:
        photos: The pictures; the survey's views refer to them by index.
        survey: How they see the plane.
        outline: In the plane.
        largest_bytes: Of all files together; each is reduced until it takes no more than its
            share, or is as small as the last of `LARGEST_SIDES_PX`.

    Returns:
        One for each view, in order.
    """
    share = largest_bytes // len(survey.views)
    enlarged = band_enlargement(outline)

    def drawn_over(view: View) -> Overlay:
        photo = photos[view.photo]
        data = b""
        for side in LARGEST_SIDES_PX:
            data = _encoded(_drawn(photo, view, outline, survey.height_mm, side, enlarged or 0))
            if len(data) <= share:
                break
        return Overlay(photo.name, data, enlarged)

    return tuple(side_by_side(drawn_over, survey.views))


def _drawn(
    photo: Photo,
    view: View,
    outline: Outline,
    height_mm: float,
    largest_side: int,
    enlarged: int,
) -> NDArray[np.uint8]:
    width, height = photo.size
    scale = min(1.0, largest_side / max(photo.size))
    size = (round(width * scale), round(height * scale))
    pixels = np.asarray(cv2.resize(photo.pixels, size, interpolation=cv2.INTER_AREA), np.uint8)
    _draw_bands(pixels, view, outline, height_mm, scale, enlarged)
    seen = {
        edge.name: _seen(view, points_beside(edge.curve, 0.0, POINT_SPACING_MM), height_mm, scale)
        for edge in outline.edges
    }
    for colour, thickness in ((RIM, 5), (LINE, 2)):
        for points in seen.values():
            fixed = np.round(points * 2**SUBPIXEL_BITS).astype(np.int32)
            cv2.polylines(pixels, [fixed], False, colour, thickness, cv2.LINE_AA, SUBPIXEL_BITS)
    longest: dict[str, NDArray[np.float64]] = {}
    for name, points in seen.items():
        whole = whole_name(name)
        if whole not in longest or len(points) > len(longest[whole]):
            longest[whole] = points
    for name, points in longest.items():
        _write_name(pixels, name, points)
    return pixels


def _draw_bands(
    pixels: NDArray[np.uint8],
    view: View,
    outline: Outline,
    height_mm: float,
    scale: float,
    enlarged: int,
) -> None:
    """Lighten the picture round every edge as far as it may lie off, so many times enlarged."""
    covered = pixels.copy()
    for edge in outline.edges:
        band = band_round(edge, enlarged, POINT_SPACING_MM)
        if band is not None:
            seen = _seen(view, band, height_mm, scale)
            rim = np.round(seen * 2**SUBPIXEL_BITS).astype(np.int32)
            cv2.fillPoly(covered, [rim], RIM, cv2.LINE_AA, SUBPIXEL_BITS)
    cv2.addWeighted(covered, BAND_COVERS, pixels, 1 - BAND_COVERS, 0.0, dst=pixels)


def _seen(
    view: View, points: NDArray[np.float64], height_mm: float, scale: float
) -> NDArray[np.float64]:
    """(N, 2) pixels of the reduced picture that show (N, 2) places in the plane."""
    places = np.column_stack([points, np.full(len(points), height_mm)])
    # Pixel centres are whole numbers in both pictures, hence the halves.
    return np.asarray((view.px_from_mm(places) + 0.5) * scale - 0.5)


def _write_name(pixels: NDArray[np.uint8], name: str, points: NDArray[np.float64]) -> None:
    """Write an edge's name on a light ground at its middle."""
    face, size = cv2.FONT_HERSHEY_SIMPLEX, 0.55
    (width, height), drop = cv2.getTextSize(name, face, size, 1)
    x, y = (round(float(value)) for value in points[len(points) // 2])
    left, base = x - width // 2, y + height // 2
    first, last = (left - 4, base - height - 4), (left + width + 4, base + drop)
    cv2.rectangle(pixels, first, last, RIM, cv2.FILLED)
    cv2.putText(pixels, name, (left, base), face, size, (0, 0, 0), 1, cv2.LINE_AA)


def _encoded(pixels: NDArray[np.uint8]) -> bytes:
    swapped = cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
    return cv2.imencode(".jpg", swapped, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1].tobytes()
