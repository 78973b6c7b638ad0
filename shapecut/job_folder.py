"""A job folder and the stages: reads what a job names, writes what the stages found.

JOB/job.toml, photographs   what the person gives
JOB/measured/               `measure`: outline.json, flat and overlaid pictures
JOB/planned/                `plan`: plan.json, plan.svg, cut-list.csv, offcuts.toml
JOB/cut/                    `make`: everything
"""

import shutil
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Literal

from shapecut.capture.photo import read_photo
from shapecut.capture.photos import read_photos
from shapecut.drawings.drawn_outline import GivenOutline
from shapecut.drawings.outline_import import imported_outline
from shapecut.drawings.outline_units import UnitName
from shapecut.errors import JobFileError, UsageError
from shapecut.job.job import LONGEST_TITLE, Job
from shapecut.job.new_job import SAMPLE_OUTLINE, job_text
from shapecut.job.offcut_file import read_offcuts
from shapecut.job.reading import JOB_FILE, job_from_text, read_job
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.papers.folder import whole_file, whole_folder
from shapecut.papers.json_text import readable_json
from shapecut.papers.machining import machining_findings
from shapecut.progress import Report, quiet
from shapecut.results import (
    OUTLINE_FILE,
    Made,
    Pictures,
    pictures_of,
    write_outline,
    write_papers,
    write_pictures,
    write_plan,
    write_report,
)
from shapecut.stages.boarding import Boarding
from shapecut.stages.carpentry import edging_rules
from shapecut.stages.fitting_out import FittingTables, fitted_out
from shapecut.stages.measuring import Measured, measure, measure_scans
from shapecut.stages.planning import Plan, planned, rows_alone, treated
from shapecut.stages.surveying import card_set, card_tapes
from shapecut.stages.taped_outline import taped_outline
from shapecut.stock.cutplan import Offcut
from shapecut.survey.camera_file import read_camera
from shapecut.trace.decisions import Decisions
from shapecut.trace.template_tapes import TemplateTape
from shapecut.units import LengthStyle

__all__ = [
    "job_decisions",
    "job_outline",
    "job_planned",
    "job_rows",
    "job_supports",
    "job_traced",
    "make_into",
    "make_run",
    "measure_into",
    "new_job",
    "plan_into",
]

MEASURED = "measured"


def new_job(
    folder: Path,
    photos: Sequence[Path],
    *,
    title: str | None = None,
    units: Literal["mm", "in"] = "mm",
) -> None:
    """Start a job: a folder with a commented job.toml and copies of the photographs.

    It is called by the title, or by the folder's name.  Where the folder exists already and holds
    the photographs, only the job file is added.

    Raises:
        UsageError: If the folder has a job or other photographs, or two photographs share a name.
        JobFileError: If the title is none that a job can have.
        CaptureError: If a photograph is not a picture that can be measured.
        OutputError: If it cannot be written.
    """
    names = [photo.name for photo in photos]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise UsageError(f"Two photographs are called {twice}: rename one of them.")
    taken = next((name for name in names if name in (JOB_FILE, OUTLINE_FILE)), None)
    if taken:
        raise UsageError(f"A photograph cannot be called {taken} in a job: rename it.")
    for photo in photos:
        read_photo(photo)
    text = job_text(
        title or folder.resolve().name[:LONGEST_TITLE],
        names,
        outline=None if photos else OUTLINE_FILE,
        units=units,
    )
    job_from_text(text)
    if folder.is_dir():
        _add_job(folder, photos, text.encode())
        return
    with whole_folder(folder, replace=False, keep=True) as draft:
        (draft / JOB_FILE).write_bytes(text.encode())
        for photo in photos:
            shutil.copyfile(photo, draft / photo.name)
        if not photos:
            (draft / OUTLINE_FILE).write_text(readable_json(SAMPLE_OUTLINE), encoding="utf-8")


def _add_job(folder: Path, photos: Sequence[Path], text: bytes) -> None:
    if (folder / JOB_FILE).exists():
        raise UsageError(f"{folder} has a {JOB_FILE} already: change that, or name a new folder.")
    elsewhere = [photo for photo in photos if photo.resolve().parent != folder.resolve()]
    if elsewhere or not photos:
        what = f"{elsewhere[0]} lies elsewhere" if elsewhere else "no photograph was named"
        raise UsageError(
            f"{folder} exists already and {what}: name a folder that does not exist yet, or only "
            "photographs in that folder."
        )
    whole_file(folder / JOB_FILE, text, replace=False)


def measure_into(folder: Path, out: Path, *, replace: bool, report: Report = quiet) -> Measured:
    """Measure a job's template and write outline.json and the pictures to judge it by.

    Raises:
        ShapecutError: Whatever is wrong with the job, its photographs or the output folder.
    """
    job = read_job(folder)
    if job.template.is_outline:
        raise JobFileError(
            f"{JOB_FILE}: the template's outline is given already: there is nothing to measure; "
            "run `shapecut plan` or `shapecut make`."
        )
    _refuse_over_job(folder, out)
    with whole_folder(out, replace=replace) as draft:
        measured = _measured(folder, job, report)
        report("writing")
        outline = treated(measured.outline, job.edges)
        write_outline(draft, outline, measured, measured.traced.setting_out)
        write_pictures(draft, measured, outline, pictures_of(measured, outline))
    return measured


def plan_into(
    folder: Path,
    out: Path,
    *,
    outline_path: Path | None = None,
    replace: bool,
    report: Report = quiet,
) -> Made:
    """Plan the boards on a measured or typed outline and write plan.json, plan.svg and the lists.

    Args:
        folder: The job's.
        out: Where to write.
        outline_path: An outline's file; None for what the job gives, or the measured one.
        replace: Whether `out` may be replaced.
        report: Told of each step.

    Raises:
        ShapecutError: Whatever is wrong with the job, the outline or the output folder.
    """
    job = read_job(folder)
    given = _given(folder, job, outline_path)
    _refuse_over_job(folder, out)
    with whole_folder(out, replace=replace) as draft:
        made = _made(folder, job, None, given, report)
        report("writing")
        write_outline(draft, made.plan.outline, None, made.setting_out)
        write_plan(draft, made)
    return made


def make_into(folder: Path, out: Path, *, replace: bool, report: Report = quiet) -> Made:
    """Measure, plan and write everything into one folder.

    Raises:
        ShapecutError: Whatever is wrong with the job, its photographs or the output folder.
    """
    job = read_job(folder)
    _refuse_over_job(folder, out)
    with whole_folder(out, replace=replace) as draft:
        measured = None if job.template.is_outline else _measured(folder, job, report)
        given = (
            GivenOutline(measured.outline, marks=measured.traced.setting_out)
            if measured
            else _given(folder, job, None)
        )
        made = _made(folder, job, measured, given, report)
        report("writing")
        outline = made.plan.outline

        def pictures() -> Pictures:
            if not measured:
                return Pictures()
            drawn = pictures_of(measured, outline)
            write_pictures(draft, measured, outline, drawn)
            return drawn

        # Pictures are OpenCV's work, which lets Python write the papers meanwhile.
        with ThreadPoolExecutor(max_workers=1) as beside:
            drawn = beside.submit(pictures)
            write_outline(draft, outline, measured, made.setting_out)
            write_plan(draft, made)
            write_papers(draft, made)
        write_report(draft, made, drawn.result())
    return made


def make_run(example: Path, folder: Path, *, replace: bool, report: Report = quiet) -> Made:
    """Copy an example job into a new folder and make it there, in `cut`.

    Raises:
        ShapecutError: If the folder exists or cannot be written.
    """
    with whole_folder(folder, replace=replace) as draft:
        for source in sorted(example.iterdir()):
            shutil.copyfile(source, draft / source.name)
        return make_into(draft, draft / "cut", replace=False, report=report)


def job_outline(folder: Path, job: Job) -> GivenOutline:
    """The outline that a job gives, or that `measure` left in its folder.

    Raises:
        ShapecutError: If there is none yet, or none that can be read.
    """
    return _given(folder, job, None)


def job_rows(job: Job, given: GivenOutline) -> Layout:
    """The rows of a job's boards on an outline, without the boards to buy.

    Raises:
        ShapecutError: Edges that the outline lacks, boards that cannot be laid.
    """
    return rows_alone(treated(given.outline, job.edges), _boarding(job, given))


def job_supports(job: Job, given: GivenOutline, layout: Layout) -> Supports | None:
    """What carries the rows of a job; None where it states no joists.

    Raises:
        LayoutError: Joists that cannot be, or that run along the rows.
    """
    return _boarding(job, given).supports(given.outline, layout)


def job_planned(folder: Path, job: Job, given: GivenOutline, report: Report = quiet) -> Made:
    """Everything of a job but its measurement and its files.

    Raises:
        ShapecutError: Boards that cannot be laid, cut or fitted out.
    """
    return _made(folder, job, None, given, report)


def job_traced(folder: Path, job: Job, report: Report = quiet) -> Measured:
    """Measure a job's template as its pictures show it, the person's decisions left out.

    Raises:
        ShapecutError: Whatever is wrong with the pictures.
    """
    template = job.template
    if not template.pictures:
        raise JobFileError(
            f"{JOB_FILE}: template.photos names no photograph yet: put some beside it, and name "
            "them there."
        )
    cards = card_set(job.cards)
    report("reading the pictures")
    photos = read_photos([folder / name for name in template.pictures])
    if not template.photos:
        return measure_scans(
            photos,
            cards,
            shown=template.shown,
            reference=job.reference,
            decisions=None,
            report=report,
        )
    return measure(
        photos,
        cards,
        thickness_mm=template.thickness,
        cards_on=template.cards_on,
        shown=template.shown,
        reference=job.reference,
        tapes=card_tapes(job.cards),
        template_tapes=[
            TemplateTape(*tape.between, tape.length, tape.u) for tape in template.tapes
        ],
        calibrated=read_camera(folder / template.camera) if template.camera else None,
        decisions=None,
        report=report,
    )


def job_decisions(job: Job) -> Decisions:
    """What the job decides about the traced outline."""
    return Decisions(tuple(table.correction for table in job.corrections), job.template.regular)


def _measured(folder: Path, job: Job, report: Report) -> Measured:
    return job_traced(folder, job, report).decided(job_decisions(job))


def _refuse_over_job(folder: Path, out: Path) -> None:
    """A result never takes the place of the job it is made from."""
    job, result = folder.resolve(), out.resolve()
    if result == job or result in job.parents:
        raise UsageError(f"{out} holds the job itself: name a folder inside it, or elsewhere.")


def _given(folder: Path, job: Job, path: Path | None) -> GivenOutline:
    """The outline in a file, or as the job gives it, or as `measure` left it."""
    template = job.template
    if path:
        return _read_outline(path)
    if template.taped:
        return taped_outline(template.taped, _length_style(job))
    if template.outline:
        return _read_outline(
            folder / template.outline, units=template.outline_units, layers=template.outline_layers
        )
    path = folder / MEASURED / OUTLINE_FILE
    if not path.exists():
        raise JobFileError(
            f"{folder} has no measured outline yet: run `shapecut measure {folder}` first, or name "
            "one with --outline."
        )
    return _read_outline(path)


def _read_outline(
    path: Path, *, units: UnitName | None = None, layers: Sequence[str] = ()
) -> GivenOutline:
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise JobFileError(f"The outline {path} cannot be read: {reason}.") from None
    return imported_outline(data, path.name, units=units, layers=layers)


def _made(
    folder: Path, job: Job, measured: Measured | None, given: GivenOutline, report: Report
) -> Made:
    """The boards planned on an outline, and what is fitted besides them."""
    made = _planned(folder, job, given, report)
    tables = FittingTables(job.fasteners, job.fascia, job.points, job.strips, job.blocking)
    fittings = fitted_out(
        made, job.boards, tables, kerf_mm=job.stock.kerf, lengths=_length_style(job)
    )
    return Made(job, measured, made, given.findings, fittings, given.marks)


def _planned(folder: Path, job: Job, given: GivenOutline, report: Report) -> Plan:
    report("laying out the boards")
    on_hand = read_offcuts(folder / job.stock.offcuts) if job.stock.offcuts else ()
    boarding = _boarding(job, given, on_hand)
    made = planned(treated(given.outline, job.edges), boarding)
    return made.noting(
        machining_findings(made.layout, made.cut_plan, job.papers.bit, boarding.lengths)
    )


def _boarding(job: Job, given: GivenOutline, on_hand: Sequence[Offcut] = ()) -> Boarding:
    """How a job lays its boards, with offcuts that are there besides those that it states."""
    written = _length_style(job)
    return Boarding(
        job.boards,
        job.allowances,
        job.stock,
        joists=job.joists,
        joints=job.joints,
        saw=job.saw,
        on_hand=on_hand,
        edging=edging_rules(job.border, job.breakers, job.left_long, written),
        marks=given.marks,
        lengths=written,
    )


def _length_style(job: Job) -> LengthStyle:
    """How sentences about the boards write lengths."""
    return LengthStyle(job.papers.units, job.papers.fraction)
