"""The photograph turned into a flat picture, true to scale, with a millimetre grid; for the eye.

Nothing is ever measured in this picture: measuring uses the photograph as it was taken.
"""

import math
from dataclasses import dataclass
from io import BytesIO

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from shapecut.capture.photo import Photo
from shapecut.survey.view import View
from shapecut.units import MM_PER_INCH

__all__ = ["FlatPicture", "flat_picture_jpeg", "rectified_picture"]

LARGEST_SIDE_PX = 6000
"""A flat picture is made coarser rather than larger than this."""

NODE_PX = 16
"""The view is computed exactly at every so many pixels and interpolated between them; a lens bends
far less than a tenth of a pixel over that distance."""

GRID_MM, TICK_MM = 100.0, 10.0

SMALLEST_SPACING_PX = 5.0
"""Lines closer than this are left out."""

GRID_WEIGHT = 0.35
"""How much of a grid line covers the photograph."""


@dataclass(frozen=True)
class FlatPicture:
    """A picture seen straight from above.

    Attributes:
        pixels: (height, width, 3) uint8, sRGB; the first row is the greatest y.
        mm_per_px: Along both directions.
        origin_mm: The plane point at the outer corner of the lower left pixel.
    """

    pixels: NDArray[np.uint8]
    mm_per_px: float
    origin_mm: tuple[float, float]


def rectified_picture(
    photo: Photo,
    view: View,
    bounds: tuple[float, float, float, float],
    *,
    mm_per_px: float,
    height_mm: float = 0.0,
) -> FlatPicture:
    """Show a part of the plane straight from above.

    Args:
        photo: The picture.
        view: How it sees the plane.
        bounds: (x least, y least, x greatest, y greatest) of the plane to show, mm.
        mm_per_px: Wanted size of a pixel; enlarged if a side would pass `LARGEST_SIDE_PX`.
        height_mm: Height over the plane of what is to come out true to scale.

    Returns:
        The picture with a grid: light ticks every 10 mm, lines every 100 mm, labelled.
    """
    x0, y0, x1, y1 = bounds
    mm_per_px = max(mm_per_px, (x1 - x0) / LARGEST_SIDE_PX, (y1 - y0) / LARGEST_SIDE_PX)
    width, height = (max(1, round(side / mm_per_px)) for side in (x1 - x0, y1 - y0))
    map_x, map_y = _source_pixels(view, (x0, y0), (width, height), mm_per_px, height_mm)
    pixels = cv2.remap(photo.pixels, map_x, map_y, cv2.INTER_LINEAR, borderValue=(255, 255, 255))
    flat = FlatPicture(np.asarray(pixels, np.uint8), mm_per_px, (x0, y0))
    _draw_grid(flat)
    return flat


def _source_pixels(
    view: View,
    origin: tuple[float, float],
    size: tuple[int, int],
    mm_per_px: float,
    height_mm: float,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Where in the photograph each pixel of the flat picture is seen, as two (h, w) arrays."""
    width, height = size
    columns, rows = (math.ceil(side / NODE_PX) + 2 for side in size)
    # Nodes stand where `cv2.resize` takes its samples from, with one more beyond each border.
    across = (np.arange(columns) - 0.5) * NODE_PX
    down = (np.arange(rows) - 0.5) * NODE_PX
    xs = origin[0] + across * mm_per_px
    ys = origin[1] + (height - down) * mm_per_px
    places = np.column_stack(
        [np.tile(xs, rows), np.repeat(ys, columns), np.full(columns * rows, height_mm)]
    )
    nodes = view.px_from_mm(places).reshape(rows, columns, 2).astype(np.float32)
    fine = cv2.resize(nodes, (columns * NODE_PX, rows * NODE_PX), interpolation=cv2.INTER_LINEAR)
    shown = fine[NODE_PX : NODE_PX + height, NODE_PX : NODE_PX + width]
    return np.ascontiguousarray(shown[..., 0]), np.ascontiguousarray(shown[..., 1])


def _draw_grid(flat: FlatPicture) -> None:
    """Draw the grid into the picture, in place: it is ours and just made."""
    height, width = flat.pixels.shape[:2]
    (x0, y0), step = flat.origin_mm, flat.mm_per_px
    overlay = flat.pixels.copy()
    for spacing, grey in ((TICK_MM, 235), (GRID_MM, 20)):
        if spacing / step < SMALLEST_SPACING_PX:
            continue
        for value in _multiples(x0, x0 + width * step, spacing):
            column = round((value - x0) / step - 0.5)
            cv2.line(overlay, (column, 0), (column, height - 1), (grey, grey, grey), 1)
        for value in _multiples(y0, y0 + height * step, spacing):
            row = round(height - (value - y0) / step - 0.5)
            cv2.line(overlay, (0, row), (width - 1, row), (grey, grey, grey), 1)
    cv2.addWeighted(overlay, GRID_WEIGHT, flat.pixels, 1 - GRID_WEIGHT, 0.0, dst=flat.pixels)
    _draw_labels(flat)


def _multiples(low: float, high: float, spacing: float) -> list[float]:
    first, last = math.ceil(low / spacing), math.floor(high / spacing)
    return [index * spacing for index in range(first, last + 1)]


def _draw_labels(flat: FlatPicture) -> None:
    """Write the 100 mm lines' coordinates along the lower and left borders, and the scale."""
    height, width = flat.pixels.shape[:2]
    (x0, y0), step = flat.origin_mm, flat.mm_per_px
    size = min(0.6, max(0.35, GRID_MM / step / 180))
    for value in _multiples(x0, x0 + width * step, GRID_MM):
        _write(flat.pixels, f"{value:.0f}", (round((value - x0) / step) + 3, height - 6), size)
    for value in _multiples(y0, y0 + height * step, GRID_MM):
        _write(flat.pixels, f"{value:.0f}", (4, round(height - (value - y0) / step) - 4), size)
    note = f"{step:.3f} mm a pixel, grid {GRID_MM:.0f} mm, for the eye only"
    _write(flat.pixels, note, (8, 24), size)


def _write(pixels: NDArray[np.uint8], text: str, at: tuple[int, int], size: float) -> None:
    """Write dark text on a light ground, legible on any floor; `at` is its lower left corner."""
    face = cv2.FONT_HERSHEY_SIMPLEX
    (width, height), drop = cv2.getTextSize(text, face, size, 1)
    x, y = at
    cv2.rectangle(
        pixels, (x - 2, y - height - 2), (x + width + 2, y + drop), (255, 255, 255), cv2.FILLED
    )
    cv2.putText(pixels, text, at, face, size, (0, 0, 0), 1, cv2.LINE_AA)


def flat_picture_jpeg(flat: FlatPicture) -> bytes:
    """Encode as JPEG with its resolution stated (JFIF), so that it prints at full size."""
    dpi = MM_PER_INCH / flat.mm_per_px
    stream = BytesIO()
    Image.fromarray(flat.pixels).save(stream, "JPEG", dpi=(dpi, dpi), quality=85)
    return stream.getvalue()
