"""The tracing stage: photographs and their survey in, the template's outline out."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import TraceError
from shapecut.findings import Finding
from shapecut.shape.curves import Curve
from shapecut.survey.survey import Survey
from shapecut.survey.view import ScanView, View
from shapecut.trace.boundary import rough_crossings, sharp_crossings
from shapecut.trace.colours import ColourModel
from shapecut.trace.doubts import doubts, unseen_hole
from shapecut.trace.fit import FittedRing, fit_ring
from shapecut.trace.naming import Measured, named_outline
from shapecut.trace.paper import paper_mask
from shapecut.trace.partition import Prices
from shapecut.trace.raster import Points, Raster, lay_photo
from shapecut.trace.samples import RingSamples, sample_ring
from shapecut.trace.segment import Silhouette, find_template
from shapecut.trace.stations import Stations, stations_along, stations_round
from shapecut.trace.traced import BoundarySamples, Traced

__all__ = ["TraceSettings", "trace_template"]

_NONE_FOUND = (
    "No template stands out from the floor among the cards; lay it on a floor of another colour or"
    " lightness and photograph it again."
)
_NONE_SEEN = (
    "The edge of the template is nowhere to be seen clearly; photograph it again in even light on a"
    " floor that it contrasts with."
)
_LEAST_ROUND = 3
"""Fewer marks than this surround nothing."""
_LEAST_SAMPLES = 12
"""Fewer samples than this do not make a ring."""


@dataclass(frozen=True)
class TraceSettings:
    """How closely to look; none of it depends on the scene.

    Attributes:
        cells: Number of cells in which the template is looked for.
        margin: How far beyond the cards to look, as a fraction of their longer extent.
        wobble_mm: Standard deviation of a hand's cut about the line it followed; deviations of this
            size are not edges.
        spacing_px: Distance of boundary samples along the outline, in pixels of the picture that
            shows it largest; so far from a corner none is taken either, since the blur of one edge
            reaches into the other there.
        spacing_mm: (least, greatest) that distance may be in the plane.
    """

    cells: int = 400_000
    margin: float = 0.4
    wobble_mm: float = 0.3
    spacing_px: float = 6.0
    spacing_mm: tuple[float, float] = (1.0, 3.0)


def trace_template(
    photos: Sequence[Photo],
    survey: Survey,
    sightings: Sequence[Sighting] = (),
    settings: TraceSettings | None = None,
) -> Traced:
    """Trace the template that lies among the cards.

    Args:
        photos: All pictures of the job; `survey.views` refer to them by index.
        survey: How the pictures see the plane.
        sightings: The marks seen; their cards are kept out of the template.
        settings: How closely to look.

    Returns:
        The outline of the template's top face in the plane, and the evidence for it.

    Raises:
        TraceError: No template stands out, or it touches a picture's frame.
    """
    settings = settings or TraceSettings()
    raster, silhouette = _find(photos, survey, sightings, settings)
    traced, unseen = _trace_rings(photos, survey, raster, silhouette, settings)
    outer, *holes = (_measured(fitted, found, survey.point_u_mm) for fitted, found in traced)
    outline = named_outline(outer, holes)
    samples = tuple(
        BoundarySamples(photo, ring, px, mm, u_mm)
        for ring, (_, found) in enumerate(traced)
        for photo, px, mm, u_mm in found.by_picture
    )
    residuals = np.concatenate([fitted.residuals_mm for fitted, _ in traced])
    return Traced(
        outline,
        samples,
        float(np.sqrt(np.mean(residuals**2))),
        (*doubts(outline, [(fitted, found.spacing_mm) for fitted, found in traced]), *unseen),
    )


def _trace_rings(
    photos: Sequence[Photo],
    survey: Survey,
    raster: Raster,
    silhouette: Silhouette,
    settings: TraceSettings,
) -> tuple[list[tuple[FittedRing, RingSamples]], list[Finding]]:
    """The outer ring and the holes as fitted, and a finding for each hole that cannot be traced."""
    outer = stations_round(silhouette.mask, raster, hole=False)[:1]
    holes = stations_round(silhouette.holes, raster, hole=True)
    if not outer:
        raise TraceError(_NONE_FOUND)
    traced, unseen = [], []
    for rough in (*outer, *holes):
        ring = _trace_ring(photos, survey, rough, silhouette.colours, raster.cell_mm, settings)
        if ring is not None:
            traced.append(ring)
        elif not traced:
            raise TraceError(_NONE_SEEN)
        else:
            view = survey.views[0]
            middle = np.append(rough.places.mean(axis=0), survey.height_mm)
            place_px = view.px_from_mm(middle[None])[0]
            unseen.append(unseen_hole(photos[view.photo].name, place_px))
    return traced, unseen


def _measured(fitted: FittedRing, found: RingSamples, point_u_mm: float) -> list[Measured]:
    """Each edge with its standard uncertainty: of its fit, of cut faces seen and of the plane."""
    edges = []
    for curve, u_mm, index in zip(fitted.curves, fitted.u_mm, fitted.samples, strict=True):
        face_u2 = float(np.mean(found.face_u_mm[index] ** 2)) if len(index) else 0.0
        edges.append((curve, float(np.sqrt(u_mm**2 + face_u2 + point_u_mm**2))))
    return edges


def _find(
    photos: Sequence[Photo],
    survey: Survey,
    sightings: Sequence[Sighting],
    settings: TraceSettings,
) -> tuple[Raster, Silhouette]:
    """The raster and the template's silhouette on it."""
    height = survey.height_mm
    marks = [
        [view.mm_from_px(s.corners_px, height) for s in sightings if s.photo == view.photo]
        for view in survey.views
    ]
    if _surround(survey, sightings):
        reach = np.concatenate([corners for of_view in marks for corners in of_view])
        margin = settings.margin
    else:
        reach = np.concatenate([_frame(photos[view.photo], view) for view in survey.views])
        margin = 0.0
    raster = Raster.over(reach, margin=margin, cells=settings.cells)
    laid = [lay_photo(photos[view.photo], view, raster, height_mm=height) for view in survey.views]
    papers = [
        paper_mask(picture, raster, of_view) for picture, of_view in zip(laid, marks, strict=True)
    ]
    hull = cv2.convexHull(reach.astype(np.float32))[:, 0].astype(float)
    silhouette = find_template(laid, papers, raster.polygon_mask(hull))
    if silhouette is None:
        raise TraceError(_NONE_FOUND)
    _refuse_at_frame(photos, survey, raster, silhouette)
    return raster, silhouette


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


def _refuse_at_frame(
    photos: Sequence[Photo], survey: Survey, raster: Raster, silhouette: Silhouette
) -> None:
    """Raise TraceError when the silhouette reaches the end of what the pictures show."""
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
        f"{name}: the template reaches the {side} side of the picture; step back so that floor"
        " shows all round it."
    )


def _trace_ring(
    photos: Sequence[Photo],
    survey: Survey,
    rough: Stations,
    colours: Sequence[ColourModel],
    cell_mm: float,
    settings: TraceSettings,
) -> tuple[FittedRing, RingSamples] | None:
    """From rough stations to fitted curves.

    Once along the rough stations, once by colour along what was fitted, which puts corners and
    small arcs right, and once by light, whose samples lean on their neighbours along the curves.
    None where hardly any boundary is seen.
    """
    found = sample_ring(photos, survey, rough, colours, rough_crossings, reach_mm=4 * cell_mm)
    if len(found.places) < _LEAST_SAMPLES:
        return None
    # Rough stations cut corners by a fraction of a cell, which must not become edges.
    fitted = fit_ring(found.places, np.hypot(found.u_mm, cell_mm / 4), Prices(rounded=2))
    spacing_mm = _spacing(survey, found.places, settings)
    for crossings in (rough_crossings, sharp_crossings):
        stations = _along(fitted.curves, spacing_mm)
        found = sample_ring(photos, survey, stations, colours, crossings, reach_mm=1.5 * cell_mm)
        if len(found.places) < _LEAST_SAMPLES:
            return None
        fitted = fit_ring(found.places, np.hypot(found.u_mm, settings.wobble_mm))
    return fitted, found


def _spacing(survey: Survey, places: Points, settings: TraceSettings) -> float:
    """Distance of stations along a ring, mm."""
    middle = places.mean(axis=0)
    step = np.column_stack([[middle, middle + np.eye(2)[0]], np.full(2, survey.height_mm)])
    px_per_mm = max(
        float(np.hypot(*np.diff(view.px_from_mm(step), axis=0)[0])) for view in survey.views
    )
    return float(np.clip(settings.spacing_px / px_per_mm, *settings.spacing_mm))


def _along(curves: Sequence[Curve], spacing_mm: float) -> Stations:
    """Stations along curves, clear of their corners."""
    places, tangents = [], []
    for curve in curves:
        clear = min(spacing_mm / curve.length, 0.3)
        count = max(2, round(curve.length * (1 - 2 * clear) / spacing_mm))
        for fraction in np.linspace(clear, 1 - clear, count):
            places.append(curve.at(float(fraction)))
            tangents.append(curve.direction(float(fraction)))
    return stations_along(np.array(places), np.array(tangents), spacing_mm)
