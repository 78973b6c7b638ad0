"""Boundary samples of one ring from all pictures, weighed against each other."""

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.capture.photo import Photo
from shapecut.progress import side_by_side
from shapecut.survey.view import PhotoView, View
from shapecut.trace.boundary import Crossings
from shapecut.trace.colours import ColourModel
from shapecut.trace.hidden import Hidden
from shapecut.trace.own_shadow import shadow_doubt
from shapecut.trace.profile import Profiles, read_profiles
from shapecut.trace.raster import Points
from shapecut.trace.slab import Slab
from shapecut.trace.softness import pixels_in_one
from shapecut.trace.stations import Stations

__all__ = ["PictureSamples", "Pictures", "RingSamples", "face_width", "sample_ring"]

Array = NDArray[np.float64]

FindCrossings = Callable[[Profiles, ColourModel, Array], Crossings]
"""(profiles, colours, width of the cut face as seen in mm) to crossings."""

_SHARED_BY = 20.0
"""Stations over which a sample's own error averages out along an edge, while what the samples of an
edge err together stays."""


@dataclass(frozen=True)
class Pictures:
    """The job's pictures, as the tracing looks at them.

    Attributes:
        photos: All pictures; `views` refer to them by index.
        views: How those that are used see the plane.
        colours: What the colours of each view's picture say.
        hidden: What hides the boundary in each view's picture; nothing when empty.
        floor_mm: (N, 2) places that a person says are floor.
    """

    photos: tuple[Photo, ...]
    views: tuple[View, ...]
    colours: tuple[ColourModel, ...]
    hidden: tuple[Hidden, ...] = ()
    floor_mm: Points = field(default_factory=lambda: np.zeros((0, 2)))


@dataclass(frozen=True)
class PictureSamples:
    """What one picture shows at each station of a ring.

    Attributes:
        photo: Index of the picture.
        found: (N,) whether it shows the boundary there.
        px: (N, 2) the boundary in the picture; meaningless where not found, as is all that follows.
        mm: (N, 2) brought to the template's face.
        offset_mm: (N,) outward from the station.
        u_mm: (N,) standard uncertainty of each sample by itself.
        shared_u_mm: (N,) that of what the samples of an edge have in common.
        per_thickness: (N,) how far a sample moves outward per mm of thickness.
    """

    photo: int
    found: NDArray[np.bool_]
    px: Points
    mm: Points
    offset_mm: Array
    u_mm: Array
    shared_u_mm: Array
    per_thickness: Array

    @property
    def weight(self) -> Array:
        """(N,) of the picture among others; 0 where it shows nothing."""
        variance = self.u_mm**2 / _SHARED_BY + self.shared_u_mm**2
        return np.where(self.found, 1 / np.where(self.found, variance, 1.0), 0.0)


@dataclass(frozen=True)
class RingSamples:
    """Samples along a ring.

    Attributes:
        places: (N, 2) the boundary at each station where any picture shows it, mm.
        offset_mm: (N,) outward from the station.
        u_mm: (N,) standard uncertainty across the boundary of each by itself.
        shared_u_mm: (N,) that of what the samples of an edge have in common.
        per_thickness: (N,) how far the boundary moves outward per mm of thickness.
        shares: (pictures, N) weights of the pictures, adding up to 1.
        stations: Where it was looked for, found or not.
        pictures: What each picture shows.
    """

    places: Points
    offset_mm: Array
    u_mm: Array
    shared_u_mm: Array
    per_thickness: Array
    shares: Array
    stations: Stations
    pictures: tuple[PictureSamples, ...]

    def without(self, dropped: NDArray[np.bool_]) -> "RingSamples":
        """The samples without those (N,) that are dropped."""
        found = np.flatnonzero(np.any([picture.found for picture in self.pictures], axis=0))
        kept = np.ones(len(self.stations.places), bool)
        kept[found[dropped]] = False
        return _weighed(
            self.stations,
            tuple(replace(picture, found=picture.found & kept) for picture in self.pictures),
        )


def sample_ring(
    pictures: Pictures,
    slab: Slab,
    stations: Stations,
    crossings: FindCrossings,
    *,
    reach_mm: float,
    by_colour: bool = False,
) -> RingSamples:
    """Sample the boundary at each station in every picture and weigh the pictures together.

    A stretch that faces away from the camera shows the top edge against the floor.  One that faces
    the camera shows the cut face in between; where the top edge can not be told from the bottom
    edge, the doubt is shared by all its samples, so that pictures which see the stretch as a far
    edge outweigh it.

    Args:
        pictures: All pictures of the job.
        slab: The template's top face and foot.
        stations: Where to look.
        crossings: How to find the top edge in the profiles.
        reach_mm: How far to look on each side.
        by_colour: Whether it is looked for by colours, which glare pales.
    """
    found = side_by_side(
        lambda at: _sampled(pictures, at, slab, stations, crossings, reach_mm, by_colour),
        range(len(pictures.views)),
    )
    return _weighed(stations, tuple(found))


def _weighed(stations: Stations, pictures: tuple[PictureSamples, ...]) -> RingSamples:
    weights = np.array([picture.weight for picture in pictures])
    kept = weights.sum(axis=0) > 0
    shares = weights[:, kept] / weights[:, kept].sum(axis=0)

    def mean(name: str) -> Array:
        values = np.array([getattr(picture, name) for picture in pictures])[:, kept]
        return np.asarray(np.sum(shares * np.where(shares > 0, values, 0.0), axis=0))

    def root(name: str) -> Array:
        values = np.array([getattr(picture, name) for picture in pictures])[:, kept]
        squares = (shares * np.where(shares > 0, values, 0.0)) ** 2
        return np.asarray(np.sqrt(np.sum(squares, axis=0)))

    shift = mean("offset_mm")
    return RingSamples(
        stations.places[kept] + stations.normals[kept] * shift[:, None],
        shift,
        root("u_mm"),
        root("shared_u_mm"),
        mean("per_thickness"),
        shares,
        stations,
        pictures,
    )


def _sampled(
    pictures: Pictures,
    at: int,
    slab: Slab,
    stations: Stations,
    crossings: FindCrossings,
    reach_mm: float,
    by_colour: bool,
) -> PictureSamples:
    view = pictures.views[at]
    photo, model = pictures.photos[view.photo], pictures.colours[at]
    face_mm = face_width(view, stations, slab)

    def read(pixel: float) -> Profiles:
        return read_profiles(
            photo,
            view,
            stations,
            height_mm=slab.top_mm,
            reach_mm=reach_mm,
            face_mm=float(face_mm.max()),
            pixel=pixel,
        )

    profiles = read(1.0)
    pixel = pixels_in_one(profiles)
    if pixel > 1:
        profiles = read(pixel)
    crossing = crossings(profiles, model, face_mm)
    found = np.isfinite(crossing.u_px)
    if pictures.hidden:
        found &= ~pictures.hidden[at].covers(stations.places, by_colour=by_colour)
    px = profiles.start_px + profiles.step_px * np.nan_to_num(crossing.offset_px)[:, None]
    mm = view.mm_from_px(px, slab.top_mm)
    risen = view.mm_from_px(px, slab.top_mm + 1.0)
    thickness_mm = slab.top_mm - slab.foot_mm
    wider = face_mm / max(thickness_mm, 1e-9)
    return PictureSamples(
        view.photo,
        found,
        px,
        mm,
        np.einsum("ni,ni->n", mm - stations.places, stations.normals),
        crossing.u_px * profiles.mm_per_px,
        np.hypot(
            crossing.shared_u_px * profiles.mm_per_px,
            thickness_mm * shadow_doubt(profiles, model),
        ),
        np.einsum("ni,ni->n", risen - mm, stations.normals) + wider * crossing.per_face,
    )


def face_width(view: View, stations: Stations, slab: Slab) -> Array:
    """(N,) width of the cut face below each station as the picture shows it, in mm at the top.

    Zero where the stretch faces away from the camera or the view is from straight above.
    """
    if not isinstance(view, PhotoView):
        return np.zeros(len(stations.places))
    foot = np.column_stack([stations.places, np.full(len(stations.places), slab.foot_mm)])
    seen = view.mm_from_px(view.px_from_mm(foot), slab.top_mm)
    width = np.einsum("ni,ni->n", seen - stations.places, stations.normals)
    return np.asarray(np.maximum(width, 0.0))
