"""The files of a job: which result goes into which file, under which name."""

import re
from dataclasses import dataclass, field
from pathlib import Path

from shapecut import __version__
from shapecut.findings import Finding
from shapecut.job.job import Job
from shapecut.job.offcut_file import OFFCUTS_FILE, offcuts_text
from shapecut.papers.closeups import Closeup, closeups
from shapecut.papers.cut_list import buying_list_csv, cut_list_csv
from shapecut.papers.drill_list import drill_marks_csv
from shapecut.papers.fittings_drawing import with_fittings
from shapecut.papers.json_text import readable_json
from shapecut.papers.layout_drawing import drawing_of_layout, name_height
from shapecut.papers.markup import Lengths
from shapecut.papers.material_list import materials_csv, ways_of_buying_csv
from shapecut.papers.overlay import Overlay, overlays
from shapecut.papers.plan_records import plan_file
from shapecut.papers.records import job_result, outline_result
from shapecut.papers.rectified import flat_picture_jpeg, rectified_picture
from shapecut.papers.report import ReportSettings, report_html
from shapecut.papers.setting_out import with_setting_out
from shapecut.papers.svg import drawing_svg
from shapecut.progress import side_by_side
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.shape.outline_file import outline_record
from shapecut.shape.setting_out import SettingOut
from shapecut.stages.measuring import Measured
from shapecut.stages.planning import Plan
from shapecut.stock.materials import Fittings
from shapecut.survey.view import View

__all__ = [
    "OUTLINE_FILE",
    "Made",
    "Pictures",
    "pictures_of",
    "write_outline",
    "write_papers",
    "write_pictures",
    "write_plan",
    "write_report",
]

OUTLINE_FILE = "outline.json"

FLAT_MARGIN_MM = 100.0
"""How far round the outline the flat picture reaches."""

FLAT_MM_PER_PX = 0.5
"""Scale of the flat picture, which is for the eye only."""

OVERLAY_BYTES = 750_000
"""All overlaid photographs together; in the report's base64 they grow by a third."""


@dataclass(frozen=True)
class Made:
    """A whole job, done.

    Attributes:
        job: As the person decided it.
        measured: Its measurement; None for a given outline.
        plan: Rows, pieces and boards.
        of_outline: What is to be known of a given outline.
        fittings: What is fitted besides the boards, and all materials.
        setting_out: What was marked on the template.
    """

    job: Job
    measured: Measured | None
    plan: Plan
    of_outline: tuple[Finding, ...] = ()
    fittings: Fittings = field(default_factory=Fittings)
    setting_out: SettingOut = field(default_factory=SettingOut)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All there is to know."""
        measured = self.measured.findings if self.measured else ()
        return self.of_outline + measured + self.plan.findings + self.fittings.findings


@dataclass(frozen=True)
class Pictures:
    """The photographs reduced, to judge an outline by.

    Attributes:
        overlays: With the outline drawn over them.
        closeups: The places that findings ask to look at.
    """

    overlays: tuple[Overlay, ...] = ()
    closeups: tuple[Closeup, ...] = ()


def pictures_of(measured: Measured, outline: Outline) -> Pictures:
    """Draw an outline over the photographs that it was measured in."""
    photos, survey = measured.photos, measured.survey
    return Pictures(
        overlays(photos, survey, outline, largest_bytes=OVERLAY_BYTES),
        closeups(photos, survey, outline, measured.findings),
    )


def write_outline(
    draft: Path, outline: Outline, measured: Measured | None, marks: SettingOut
) -> None:
    """Write outline.json with the marks on the template; of a measured one, how it was measured."""
    if measured:
        names = tuple(photo.name for photo in measured.photos)
        record = outline_result(outline, names, measured.survey, measured.traced)
    else:
        record = outline_record(outline, marks)
    (draft / OUTLINE_FILE).write_text(readable_json(record), encoding="utf-8")


def write_pictures(draft: Path, measured: Measured, outline: Outline, pictures: Pictures) -> None:
    """Write the pictures to judge an outline by, and each photograph seen from straight above."""
    left, low, right, high = bounds(edge.curve for edge in outline.outer.edges)
    around = (
        left - FLAT_MARGIN_MM, low - FLAT_MARGIN_MM, right + FLAT_MARGIN_MM, high + FLAT_MARGIN_MM
    )  # fmt: skip
    for number, closeup in enumerate(pictures.closeups, 1):
        where = re.sub(r"\W+", "-", closeup.finding.where)
        (draft / f"look-at-{number}-{where}.jpg").write_bytes(closeup.jpeg)
    for picture in pictures.overlays:
        (draft / f"outline-over-{_stem(picture.photo)}.jpg").write_bytes(picture.jpeg)

    def write_flat(view: View) -> None:
        photo = measured.photos[view.photo]
        flat = rectified_picture(
            photo, view, around, mm_per_px=FLAT_MM_PER_PX, height_mm=measured.survey.height_mm
        )
        (draft / f"flat-{_stem(photo.name)}.jpg").write_bytes(flat_picture_jpeg(flat))

    side_by_side(write_flat, measured.survey.views)


def _stem(photo: str) -> str:
    """A photograph's name without its .jpg; other endings stay, so that names stay apart."""
    return photo.removesuffix(".jpg")


def write_plan(draft: Path, made: Made) -> None:
    """Write plan.json, plan.svg, the lists and what is left over."""
    layout, cut_plan, fittings = made.plan.layout, made.plan.cut_plan, made.fittings
    fraction = made.job.papers.fraction
    name_mm = name_height(layout)
    drawing = drawing_of_layout(layout, made.job.title)
    drawing = with_setting_out(drawing, made.setting_out, name_mm=name_mm)
    drawing = with_fittings(drawing, fittings, name_mm=name_mm)
    (draft / "plan.svg").write_text(drawing_svg(drawing), encoding="utf-8")
    (draft / "cut-list.csv").write_bytes(cut_list_csv(layout, cut_plan, denominator=fraction))
    (draft / "boards-to-buy.csv").write_bytes(buying_list_csv(cut_plan, denominator=fraction))
    (draft / OFFCUTS_FILE).write_text(offcuts_text(cut_plan.left_over), encoding="utf-8")
    materials = materials_csv(fittings.materials, denominator=fraction)
    (draft / "materials.csv").write_bytes(materials)
    if ways := made.plan.alternatives:
        listed = ways_of_buying_csv(ways, denominator=fraction)
        (draft / "ways-of-buying.csv").write_bytes(listed)
    marks = drill_marks_csv(
        layout,
        cut_plan,
        fittings,
        points=made.setting_out.points,
        point_mm=made.job.papers.point_drill,
        denominator=fraction,
    )
    if marks:
        (draft / "drill-marks.csv").write_bytes(marks)
    plan = plan_file(
        layout,
        cut_plan,
        supports=made.plan.supports,
        trials=made.plan.trials,
        edging=made.plan.edging,
        fittings=fittings,
    )
    record = plan.model_dump(mode="json", by_alias=True)
    (draft / "plan.json").write_text(readable_json(record), encoding="utf-8")


def write_papers(draft: Path, made: Made) -> None:
    """Write what goes to the saw and the machine."""
    # Loads ezdxf and reportlab, a fifth of all imports, which only `make` needs.
    from shapecut.shop_papers import write_shop_papers

    job = made.job
    write_shop_papers(
        draft,
        made.plan,
        job.papers,
        title=job.title,
        marked=made.setting_out,
        fittings=made.fittings,
    )


def write_report(draft: Path, made: Made, pictures: Pictures) -> None:
    """Write the report and job.json."""
    (draft / "report.html").write_text(_report(made, pictures), encoding="utf-8")
    (draft / "job.json").write_text(readable_json(_result(made)), encoding="utf-8")


def _report(made: Made, pictures: Pictures) -> str:
    job, measured = made.job, made.measured
    return report_html(
        title=job.title,
        outline=made.plan.outline,
        of_outline=made.of_outline,
        layout=made.plan.layout,
        plan=made.plan.cut_plan,
        supports=made.plan.supports,
        trials=made.plan.trials,
        alternatives=made.plan.alternatives,
        edging=made.plan.edging,
        fittings=made.fittings,
        overlays=pictures.overlays,
        closeups=pictures.closeups,
        survey=measured.survey if measured else None,
        traced=measured.traced if measured else None,
        marked=made.setting_out,
        settings=ReportSettings(
            lengths=Lengths(job.papers.units, job.papers.fraction),
            currency=job.stock.currency,
            allowances=tuple(made.plan.allowances.items()),
            point_mm=job.papers.point_drill,
        ),
    )


def _result(made: Made) -> object:
    measured = made.measured
    result = job_result(
        version=__version__,
        title=made.job.title,
        settings=made.job.model_dump(mode="json"),
        photo_names=tuple(photo.name for photo in measured.photos) if measured else (),
        survey=measured.survey if measured else None,
        traced=measured.traced if measured else None,
        outline=made.plan.outline,
        marked=made.setting_out,
        of_outline=made.of_outline,
        layout=made.plan.layout,
        cut_plan=made.plan.cut_plan,
        supports=made.plan.supports,
        trials=made.plan.trials,
        edging=made.plan.edging,
        fittings=made.fittings,
    )
    return result.model_dump(mode="json", by_alias=True)
