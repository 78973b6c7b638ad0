"""A sheet of paper on the floor as a reference: its four corners, stated by hand, refined.

Where the sheet is lighter than the floor along the two sides that meet in a corner, a line is
fitted to each and the corner is where they cross; elsewhere the corner is taken as it was stated.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import STATED_U_PX, Sighting
from shapecut.errors import CaptureError
from shapecut.shape.placement import Point

__all__ = ["sheet_sighting"]

Array = NDArray[np.float64]

REFINED_U_PX = 0.15
"""The same of a corner that was refined: paper's edges are straight and its corners sharp to about
that (from memory)."""

REACH_PX = 8.0
"""How far from the stated side the sheet's edge is looked for."""

STRETCH = (0.05, 0.35)
"""The part of a side, as a fraction from the corner, to which a line is fitted: long enough for a
good line, short enough for the lens not to bend it."""

STATIONS = 40
"""Places along that part where the edge is looked for."""

LEAST_FOUND = 0.6
"""Fraction of those places where an edge must be found."""

LEAST_STEP = 0.12
"""The sheet is lighter than the floor by at least this, in linear light with white at 1."""

STRAIGHT_PX = 0.5
"""Median distance from the fitted line up to which an edge is the sheet's."""

LEAST_SIDE_PX = 40.0
"""A shorter side in the picture tells hardly anything."""


def sheet_sighting(
    photo: Photo,
    index: int,
    *,
    name: str,
    size_mm: tuple[float, float],
    corners_px: Sequence[Point],
) -> Sighting:
    """A sheet of stated size as the survey takes it.

    Args:
        photo: The photograph.
        index: Its index among the job's.
        name: Of the sheet, as a person would point at it.
        size_mm: Its shorter and its longer side.
        corners_px: Its four corners round the sheet, either way, beginning with the two ends of a
            short side; pixels of the picture as it stands upright.

    Raises:
        CaptureError: If the corners are not those of a sheet seen from above.
    """
    corners = np.array(corners_px, float)
    clockwise = _clockwise(photo, name, corners)
    x, y = size_mm[0] / 2, size_mm[1] / 2
    corners_mm = np.array([(-x, y), (x, y), (x, -y), (-x, -y)]) * (1 if clockwise else -1, 1)
    refined, u_px = _refined(photo, corners)
    return Sighting(
        photo=index,
        card=name,
        mark="sheet",
        corners_px=refined,
        corners_mm=corners_mm.astype(float),
        u_px=u_px,
        stands_alone=True,
    )


def _clockwise(photo: Photo, name: str, corners: Array) -> bool:
    """Whether the corners go round clockwise as seen in the picture."""
    width, height = photo.size
    inside = (corners >= -0.5) & (corners <= (width - 0.5, height - 0.5))
    if not inside.all():
        x, y = corners[~inside.all(axis=1)][0]
        raise CaptureError(
            f"{name} has a corner at pixel ({x:g}, {y:g}), outside {photo.name}, which has "
            f"{width} x {height} pixels as it stands upright: state it anew."
        )
    before, after = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    turns = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    if not (np.all(turns > 0) or np.all(turns < 0)):
        raise CaptureError(
            f"The corners of {name} in {photo.name} do not go round a sheet: state them one after "
            "the other along its sides."
        )
    if _sides(corners).min() < LEAST_SIDE_PX:
        raise CaptureError(
            f"{name} is too small in {photo.name} to measure by: go nearer, or use a larger sheet."
        )
    return bool(turns[0] > 0)


def _sides(corners: Array) -> Array:
    return np.asarray(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1))


def _refined(photo: Photo, corners: Array) -> tuple[Array, float]:
    """All corners refined and their uncertainty, or all as stated, so that they are alike."""
    middle = corners.mean(axis=0)
    refined = [
        _corner(photo, corners[k], corners[k - 1], corners[(k + 1) % 4], middle) for k in range(4)
    ]
    found = [corner for corner in refined if corner is not None]
    if len(found) < 4:
        return corners, STATED_U_PX
    return np.array(found), REFINED_U_PX


def _corner(
    photo: Photo, corner: Array, before: Array, after: Array, middle: Array
) -> Array | None:
    """Where the lines along both sides cross; None where they are not to be seen well."""
    lines = [_side_line(photo, corner, end, middle) for end in (before, after)]
    normals = [line[0] for line in lines if line is not None]
    offsets = [line[1] for line in lines if line is not None]
    if len(normals) < 2:
        return None
    place = np.linalg.solve(np.array(normals), np.array(offsets))
    return place if float(np.linalg.norm(place - corner)) < REACH_PX else None


def _side_line(
    photo: Photo, corner: Array, end: Array, middle: Array
) -> tuple[Array, float] | None:
    """The line n · x = d along a side near a corner; None where no straight edge is seen."""
    along = (end - corner) / np.linalg.norm(end - corner)
    inward = np.array([-along[1], along[0]])
    inward *= np.sign(inward @ (middle - corner))
    ways = np.linspace(*STRETCH, STATIONS) * float(np.linalg.norm(end - corner))
    stations = corner + ways[:, None] * along
    steps = np.arange(-REACH_PX, REACH_PX + 0.25, 0.5)
    light = _light(photo, stations[:, None] + steps[:, None] * inward)
    offsets = _edges(light, steps)
    found = np.isfinite(offsets)
    if found.mean() < LEAST_FOUND:
        return None
    slope, height = _line_through(ways[found], offsets[found])
    away = np.abs(offsets[found] - height - slope * ways[found])
    if float(np.median(away)) > STRAIGHT_PX:
        return None
    direction = along + slope * inward
    normal = np.array([-direction[1], direction[0]]) / np.linalg.norm(direction)
    return normal, float(normal @ (corner + height * inward))


def _light(photo: Photo, at: Array) -> Array:
    """Linear light (N, K) at pixels (N, K, 2), by the curve of IEC 61966-2-1 nearly (power 2.2)."""
    low = np.clip(np.floor(at.min(axis=(0, 1))).astype(int) - 1, 0, None)
    high = np.ceil(at.max(axis=(0, 1))).astype(int) + 2
    grey = cv2.cvtColor(photo.pixels[low[1] : high[1], low[0] : high[0]], cv2.COLOR_RGB2GRAY)
    light = (grey.astype(np.float32) / 255) ** 2.2
    where = (at - low).astype(np.float32)
    read = cv2.remap(
        light, where[..., 0], where[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(read, float)


def _edges(light: Array, steps: Array) -> Array:
    """(N,) where each profile (N, K) rises half way from floor to sheet; NaN where it does not."""
    third = len(steps) // 4
    floor, sheet = np.median(light[:, :third], axis=1), np.median(light[:, -third:], axis=1)
    above = light > ((floor + sheet) / 2)[:, None]
    edge = np.argmax(above, axis=1)
    rows = np.arange(len(light))
    clean = (sheet - floor > LEAST_STEP) & (edge > 0) & (np.diff(above, axis=1).sum(axis=1) == 1)
    low, high = light[rows, edge - 1], light[rows, edge]
    part = ((floor + sheet) / 2 - low) / np.where(clean, high - low, 1.0)
    return np.where(clean, steps[edge - 1] + part * (steps[1] - steps[0]), np.nan)


def _line_through(x: Array, y: Array) -> tuple[float, float]:
    """Slope and height at x = 0 of the line through most points, those far off left out."""
    kept = np.ones(len(x), bool)
    for _ in range(5):
        slope, height = np.polyfit(x[kept], y[kept], 1)
        away = np.abs(y - height - slope * x)
        kept = away <= max(3 * 1.4826 * float(np.median(away)), 0.1)
    return float(slope), float(height)
