"""Scans drawn with exact area coverage: a flat shape and cards on the lid of a scanner."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.cards import Mark
from shapecut.capture.patterns import mark_cells
from shapecut.capture.photo import Photo
from shapecut.shape.outline import Outline
from shapecut.survey.view import ScanView
from tests.renderer import LaidCard

__all__ = ["KRAFT", "LID", "Scan", "drawn_scan"]

KRAFT = (176, 138, 96)
LID = (246, 246, 244)
INK = (28, 28, 30)
PAPER = (252, 252, 252)

TIMES = 4
"""Drawn pixels per pixel along each axis."""
SHIFT = 8
"""Fractional bits of a drawn corner's place."""


@dataclass(frozen=True)
class Scan:
    """How a scan is made.

    Attributes:
        view: How it sees the plane.
        size: Width and height, pixels.
        stated_dpi: What the file says.
        noise: Standard deviation, code values.
    """

    view: ScanView
    size: tuple[int, int]
    stated_dpi: tuple[float, float] | None = (150.0, 150.0)
    noise: float = 1.5


def drawn_scan(
    scan: Scan,
    name: str,
    outline: Outline,
    cards: Sequence[LaidCard] = (),
    *,
    colour: tuple[int, int, int] = KRAFT,
) -> Photo:
    """Draw what lies on the glass."""
    width, height = scan.size
    fine = np.full((height * TIMES, width * TIMES, 3), LID, np.uint8)
    for ring, tone in zip(outline.rings, (colour, *[LID] * len(outline.holes)), strict=True):
        points = np.concatenate([edge.curve.flattened(0.005)[:-1] for edge in ring.edges])
        _fill(fine, scan.view, points[None], tone)
    for laid in cards:
        to_plane = laid.placement.points_to_plane
        _fill(fine, scan.view, to_plane(laid.paper_mm())[None], PAPER)
        for mark in laid.card.marks:
            cells = _black_cells(mark)
            _fill(fine, scan.view, to_plane(cells.reshape(-1, 2)).reshape(-1, 4, 2), INK)
    grey = cv2.resize(fine, scan.size, interpolation=cv2.INTER_AREA).astype(float)
    noise = np.random.default_rng(scan.view.photo).normal(0, scan.noise, grey.shape)
    return Photo(
        name, np.clip(np.round(grey + noise), 0, 255).astype(np.uint8), dpi=scan.stated_dpi
    )


def _fill(
    fine: NDArray[np.uint8],
    view: ScanView,
    polygons: NDArray[np.float64],
    tone: tuple[int, int, int],
) -> None:
    for polygon in polygons:
        px = (view.px_from_mm(polygon) + 0.5) * TIMES - 0.5
        corners = np.round(px * 2**SHIFT).astype(np.int32)
        cv2.fillPoly(fine, [corners], tone, cv2.LINE_8, SHIFT)


def _black_cells(mark: Mark) -> NDArray[np.float64]:
    """(K, 4, 2) corners of its black cells in the card's frame."""
    black = mark_cells(mark.dictionary, mark.number)
    top_left, top_right, _, bottom_left = map(np.array, mark.corners_mm)
    right, down = (top_right - top_left) / len(black), (bottom_left - top_left) / len(black)
    rows, columns = np.nonzero(black)
    steps = np.array([(0, 0), (0, 1), (1, 1), (1, 0)])
    at = np.stack([rows, columns], axis=-1)[:, None] + steps
    return np.asarray(top_left + at[..., :1] * down + at[..., 1:] * right)
