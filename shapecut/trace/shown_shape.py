"""The shape as it shows in the pictures, found coarsely, with how its outline is to be followed."""

from collections.abc import Sequence
from dataclasses import dataclass

from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import TraceError
from shapecut.findings import Finding
from shapecut.survey.survey import Survey
from shapecut.trace.drawn import Drawn, ShownAs
from shapecut.trace.line_profile import of_line
from shapecut.trace.locate import lay_out, locate_template, refuse_at_frame
from shapecut.trace.locate_findings import silhouette_findings
from shapecut.trace.locate_line import locate_line
from shapecut.trace.opening import find_opening
from shapecut.trace.raster import Raster
from shapecut.trace.ring import OF_TEMPLATE, EdgeFinders
from shapecut.trace.segment import Silhouette

__all__ = ["ShownShape", "find_shape"]

_NO_OPENING = (
    "No opening stands out from the frame among the cards; lay the cards on the frame's face all"
    " round the opening, with light on the face, and photograph it again."
)
_LINE_COARSE, _LEAST_COARSE_MM = 0.75, 2.0
"""How coarse a line is, as a share of its width, so that profiles reach well past both its sides;
and at least."""


@dataclass(frozen=True)
class ShownShape:
    """A shape found coarsely.

    Attributes:
        raster: Where it was looked for.
        silhouette: On the raster.
        coarse_mm: How far the silhouette may be off the outline, about.
        outer: How the outer ring is found across itself.
        hole: The same for holes.
        findings: What a fitter must know about it.
    """

    raster: Raster
    silhouette: Silhouette
    coarse_mm: float
    outer: EdgeFinders = OF_TEMPLATE
    hole: EdgeFinders = OF_TEMPLATE
    findings: tuple[Finding, ...] = ()


def find_shape(
    photos: Sequence[Photo],
    survey: Survey,
    sightings: Sequence[Sighting],
    shown: ShownAs,
    *,
    cells: int,
    margin: float,
) -> ShownShape:
    """Find the shape among the cards.

    Args:
        photos: All pictures of the job.
        survey: How they see the plane.
        sightings: The marks seen.
        shown: What the outline follows.
        cells: About how many cells to look for a template in.
        margin: How far beyond the cards to look, as a fraction of their longer extent.

    Raises:
        TraceError: No such shape, or one that cannot be followed all round.
    """
    if shown.drawn is Drawn.LINE:
        line = locate_line(photos, survey, sightings, margin=margin)
        outer, hole = (of_line(shown.line_side, hole=hole) for hole in (False, True))
        coarse = max(_LEAST_COARSE_MM, _LINE_COARSE * line.width_mm)
        return ShownShape(line.raster, line.silhouette, coarse, outer, hole, line.findings)
    if shown.drawn is Drawn.OPENING:
        laid = lay_out(photos, survey, sightings, cells=cells, margin=margin)
        opening = find_opening(laid.pictures, laid.papers, laid.middle, laid.raster.cell_mm)
        if opening is None:
            raise TraceError(_NO_OPENING)
        refuse_at_frame(
            photos, survey, laid.raster, opening, shape="opening", around="the frame's face"
        )
        return ShownShape(laid.raster, opening, laid.raster.cell_mm)
    raster, silhouette = locate_template(
        photos, survey, sightings, shown.hints, cells=cells, margin=margin
    )
    findings = silhouette_findings(photos, survey, raster, silhouette)
    return ShownShape(raster, silhouette, raster.cell_mm, findings=findings)
