"""What the cards cover, by where their marks are: on white paper their own white tells nothing."""

from collections.abc import Sequence

import cv2
import numpy as np

from shapecut.capture.sighting import Sighting
from shapecut.survey.survey import Survey
from shapecut.trace.cell_masks import grown
from shapecut.trace.raster import Mask, Points, Raster

__all__ = ["covered_by_cards"]

_CARD_MARGIN = 0.2
"""How far a card's paper reaches beyond its marks, in sides of a mark; more hides the line."""


def covered_by_cards(survey: Survey, sightings: Sequence[Sighting], raster: Raster) -> Mask:
    """Cells that the cards cover, whichever pictures show them."""
    views = {view.photo: view for view in survey.views}
    corners: dict[str, list[Points]] = {}
    for seen in sightings:
        if seen.photo in views:
            at = views[seen.photo].mm_from_px(seen.corners_px, survey.height_mm)
            corners.setdefault(seen.card, []).append(at)
    mask = np.zeros(raster.shape, bool)
    for marks in corners.values():
        hull = cv2.convexHull(np.concatenate(marks).astype(np.float32))[:, 0].astype(float)
        side_mm = float(np.hypot(*(marks[0][1] - marks[0][0])))
        reach = round(_CARD_MARGIN * side_mm / raster.cell_mm)
        mask |= grown(raster.polygon_mask(hull), reach)
    return mask
