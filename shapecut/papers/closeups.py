"""Magnified crops of the photographs at the places that findings are about.

Each shows the photograph twice, side by side: as it is, and with the outline drawn over it in a
light band, in which it lies with 95 %, to scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.findings import Finding, Level
from shapecut.papers.edge_points import points_beside
from shapecut.papers.length_uncertainty import COVERAGE
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Point
from shapecut.survey.survey import Survey
from shapecut.survey.view import View

__all__ = ["Closeup", "closeups"]

SIDE_MM = 120.0
"""Side of the square of the template that a crop shows."""
SIDE_PX = 420
"""Side of each of its two pictures."""
MOST = 8
"""More crops than this are not made; the gravest findings come first."""
ALL_BYTES = 200_000
"""All crops together take no more than this, unless the last of the qualities takes more."""
QUALITIES = (80, 65, 50, 35)
"""Of the JPEG files, tried from the best."""
LINE, BAND = (196, 0, 98), (255, 255, 255)
"""Colours of the outline and of the band round it (red, green, blue)."""
BAND_COVERS = 0.45
"""How much of the photograph a band hides."""
SUBPIXEL_BITS = 4
SPACING_MM = 2.0
"""The outline is drawn through points this close."""


@dataclass(frozen=True)
class Closeup:
    """A crop of a photograph.

    Attributes:
        finding: What it is about.
        photo: The photograph's name.
        jpeg: The picture.
    """

    finding: Finding
    photo: str
    jpeg: bytes


def closeups(
    photos: Sequence[Photo], survey: Survey, outline: Outline, findings: Sequence[Finding]
) -> tuple[Closeup, ...]:
    """Show the place of every finding that has one and asks to look at it.

    Args:
        photos: The pictures; the survey's views refer to them by index.
        survey: How they see the plane.
        outline: In the plane.
        findings: Of any kind.
    """
    order = list(Level)
    doubtful = sorted(
        (one for one in findings if one.place_mm is not None and one.level is not Level.NOTE),
        key=lambda one: -order.index(one.level),
    )
    made = []
    for finding in doubtful[:MOST]:
        if finding.place_mm is None:
            continue
        view, px, px_per_mm = _best_view(photos, survey, finding.place_mm)
        pixels = _crop(photos[view.photo], px, px_per_mm)
        drawn = _drawn_over(pixels, view, outline, survey.height_mm, px, px_per_mm)
        both = np.hstack([pixels, np.full((SIDE_PX, 6, 3), 255, np.uint8), drawn])
        share = ALL_BYTES // min(MOST, len(doubtful))
        made.append(Closeup(finding, photos[view.photo].name, _encoded(both, share)))
    return tuple(made)


def _best_view(
    photos: Sequence[Photo], survey: Survey, place: Point
) -> tuple[View, NDArray[np.float64], float]:
    """The view that shows a place largest, the place in it (2,), and its pixels per mm there."""

    def seen(view: View) -> tuple[bool, float, NDArray[np.float64]]:
        around = np.array([place, (place[0] + 1, place[1]), (place[0], place[1] + 1)])
        px = view.px_from_mm(np.column_stack([around, np.full(3, survey.height_mm)]))
        width, height = photos[view.photo].size
        inside = bool(0 <= px[0, 0] < width and 0 <= px[0, 1] < height)
        return inside, float(np.hypot(*(px[1:] - px[0]).T).mean()), px[0]

    view = max(survey.views, key=lambda view: seen(view)[:2])
    _, px_per_mm, px = seen(view)
    return view, px, px_per_mm


def _window(px: NDArray[np.float64], px_per_mm: float) -> tuple[NDArray[np.float64], float]:
    """The photograph's pixel at the crop's upper left, and crop pixels per photograph pixel."""
    scale = SIDE_PX / (SIDE_MM * px_per_mm)
    return px - (SIDE_PX - 1) / 2 / scale, scale


def _crop(photo: Photo, px: NDArray[np.float64], px_per_mm: float) -> NDArray[np.uint8]:
    corner, scale = _window(px, px_per_mm)
    photo_from_crop = np.array([[1 / scale, 0, corner[0]], [0, 1 / scale, corner[1]]])
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    return np.asarray(
        cv2.warpAffine(
            photo.pixels,
            photo_from_crop,
            (SIDE_PX, SIDE_PX),
            flags=way | cv2.WARP_INVERSE_MAP,
            borderValue=(255, 255, 255),
        ),
        np.uint8,
    )


def _drawn_over(
    pixels: NDArray[np.uint8],
    view: View,
    outline: Outline,
    height_mm: float,
    px: NDArray[np.float64],
    px_per_mm: float,
) -> NDArray[np.uint8]:
    corner, scale = _window(px, px_per_mm)

    def fixed(points: NDArray[np.float64]) -> NDArray[np.int32]:
        """Places in the plane as `cv2` takes them; those far outside the crop left out."""
        at = view.px_from_mm(np.column_stack([points, np.full(len(points), height_mm)]))
        at = (at - corner) * scale
        at = at[(np.abs(at - SIDE_PX / 2) < 4 * SIDE_PX).all(axis=1)]
        return np.asarray(np.round(at * 2**SUBPIXEL_BITS), np.int32)

    covered = pixels.copy()
    for edge in outline.edges:
        if aside := COVERAGE * (edge.u_mm or 0.0):
            one, other = (points_beside(edge.curve, by, SPACING_MM) for by in (aside, -aside))
            rim = fixed(np.vstack([one, other[::-1]]))
            if len(rim):
                cv2.fillPoly(covered, [rim], BAND, cv2.LINE_AA, SUBPIXEL_BITS)
    drawn = np.asarray(cv2.addWeighted(covered, BAND_COVERS, pixels, 1 - BAND_COVERS, 0.0))
    for edge in outline.edges:
        points = fixed(points_beside(edge.curve, 0.0, SPACING_MM))
        cv2.polylines(drawn, [points], False, LINE, 1, cv2.LINE_AA, SUBPIXEL_BITS)
    return np.asarray(drawn, np.uint8)


def _encoded(pixels: NDArray[np.uint8], largest_bytes: int) -> bytes:
    swapped = cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
    data = b""
    for quality in QUALITIES:
        data = cv2.imencode(".jpg", swapped, [cv2.IMWRITE_JPEG_QUALITY, quality])[1].tobytes()
        if len(data) <= largest_bytes:
            break
    return data
