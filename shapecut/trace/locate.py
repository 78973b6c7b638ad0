"""Where among the cards the template lies, coarsely."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import TraceError
from shapecut.progress import side_by_side
from shapecut.survey.survey import Survey
from shapecut.survey.view import ScanView, View
from shapecut.trace.cell_masks import grown
from shapecut.trace.hidden import Hidden
from shapecut.trace.hints import HintMasks, Hints, hint_masks
from shapecut.trace.illumination import Illumination, floor_lights, relit
from shapecut.trace.likeliest import likeliest
from shapecut.trace.paper import CardMarks, paper_mask
from shapecut.trace.raster import LaidPhoto, Mask, Points, Raster, lay_photo
from shapecut.trace.segment import Silhouette, find_template

__all__ = ["NONE_FOUND", "LaidOut", "lay_out", "locate_template", "refuse_at_frame"]

NONE_FOUND = (
    "No template stands out from the floor among the cards; lay it on a floor of another colour or"
    " lightness and photograph it again."
)
"""What to say when there is nothing to trace."""

_BEYOND_BOX = (
    "The template reaches the side of the box in template.hints; draw the box round all of it."
)
_LEAST_ROUND = 3
"""Fewer marks than this surround nothing."""
_BESIDE_CARD = 1
"""Cells beside a card whose profiles across the boundary would reach onto it."""
_CORNERS = 4
"""Of a mark or a sheet."""


@dataclass(frozen=True)
class LaidOut:
    """All pictures on one raster.

    Attributes:
        raster: Where the shape is looked for.
        pictures: In the order of the survey's views.
        papers: The cards' paper in each picture.
        middle: Cells among the cards, or all that the pictures show.
    """

    raster: Raster
    pictures: tuple[LaidPhoto, ...]
    papers: tuple[Mask, ...]
    middle: Mask


def locate_template(
    photos: Sequence[Photo],
    survey: Survey,
    sightings: Sequence[Sighting],
    hints: Hints,
    *,
    cells: int,
    margin: float,
) -> tuple[Raster, Silhouette]:
    """The raster and the template's silhouette on it.

    Args:
        photos: All pictures of the job.
        survey: How they see the plane.
        sightings: The marks seen; their cards are kept out of the template.
        hints: Where a person says that it lies.
        cells: About how many cells to look in.
        margin: How far beyond the cards to look, as a fraction of their longer extent.

    Raises:
        TraceError: No template stands out, it touches a picture's frame or a box of the hints, or
            a hint lies off its picture.
    """
    laid = lay_out(photos, survey, sightings, cells=cells, margin=margin)
    said = hint_masks(hints, photos, survey, laid.raster)
    ways = zip(*_lights(laid), strict=True)
    silhouette = likeliest((_silhouette(laid, way, said) for way in ways), laid.raster.cell_mm)
    if silhouette is None:
        raise TraceError(NONE_FOUND)
    if (grown(silhouette.mask, 2) & ~said.within).any():
        raise TraceError(_BEYOND_BOX)
    refuse_at_frame(photos, survey, laid.raster, silhouette)
    return laid.raster, silhouette


def _lights(laid: LaidOut) -> list[tuple[Illumination, ...]]:
    """For each picture the ways in which its light may fall."""
    return [
        floor_lights(picture, laid.raster, picture.seen & ~paper & ~laid.middle)
        for picture, paper in zip(laid.pictures, laid.papers, strict=True)
    ]


def _silhouette(
    laid: LaidOut, lights: Sequence[Illumination], said: HintMasks
) -> Silhouette | None:
    """The template's silhouette if the light falls like this on each picture."""
    raster = laid.raster
    both = zip(laid.pictures, lights, strict=True)
    found = find_template(
        [relit(picture, raster, light) for picture, light in both],
        laid.papers,
        laid.middle,
        shades=[light.shade for light in lights],
        hints=said,
        cell_mm=raster.cell_mm,
    )
    cards = [grown(paper, _BESIDE_CARD) for paper in laid.papers]
    return found and replace(
        found,
        colours=tuple(
            replace(colours, light=light)
            for colours, light in zip(found.colours, lights, strict=True)
        ),
        hidden=tuple(
            Hidden(raster, card | glare.core, card | glare.whole)
            for card, glare in zip(cards, found.glares, strict=True)
        ),
    )


def lay_out(
    photos: Sequence[Photo],
    survey: Survey,
    sightings: Sequence[Sighting],
    *,
    cells: int,
    margin: float,
) -> LaidOut:
    """Lay all pictures on one raster over the place where the shape must be.

    Args:
        photos: As for `locate_template`, as are all others.
        survey: How they see the plane.
        sightings: The marks seen.
        cells: About how many cells to look in.
        margin: How far beyond the cards to look.
    """
    height = survey.height_mm
    cards = [_cards(view, sightings, height) for view in survey.views]
    if _surround(survey, sightings):
        corners = [card.corners_mm.reshape(-1, 2) for of_view in cards for card in of_view]
        reach = np.concatenate(corners)
    else:
        reach = np.concatenate([_frame(photos[view.photo], view) for view in survey.views])
        margin = 0.0
    raster = Raster.over(reach, margin=margin, cells=cells)

    def laid_with_paper(at: int) -> tuple[LaidPhoto, Mask]:
        view = survey.views[at]
        picture = lay_photo(photos[view.photo], view, raster, height_mm=height)
        return picture, paper_mask(picture, raster, cards[at])

    pictures, papers = zip(*side_by_side(laid_with_paper, range(len(survey.views))), strict=True)
    hull = cv2.convexHull(reach.astype(np.float32))[:, 0].astype(float)
    return LaidOut(raster, pictures, papers, raster.polygon_mask(hull))


def _cards(view: View, sightings: Sequence[Sighting], height_mm: float) -> list[CardMarks]:
    """The cards in a picture, as it shows them at a height; single points are none."""
    marks: dict[tuple[str, bool], list[Points]] = {}
    for seen in sightings:
        if seen.photo == view.photo and len(seen.corners_px) == _CORNERS:
            of_card = marks.setdefault((seen.card, isinstance(seen.mark, int)), [])
            of_card.append(view.mm_from_px(seen.corners_px, height_mm))
    return [CardMarks(np.array(corners), printed) for (_, printed), corners in marks.items()]


def _surround(survey: Survey, sightings: Sequence[Sighting]) -> bool:
    """Whether the marks lie round the template; a sheet or two lie beside it, as cards in a scan.

    Where they do not, it is looked for in all that the pictures show.
    """
    marks = {(seen.card, seen.mark) for seen in sightings}
    scanned = all(isinstance(view, ScanView) for view in survey.views)
    return len(marks) >= _LEAST_ROUND and not scanned


def _frame(photo: Photo, view: View) -> Points:
    """The picture's four corners in the plane."""
    width, height = photo.size
    corners = np.array([[0, 0], [width - 1, 0], [width - 1, height - 1], [0, height - 1]], float)
    return view.mm_from_px(corners)


def refuse_at_frame(
    photos: Sequence[Photo],
    survey: Survey,
    raster: Raster,
    silhouette: Silhouette,
    *,
    shape: str = "template",
    around: str = "floor",
) -> None:
    """Refuse a silhouette that reaches the end of what the pictures show together.

    Args:
        photos: All pictures of the job.
        survey: How they see the plane.
        raster: Where the shape was looked for.
        silhouette: On the raster.
        shape: What it is.
        around: What surrounds it.

    Raises:
        TraceError: Naming the picture and its side.
    """
    padded = np.pad(silhouette.seen.astype(np.uint8), 1)
    inner = cv2.erode(padded, np.ones((5, 5), np.uint8))[1:-1, 1:-1].astype(bool)
    rows, columns = np.nonzero(silhouette.mask & ~inner)
    if not len(rows):
        return
    places = raster.mm_from_cells(np.column_stack([columns, rows]).astype(float))
    height = np.full((len(places), 1), survey.height_mm)
    distances = []
    for view in survey.views:
        px = view.px_from_mm(np.hstack([places, height]))
        width, tall = photos[view.photo].size
        sides = {
            "left": px[:, 0],
            "right": width - 1 - px[:, 0],
            "upper": px[:, 1],
            "lower": tall - 1 - px[:, 1],
        }
        distances += [
            (float(np.abs(to_side).min()), photos[view.photo].name, side)
            for side, to_side in sides.items()
        ]
    _, name, side = min(distances)
    raise TraceError(
        f"{name}: the {shape} reaches the {side} side of the picture; step back so that {around}"
        " shows all round it."
    )
