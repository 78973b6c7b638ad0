"""The tracing stage: photographs and their survey in, the template's outline out."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import TraceError
from shapecut.findings import Finding
from shapecut.shape.naming import named_outline
from shapecut.shape.setting_out import SettingOut
from shapecut.survey.survey import Survey
from shapecut.trace.doubts import passing, unseen_hole
from shapecut.trace.drawn import Drawn, ShownAs
from shapecut.trace.edge_uncertainty import edge_uncertainties
from shapecut.trace.hints import floor_places
from shapecut.trace.locate import NONE_FOUND
from shapecut.trace.raster import Points
from shapecut.trace.ring import Closeness, TracedRing, retrace_ring, trace_ring
from shapecut.trace.samples import Pictures
from shapecut.trace.second_rim import second_rims
from shapecut.trace.setting_out_marks import find_setting_out
from shapecut.trace.shown_shape import ShownShape, find_shape
from shapecut.trace.sight import refuse_unseen_corners
from shapecut.trace.slab import Slab, refuse_too_thick
from shapecut.trace.stations import stations_round, thinned
from shapecut.trace.thickness import measured_slab, thickness_findings
from shapecut.trace.traced import BoundarySamples, Traced

__all__ = ["TraceSettings", "trace_template"]

_NONE_SEEN = (
    "The edge of the template is nowhere to be seen clearly; photograph it again in even light on a"
    " floor that it contrasts with."
)
_SETTLED_MM = 0.1
"""A change of the template's thickness below which the samples need not be taken again."""
_THICKNESS_ROUNDS = 3
"""Times the samples are taken again, at most."""


@dataclass(frozen=True)
class TraceSettings:
    """How closely to look; none of it depends on the scene.

    Attributes:
        cells: Number of cells in which the template is looked for.
        margin: How far beyond the cards to look, as a fraction of their longer extent.
        closeness: How closely to look along the boundary.
    """

    cells: int = 400_000
    margin: float = 0.4
    closeness: Closeness = field(default_factory=Closeness)


def trace_template(
    photos: Sequence[Photo],
    survey: Survey,
    sightings: Sequence[Sighting] = (),
    slab: Slab | None = None,
    settings: TraceSettings | None = None,
    shown: ShownAs | None = None,
) -> Traced:
    """Trace the template that lies among the cards.

    Args:
        photos: All pictures of the job; `survey.views` refer to them by index.
        survey: How the pictures see the plane.
        sightings: The marks seen; their cards are kept out of the template.
        slab: The template's thickness and where the cards lie; on the floor beside a template as
            thick as `survey.height_mm` when not given.
        settings: How closely to look.
        shown: What the outline follows; a template's silhouette when not given.

    Returns:
        The outline of the template's top face in the plane, and the evidence for it.

    Raises:
        TraceError: No template stands out, it touches a picture's frame, it is too thick for the
            cameras, or its edges meet where no picture shows it.
    """
    settings, shown = settings or TraceSettings(), shown or ShownAs()
    stated = slab or Slab.beside_cards(survey.height_mm)
    refuse_too_thick(stated, photos, survey.views)
    shape = find_shape(
        photos,
        survey,
        sightings,
        shown,
        cells=settings.cells,
        margin=settings.margin,
    )
    found = shape.silhouette
    pictures = Pictures(
        tuple(photos),
        survey.views,
        found.colours,
        found.hidden,
        floor_places(shown.hints, photos, survey),
    )
    outer, slab = _trace_outer(pictures, stated, shape, survey, settings.closeness)
    holes, unseen = _trace_holes(pictures, slab, shape, settings.closeness)
    rings = [outer, *holes]
    first, *others = (
        list(zip(ring.fitted.curves, edge_uncertainties(ring, survey, slab), strict=True))
        for ring in rings
    )
    outline = named_outline(first, others)
    refuse_unseen_corners(outline, shape.raster, pictures, slab.top_mm)
    marked, noted = SettingOut(), tuple[Finding, ...]()
    if shown.setting_out:
        marked, noted = find_setting_out(pictures, survey, sightings, outline, slab)
    if shown.drawn is Drawn.OPENING:
        noted = (*noted, *second_rims(pictures, outline))
    passed = [
        passing(each, *_in_first(pictures, each.place, slab.top_mm))
        for ring in rings
        for each in ring.passed
    ]
    residuals = np.concatenate([ring.fitted.residuals_mm for ring in rings])
    return Traced(
        outline,
        _boundary_samples(rings),
        float(np.sqrt(np.mean(residuals**2))),
        slab.top_mm,
        (*thickness_findings(stated, slab), *shape.findings, *unseen, *passed, *noted),
        setting_out=marked,
    )


def _trace_outer(
    pictures: Pictures,
    stated: Slab,
    shape: ShownShape,
    survey: Survey,
    closeness: Closeness,
) -> tuple[TracedRing, Slab]:
    """The outer ring, and the slab with the thickness that the pictures together put it at."""
    rough = stations_round(shape.silhouette.mask, shape.raster, hole=False)[:1]
    if not rough:
        raise TraceError(NONE_FOUND)
    stations = thinned(rough[0], shape.coarse_mm / 3)
    ring = trace_ring(pictures, stated, stations, shape.coarse_mm, closeness, shape.outer)
    if ring is None:
        raise TraceError(_NONE_SEEN)
    slab = measured_slab(stated, stated.top_mm, ring.samples, survey.point_u_mm)
    looked_at = stated
    for _ in range(_THICKNESS_ROUNDS):
        if abs(slab.top_mm - looked_at.top_mm) < _SETTLED_MM:
            break
        again = retrace_ring(
            pictures, slab, ring.fitted.curves, shape.coarse_mm, closeness, shape.outer
        )
        if again is None:
            break
        taken = tuple(each for each in ring.passed if each.taken)
        ring, looked_at = replace(again, passed=(*taken, *again.passed)), slab
        slab = measured_slab(stated, looked_at.top_mm, ring.samples, survey.point_u_mm)
    return ring, replace(slab, top_mm=looked_at.top_mm)


def _trace_holes(
    pictures: Pictures,
    slab: Slab,
    shape: ShownShape,
    closeness: Closeness,
) -> tuple[list[TracedRing], list[Finding]]:
    """The holes as fitted, and a finding for each that cannot be traced."""
    traced, unseen = [], []
    for rough in stations_round(shape.silhouette.holes, shape.raster, hole=True):
        stations = thinned(rough, shape.coarse_mm / 3)
        ring = trace_ring(pictures, slab, stations, shape.coarse_mm, closeness, shape.hole)
        if ring is not None:
            traced.append(ring)
        else:
            unseen.append(unseen_hole(*_in_first(pictures, rough.places.mean(axis=0), slab.top_mm)))
    return traced, unseen


def _in_first(
    pictures: Pictures, place: Sequence[float] | Points, height_mm: float
) -> tuple[str, Points]:
    """Name of the first picture, and the (2,) pixel that shows a place."""
    view = pictures.views[0]
    px = view.px_from_mm(np.append(np.asarray(place, float), height_mm)[None])
    return pictures.photos[view.photo].name, px[0]


def _boundary_samples(rings: Sequence[TracedRing]) -> tuple[BoundarySamples, ...]:
    return tuple(
        BoundarySamples(
            seen.photo,
            number,
            seen.px[seen.found],
            seen.mm[seen.found],
            np.hypot(seen.u_mm, seen.shared_u_mm)[seen.found],
        )
        for number, ring in enumerate(rings)
        for seen in ring.samples.pictures
    )
