"""Which of several silhouettes is the template's.

Where the light is misjudged, part of the template passes for floor or part of the floor for
template: something else than floor lies beside the silhouette then, and its rim is ragged.
"""

from collections.abc import Iterable

import cv2
import numpy as np

from shapecut.trace.alongside import Doubt, DoubtfulPlace
from shapecut.trace.cell_masks import corners
from shapecut.trace.segment import Silhouette

__all__ = ["likeliest"]

_LENGTH_PER_CORNER = 0.01
"""Share of the rim in doubt that weighs as much as one more corner."""
_SECOND_CORNERS = 5.0
"""Another patch like the template weighs as much as so many corners."""


def likeliest(silhouettes: Iterable[Silhouette | None], cell_mm: float) -> Silhouette | None:
    """The first without a doubt about where its rim runs, or else the least doubtful one.

    Args:
        silhouettes: As found in different ways, the likeliest way first; later ones are asked for
            only if need be.
        cell_mm: Side of a cell.
    """
    doubtful: list[tuple[float, Silhouette]] = []
    for silhouette in silhouettes:
        if silhouette is None:
            continue
        if not _of_rim(silhouette):
            return silhouette
        doubtful.append((_doubtfulness(silhouette, cell_mm), silhouette))
    return min(doubtful, key=lambda pair: pair[0])[1] if doubtful else None


def _doubtfulness(silhouette: Silhouette, cell_mm: float) -> float:
    """What speaks against a silhouette, in corners of its rim."""
    whole = silhouette.mask & ~silhouette.holes
    rims, _ = cv2.findContours(whole.astype(np.uint8), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)
    length_mm = cell_mm * sum(cv2.arcLength(rim, True) for rim in rims)
    others = _of_rim(silhouette)
    in_doubt_mm = sum(place.size_mm for place in others)
    seconds = sum(place.doubt is Doubt.SECOND for place in others)
    return corners(whole) + in_doubt_mm / length_mm / _LENGTH_PER_CORNER + _SECOND_CORNERS * seconds


def _of_rim(silhouette: Silhouette) -> list[DoubtfulPlace]:
    """The doubtful places but for those well within."""
    within = (Doubt.MAYBE_HOLE, Doubt.MAYBE_PRINT, Doubt.GLARE_WITHIN)
    return [place for place in silhouette.doubtful if place.doubt not in within]
