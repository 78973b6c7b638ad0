"""Boundary samples of one ring from all pictures, weighed against each other."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.survey.survey import Survey
from shapecut.survey.view import PhotoView, View
from shapecut.trace.boundary import Crossings
from shapecut.trace.colours import ColourModel
from shapecut.trace.profile import Profiles, read_profiles
from shapecut.trace.raster import Points
from shapecut.trace.stations import Stations

__all__ = ["PictureSamples", "RingSamples", "sample_ring"]

Array = NDArray[np.float64]
PictureSamples = tuple[int, Points, Points, Array]
"""Picture index, (M, 2) pixels, (M, 2) plane mm, (M,) standard uncertainty in mm."""

FindCrossings = Callable[[Profiles, ColourModel, Array], Crossings]
"""(profiles, colours, width of the cut face as seen in mm) to crossings."""


@dataclass(frozen=True)
class RingSamples:
    """Samples along a ring.

    Attributes:
        places: (N, 2) the boundary at each station where any picture shows it, mm.
        u_mm: (N,) standard uncertainty across the boundary.
        face_u_mm: (N,) the part of it that comes from cut faces in sight; it does not average out.
        spacing_mm: Distance from one station to the next.
        by_picture: What each picture contributed.
    """

    places: Points
    u_mm: Array
    face_u_mm: Array
    spacing_mm: float
    by_picture: tuple[PictureSamples, ...]


def sample_ring(
    photos: Sequence[Photo],
    survey: Survey,
    stations: Stations,
    colours: Sequence[ColourModel],
    crossings: FindCrossings,
    *,
    reach_mm: float,
) -> RingSamples:
    """Sample the boundary at each station in every picture and weigh the pictures together.

    A stretch that faces away from the camera shows the top edge.  One that faces the camera shows
    the cut face too, so its sample may lie anywhere between top and bottom edge; it is taken as the
    top edge and pays for the doubt in its uncertainty, so that pictures which see the stretch as a
    far edge outweigh it.

    Args:
        photos: All pictures of the job.
        survey: How they see the plane.
        stations: Where to look.
        colours: One model for each view of the survey.
        crossings: How to find the boundary in the profiles.
        reach_mm: How far to look on each side.
    """
    count = len(stations.places)
    offsets = np.zeros(count)
    weights = np.zeros(count)
    doubts = np.zeros(count)
    pictures = []
    for view, model in zip(survey.views, colours, strict=True):
        profiles = read_profiles(
            photos[view.photo], view, stations, height_mm=survey.height_mm, reach_mm=reach_mm
        )
        face_mm = _face_width(view, stations, survey.height_mm)
        crossing = crossings(profiles, model, face_mm)
        found = np.isfinite(crossing.u_px)
        px = profiles.start_px + profiles.step_px * np.nan_to_num(crossing.offset_px)[:, None]
        mm = view.mm_from_px(px, survey.height_mm)
        # The true place lies within the face as seen, taken as evenly likely within it.
        face_u_mm = face_mm / np.sqrt(12)
        u_mm = np.hypot(crossing.u_px * profiles.mm_per_px, face_u_mm)
        weight = np.where(found, 1 / u_mm**2, 0.0)
        offset = np.einsum("ni,ni->n", mm - stations.places, stations.normals)
        offsets += weight * np.where(found, offset, 0.0)
        weights += weight
        doubts += (weight * face_u_mm) ** 2
        pictures.append((view.photo, px[found], mm[found], u_mm[found]))
    kept = weights > 0
    shift = offsets[kept] / weights[kept]
    places = stations.places[kept] + stations.normals[kept] * shift[:, None]
    return RingSamples(
        places,
        1 / np.sqrt(weights[kept]),
        np.sqrt(doubts[kept]) / weights[kept],
        stations.spacing_mm,
        tuple(pictures),
    )


def _face_width(view: View, stations: Stations, height_mm: float) -> Array:
    """(N,) width of the cut face below each station as the picture shows it, in mm at the top.

    Zero where the stretch faces away from the camera or the view is from straight above.
    """
    if not isinstance(view, PhotoView):
        return np.zeros(len(stations.places))
    foot = np.hstack([stations.places, np.zeros((len(stations.places), 1))])
    seen = view.mm_from_px(view.px_from_mm(foot), height_mm)
    width = np.einsum("ni,ni->n", seen - stations.places, stations.normals)
    return np.asarray(np.maximum(width, 0.0))
