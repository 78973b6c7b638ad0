"""References without cards in rendered and computed photographs, and where they are seen."""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.cards import Card, square_mark
from shapecut.job.reference import Reference
from shapecut.shape.placement import Placement, Point
from shapecut.survey.view import PhotoView
from tests.renderer import LaidCard

__all__ = ["LaidSheet", "laid_sheet", "pointed_points", "pointed_sheet"]

SPECK = Card("sheet", (square_mark("AprilTag 36h11", 0, side_mm=1.0),))
"""The renderer's cards carry a mark; this one is too small to be seen."""


@dataclass(frozen=True)
class LaidSheet(LaidCard):
    """A sheet of plain paper on the floor; `size_mm` is width and height."""

    size_mm: tuple[float, float] = (210.0, 297.0)

    def paper_mm(self) -> NDArray[np.float64]:
        """Its corners, beginning with both ends of the side at the bottom."""
        x, y = self.size_mm[0] / 2, self.size_mm[1] / 2
        return np.array([(-x, -y), (x, -y), (x, y), (-x, y)])


def laid_sheet(origin: Point, turn_rad: float, size_mm: tuple[float, float]) -> LaidSheet:
    """A sheet where it lies."""
    return LaidSheet(SPECK, Placement(origin, turn_rad), size_mm=size_mm)


def pointed_sheet(
    sheet: LaidSheet, paper: str, views: Mapping[str, PhotoView], *, off_px: float = 1.5, seed=1
) -> dict[str, object]:
    """The job's table of a sheet whose corners a person pointed at, a little off."""
    rng = np.random.default_rng(seed)
    corners = sheet.placement.points_to_plane(sheet.paper_mm())
    seen = {
        name: (view.px_from_mm(corners) + rng.uniform(-off_px, off_px, (4, 2))).round(1).tolist()
        for name, view in views.items()
    }
    return {"paper": paper, "seen": seen}


def pointed_points(
    points: Mapping[str, Point],
    views: Mapping[str, PhotoView],
    *,
    rng: np.random.Generator,
    u_px: float = 1.0,
    u_mm: float = 1.0,
    misread: Mapping[tuple[str, str], float] | None = None,
) -> Reference:
    """What a person states of points: pixels and tapes with their errors, some tapes misread.

    Args:
        points: By name, plane mm.
        views: By the photograph's name.
        rng: Of the errors.
        u_px: Standard deviation of a pixel position per axis.
        u_mm: Standard deviation of a tape.
        misread: What was read instead, by the names of both ends.
    """
    places = np.array(list(points.values()))
    pixels = {
        name: view.px_from_mm(places) + rng.normal(0, u_px, places.shape)
        for name, view in views.items()
    }
    return Reference.model_validate(
        {
            "points": [
                {"name": point, "seen": {name: px[k].tolist() for name, px in pixels.items()}}
                for k, point in enumerate(points)
            ],
            "tapes": [
                {"between": pair, "length": f"{length:.1f} mm"}
                for pair, length in _read(points, rng, u_mm, misread or {})
            ],
        }
    )


def _read(
    points: Mapping[str, Point],
    rng: np.random.Generator,
    u_mm: float,
    misread: Mapping[tuple[str, str], float],
) -> Iterable[tuple[tuple[str, str], float]]:
    for pair in combinations(points, 2):
        true = math.dist(points[pair[0]], points[pair[1]])
        yield pair, misread.get(pair, true + float(rng.normal(0, u_mm)))
