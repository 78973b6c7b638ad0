"""Where a person says that the template or the floor is, for pictures that do not tell."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from shapecut.capture.photo import Photo
from shapecut.errors import TraceError
from shapecut.shape.placement import Point
from shapecut.survey.survey import Survey
from shapecut.trace.raster import Mask, Points, Raster

__all__ = ["NO_HINTS", "HintMasks", "Hints", "Pointed", "floor_places", "hint_masks"]

_SPOT_MM = 8.0
"""Radius round a stated point that is taken for what it is said to be, mm."""


@dataclass(frozen=True)
class Pointed:
    """A place in a picture: a point, or a box by two opposite corners.

    Attributes:
        photo: Name of the picture.
        px: One or two (x, y) in its pixels.
    """

    photo: str
    px: tuple[Point, ...]


@dataclass(frozen=True)
class Hints:
    """What a person says.

    Attributes:
        template: Points on the template.
        floor: Points on the floor.
        boxes: The template lies within each of them.
    """

    template: tuple[Pointed, ...] = ()
    floor: tuple[Pointed, ...] = ()
    boxes: tuple[Pointed, ...] = ()


NO_HINTS = Hints()
"""Nothing said."""


@dataclass(frozen=True)
class HintMasks:
    """Hints on the raster.

    Attributes:
        template: Cells said to be template.
        floor: Cells said to be floor.
        within: Cells that the template may cover.
    """

    template: Mask
    floor: Mask
    within: Mask


def hint_masks(hints: Hints, photos: Sequence[Photo], survey: Survey, raster: Raster) -> HintMasks:
    """Bring hints onto the raster.

    Args:
        hints: As stated; pictures that are not used are left out.
        photos: All pictures of the job.
        survey: How they see the plane.
        raster: Where the template is looked for.

    Raises:
        TraceError: A place lies outside its picture, or hints contradict each other.
    """

    def spots(pointed: Sequence[Pointed]) -> Mask:
        mask = np.zeros(raster.shape, np.uint8)
        for one in pointed:
            for place in _in_plane(one, one.px, photos, survey):
                column, row = np.round(raster.cells_from_mm(place[None])[0]).astype(int)
                radius = max(1, round(_SPOT_MM / raster.cell_mm))
                cv2.circle(mask, (int(column), int(row)), radius, 1, -1)
        return mask.astype(bool)

    within = np.ones(raster.shape, bool)
    for box in hints.boxes:
        (x0, y0), (x1, y1) = box.px
        corners = ((x0, y0), (x1, y0), (x1, y1), (x0, y1))
        places = _in_plane(box, corners, photos, survey)
        if len(places):
            within &= raster.polygon_mask(places)
    template, floor = spots(hints.template), spots(hints.floor)
    if (template & floor).any():
        raise TraceError(
            "template.hints calls one place template and floor: its points on_template and on_floor"
            " lie together; correct one of them."
        )
    if (template & ~within).any():
        raise TraceError(
            "template.hints has a point on_template outside the box; draw the box round all of the"
            " template, or correct the point."
        )
    return HintMasks(template, floor, within)


def floor_places(hints: Hints, photos: Sequence[Photo], survey: Survey) -> Points:
    """(N, 2) plane mm of the points said to lie on the floor; as for `hint_masks`."""
    places = [_in_plane(one, one.px, photos, survey) for one in hints.floor]
    return np.concatenate([np.zeros((0, 2)), *places])


def _in_plane(
    pointed: Pointed, px: Sequence[Point], photos: Sequence[Photo], survey: Survey
) -> Points:
    """(N, 2) plane mm of places in a picture; none where the picture is not used."""
    for view in survey.views:
        photo = photos[view.photo]
        if photo.name != pointed.photo:
            continue
        width, height = photo.size
        for x, y in px:
            if not (0 <= x <= width - 1 and 0 <= y <= height - 1):
                raise TraceError(
                    f"{photo.name} has {width} × {height} pixels; the place [{x:g}, {y:g}] in"
                    " template.hints lies outside it. Count from its upper left corner as it"
                    " stands upright."
                )
        return view.mm_from_px(np.array(px, float), survey.height_mm)
    return np.zeros((0, 2))
