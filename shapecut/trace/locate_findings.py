"""Doubtful places of a silhouette as findings that point into a photograph."""

from collections.abc import Sequence

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.findings import Finding, Level, near_pixel
from shapecut.survey.survey import Survey
from shapecut.trace.alongside import Doubt, DoubtfulPlace
from shapecut.trace.raster import Raster
from shapecut.trace.segment import Silhouette

__all__ = ["silhouette_findings"]

_WHAT = {
    Doubt.NO_FLOOR_BESIDE: (
        "Along about {size:.0f} mm of the template's edge something else than floor lies beside it:"
        " an object that touches it, or a part of it under print or tape.",
        "Compare the outline with the template there; clear away what touches it and photograph it"
        " again.",
    ),
    Doubt.FLOOR_WITHIN: (
        "Along about {size:.0f} mm of its edge the template as found looks like the floor.",
        "Compare the outline with the template there; photograph it again without glare.",
    ),
    Doubt.ADDED: (
        "A patch about {size:.0f} mm wide at the template's edge looks neither like the rest of it"
        " nor like the floor; it counts as print on the template.",
        "If it is an object that touches the template, clear it away and photograph it again.",
    ),
    Doubt.GLARE: (
        "About {size:.0f} mm of the template's edge lie in glare.",
        "Compare the outline with the template there; photograph it again from another side.",
    ),
    Doubt.GLARE_WITHIN: (
        "Glare about {size:.0f} mm wide lies on the template; a hole there would not be seen.",
        "If there is one, photograph it again from another side.",
    ),
    Doubt.DARK: (
        "About {size:.0f} mm of the template's edge lie in darkness, where neither it nor the floor"
        " is to be seen.",
        "Photograph it again in even light, or add a photograph with the shadow elsewhere.",
    ),
    Doubt.MAYBE_HOLE: (
        "A patch about {size:.0f} mm wide within the template looks neither quite like it nor like"
        " the floor; it counts as print.",
        "If it is a hole, photograph it again in even light on a floor it contrasts with.",
    ),
    Doubt.MAYBE_PRINT: (
        "A patch about {size:.0f} mm wide was traced as a hole, but it is unlike the floor round"
        " about.",
        "If it is print, state on_template under [template.hints] with a pixel of it.",
    ),
    Doubt.CUT_OFF: (
        "A patch about {size:.0f} mm wide that looks like the template lies close beside it and was"
        " not counted to it.",
        "If it belongs to it (a part beyond a strip of tape), state template.hints on it, or cover"
        " the tape; else move it away.",
    ),
    Doubt.SECOND: (
        "Something else about {size:.0f} mm wide looks like the template; the shape that covers"
        " more of the middle among the cards was measured.",
        "Take it away, or move the cards round the one to be measured, and photograph it again.",
    ),
}


def silhouette_findings(
    photos: Sequence[Photo], survey: Survey, raster: Raster, silhouette: Silhouette
) -> tuple[Finding, ...]:
    """What a fitter must look at, by pixel of the first photograph that shows it.

    Args:
        photos: All pictures of the job.
        survey: How they see the plane.
        raster: Of the silhouette.
        silhouette: As found.
    """
    return tuple(_finding(photos, survey, raster, place) for place in silhouette.doubtful)


def _finding(
    photos: Sequence[Photo], survey: Survey, raster: Raster, place: DoubtfulPlace
) -> Finding:
    at = np.append(raster.mm_from_cells(np.array([place.cell]))[0], survey.height_mm)[None]
    seen = {view.photo: view.px_from_mm(at)[0] for view in survey.views}
    photo, (x, y) = next(
        (
            (photo, px)
            for photo, px in seen.items()
            if np.all((px >= 0) & (px < np.array(photos[photo].size)))
        ),
        next(iter(seen.items())),
    )
    what, todo = _WHAT[place.doubt]
    where = near_pixel(photos[photo].name, x, y)
    return Finding(Level.CHECK, where, what.format(size=place.size_mm), todo)
