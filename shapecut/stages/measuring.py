"""From pictures to a measured outline: capture, survey and trace, one after the other.

Takes and returns values; no file is read or written.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from shapecut.capture.cards import CardSet
from shapecut.capture.marks import marks_if_any
from shapecut.capture.originals import refuse_twins
from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.errors import ShapeError, TraceError
from shapecut.findings import Finding
from shapecut.job.reference import Reference
from shapecut.progress import Report, quiet, side_by_side
from shapecut.shape.outline import Outline
from shapecut.shape.validity import check_outline
from shapecut.stages.references import shared_points
from shapecut.stages.surveying import see_cards, survey_seen
from shapecut.survey.calibrated import CalibratedCamera
from shapecut.survey.scan import survey_scans
from shapecut.survey.survey import Survey
from shapecut.survey.tapes import Tape
from shapecut.trace.decisions import Decisions, decided
from shapecut.trace.drawn import Drawn, ShownAs
from shapecut.trace.levelled import levelled
from shapecut.trace.slab import Slab
from shapecut.trace.template_tapes import TemplateTape, scaled_by_tapes
from shapecut.trace.trace import trace_template
from shapecut.trace.traced import Traced

__all__ = ["Measured", "measure", "measure_scans"]

NO_DECISIONS = Decisions()
"""Everything as it was traced."""


@dataclass(frozen=True)
class Measured:
    """A measured template with everything it was measured from."""

    photos: tuple[Photo, ...]
    survey: Survey
    traced: Traced

    @property
    def outline(self) -> Outline:
        """The outline, its edges not yet treated."""
        return self.traced.outline

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What a fitter must know about the measurement."""
        return self.survey.findings + self.traced.findings

    def decided(self, decisions: Decisions) -> "Measured":
        """The same as a person decides about it; it was left as traced before.

        Raises:
            TraceError: If a decision names what is not there, or leaves no outline.
        """
        return replace(self, traced=decided(self.traced, decisions))


def measure(
    photos: Sequence[Photo],
    cards: CardSet,
    *,
    thickness_mm: float = 0.0,
    cards_on: Literal["floor", "template"] = "floor",
    shown: ShownAs | None = None,
    reference: Reference | None = None,
    tapes: Sequence[Tape] = (),
    template_tapes: Sequence[TemplateTape] = (),
    calibrated: CalibratedCamera | None = None,
    decisions: Decisions | None = NO_DECISIONS,
    report: Report = quiet,
) -> Measured:
    """Measure a template from photographs of it among reference cards.

    Args:
        photos: One or more photographs of the same template and cards, nothing moved between them.
        cards: The cards that may lie there.
        thickness_mm: Of the template.
        cards_on: Whether the cards lie on the floor beside the template, or on the template.
        shown: What the outline follows; a template's silhouette when not given.
        reference: Sheets of paper or taped points, beside the cards or for them.
        tapes: Distances taped between cards.
        template_tapes: Distances taped over the template, between corners of the level outline.
        calibrated: The camera of all photographs, where it was calibrated before.
        decisions: What the person decides about the outline, by the names of its edges; None leaves
            it as traced, for `Measured.decided`.
        report: Called with a few words before each step.

    Returns:
        The measured template; its plane is levelled (see `levelled`).

    Raises:
        CaptureError: Marks or sheets that cannot be used.
        SurveyError: Cards from which no plane can be measured.
        TraceError: No template, or one that cannot be followed.
    """
    surveyed = survey_seen(
        see_cards(photos, cards, reference=reference, report=report),
        height_mm=thickness_mm if cards_on == "floor" else 0.0,
        reference=reference,
        tapes=tapes,
        calibrated=calibrated,
        report=report,
    )
    shown = shown or ShownAs()
    beside = cards_on == "floor" and shown.drawn is not Drawn.OPENING
    slab = (Slab.beside_cards if beside else Slab.under_cards)(thickness_mm)
    measured = _traced(photos, surveyed.survey, surveyed.sightings, slab, shown, report)
    survey, traced = scaled_by_tapes(measured.survey, measured.traced, template_tapes)
    measured = replace(measured, survey=survey, traced=traced)
    return measured if decisions is None else measured.decided(decisions)


def measure_scans(
    scans: Sequence[Photo],
    cards: CardSet,
    *,
    shown: ShownAs | None = None,
    reference: Reference | None = None,
    decisions: Decisions | None = NO_DECISIONS,
    report: Report = quiet,
) -> Measured:
    """Measure a flat template from a scan of it, or from several that overlap.

    Args:
        scans: Of one template; cards fixed to it, or stated points, that two scans show join them.
        cards: The cards that may lie there; without any the scans' dpi are believed.
        shown: What the outline follows; a template's silhouette when not given.
        reference: Points that two scans show.
        decisions: What the person decides about the outline, by the names of its edges; None leaves
            it as traced, for `Measured.decided`.
        report: Called with a few words before each step.

    Raises:
        CaptureError: If a mark is seen at two places, or a scan is given twice.
        SurveyError: Scans without a scale, or that share too little.
        TraceError: No template, or one that cannot be followed.
    """
    refuse_twins(scans)
    report("surveying the scans")
    found = side_by_side(lambda index: marks_if_any(scans[index], index, cards), range(len(scans)))
    marks = [sighting for of_scan in found for sighting in of_scan.sightings]
    points = shared_points(scans, reference or Reference())
    survey = survey_scans(scans, [*marks, *points], relative_u=cards.relative_u)
    findings = tuple(finding for of_scan in found for finding in of_scan.findings)
    survey = replace(survey, findings=findings + survey.findings)
    measured = _traced(scans, survey, marks, Slab.beside_cards(0.0), shown or ShownAs(), report)
    return measured if decisions is None else measured.decided(decisions)


def _traced(
    photos: Sequence[Photo],
    survey: Survey,
    sightings: Sequence[Sighting],
    slab: Slab,
    shown: ShownAs,
    report: Report,
) -> Measured:
    report("tracing the template")
    traced = trace_template(photos, survey, sightings, slab, shown=shown)
    survey, traced = levelled(survey, traced)
    try:
        check_outline(traced.outline)
    except ShapeError as error:
        raise TraceError(
            f"The template's edge cannot be followed: {error} Sharper photographs, from nearer "
            "above, would show it."
        ) from None
    return Measured(tuple(photos), replace(survey, height_mm=traced.height_mm), traced)
