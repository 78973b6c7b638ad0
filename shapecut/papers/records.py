"""`job.json` and a measured `outline.json`: every computed value, with published schemas."""

from collections.abc import Sequence
from typing import Any

from pydantic import BaseModel, Field

from shapecut.findings import Finding
from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.edging import Edging
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.papers.finding_records import FindingRecord, finding_records
from shapecut.papers.measurement_records import MeasurementRecord, measurement_record
from shapecut.papers.plan_records import FORMAT_VERSION, PlanFile, plan_file
from shapecut.shape.outline import Outline
from shapecut.shape.outline_file import OutlineFile, outline_record
from shapecut.shape.setting_out import SettingOut
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.materials import Fittings
from shapecut.survey.survey import Survey
from shapecut.trace.traced import Traced

__all__ = ["JobResult", "job_result", "outline_result"]


class JobResult(BaseModel):
    """The whole of `job.json`."""

    version: int = FORMAT_VERSION
    shapecut: str = Field(description="version of the program that computed it")
    title: str
    settings: dict[str, Any] = Field(description="the job file as read, lengths in mm")
    measurement: MeasurementRecord | None = Field(description="null for an outline that was given")
    outline: OutlineFile
    outline_findings: tuple[FindingRecord, ...] = Field(
        (), description="on an outline that was given: from a file, or taped"
    )
    plan: PlanFile


def outline_result(
    outline: Outline, photo_names: tuple[str, ...], survey: Survey, traced: Traced
) -> dict[str, Any]:
    """Gather a measured outline into `outline.json`, with how it was measured under its own key."""
    measurement = measurement_record(photo_names, survey, traced)
    record = outline_record(outline, traced.setting_out)
    return record | {"measurement": measurement.model_dump(mode="json")}


def job_result(
    *,
    version: str,
    title: str,
    settings: dict[str, Any],
    photo_names: tuple[str, ...],
    survey: Survey | None,
    traced: Traced | None,
    outline: Outline,
    marked: SettingOut,
    layout: Layout,
    cut_plan: CutPlan,
    supports: Supports | None = None,
    trials: Sequence[DirectionTrial] = (),
    edging: Edging | None = None,
    fittings: Fittings | None = None,
    of_outline: tuple[Finding, ...] = (),
) -> JobResult:
    """Gather everything into `job.json`."""
    measurement = measurement_record(photo_names, survey, traced) if survey and traced else None
    return JobResult(
        shapecut=version,
        title=title,
        settings=settings,
        measurement=measurement,
        outline=OutlineFile.model_validate(outline_record(outline, marked)),
        outline_findings=finding_records(of_outline),
        plan=plan_file(
            layout, cut_plan, supports=supports, trials=trials, edging=edging, fittings=fittings
        ),
    )
