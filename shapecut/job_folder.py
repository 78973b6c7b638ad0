"""A job folder and the stages: reads what a job names, writes what the stages found.

JOB/job.toml, photographs   what the person gives
JOB/measured/               `measure`: outline.json, flat and overlaid pictures
JOB/planned/                `plan`: plan.json, plan.svg, cut-list.csv
JOB/cut/                    `make`: everything
"""

import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from shapecut import __version__
from shapecut.capture.photo import Photo, read_photo
from shapecut.errors import JobFileError, UsageError
from shapecut.findings import Finding
from shapecut.job import JOB_FILE, Job, read_job
from shapecut.measuring import Measured, card_set, measure, measure_scan
from shapecut.new_job import SAMPLE_OUTLINE, job_text
from shapecut.papers.cut_list import buying_list_csv, cut_list_csv
from shapecut.papers.drawing import drawing_of_layout, drawing_of_piece
from shapecut.papers.dxf import drawing_dxf
from shapecut.papers.folder import whole_file, whole_folder
from shapecut.papers.json_text import readable_json
from shapecut.papers.markup import Lengths
from shapecut.papers.overlay import overlay_jpeg
from shapecut.papers.records import job_result, outline_result, plan_file
from shapecut.papers.rectified import flat_picture_jpeg, rectified_picture
from shapecut.papers.report import ReportSettings, report_html
from shapecut.papers.svg import drawing_svg
from shapecut.papers.tiles import tiles_pdf
from shapecut.planning import Plan, plan, treated
from shapecut.progress import Report, quiet
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.shape.outline_file import outline_from_text

__all__ = ["Made", "make_into", "make_run", "measure_into", "new_job", "plan_into"]

MEASURED = "measured"
OUTLINE_FILE = "outline.json"

FLAT_MARGIN_MM = 100.0
"""How far round the outline the flat picture reaches."""

FLAT_MM_PER_PX = 0.5
"""Scale of the flat picture, which is for the eye only."""

OVERLAY_BYTES = 1_000_000
"""Size to which the overlaid photograph of `measure` is reduced."""


@dataclass(frozen=True)
class Made:
    """A whole job, done: its measurement (None for a given outline) and its plan."""

    job: Job
    measured: Measured | None
    plan: Plan

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All there is to know."""
        return (self.measured.findings if self.measured else ()) + self.plan.findings


def new_job(folder: Path, photos: Sequence[Path], *, title: str) -> None:
    """Start a job: a folder with a commented job.toml and copies of the photographs.

    Where the folder exists already and holds the photographs, only the job file is added.

    Raises:
        UsageError: If the folder has a job or other photographs, or two photographs share a name.
        CaptureError: If a photograph is not a picture that can be measured.
        OutputError: If it cannot be written.
    """
    names = [photo.name for photo in photos]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice:
        raise UsageError(f"Two photographs are called {twice}: rename one of them.")
    for photo in photos:
        read_photo(photo)
    text = job_text(title, names).encode()
    if folder.is_dir():
        _add_job(folder, photos, text)
        return
    with whole_folder(folder, replace=False) as draft:
        (draft / JOB_FILE).write_bytes(text)
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
    if job.template.outline:
        raise JobFileError(
            f"{JOB_FILE}: template.outline gives the outline already: there is nothing to measure; "
            "run `shapecut plan` or `shapecut make`."
        )
    with whole_folder(out, replace=replace) as draft:
        measured = _measured(folder, job, report)
        report("writing")
        _write_measurement(draft, measured, treated(measured.outline, job.edges))
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
        outline_path: An outline.json; None for the one the job names, or the measured one.
        replace: Whether `out` may be replaced.
        report: Told of each step.

    Raises:
        ShapecutError: Whatever is wrong with the job, the outline or the output folder.
    """
    job = read_job(folder)
    outline = _read_outline(outline_path or _outline_path(folder, job))
    with whole_folder(out, replace=replace) as draft:
        made = Made(job, None, _planned(job, outline, report))
        report("writing")
        _write_plan(draft, made)
    return made


def make_into(folder: Path, out: Path, *, replace: bool, report: Report = quiet) -> Made:
    """Measure, plan and write everything into one folder.

    Raises:
        ShapecutError: Whatever is wrong with the job, its photographs or the output folder.
    """
    job = read_job(folder)
    with whole_folder(out, replace=replace) as draft:
        measured = None if job.template.outline else _measured(folder, job, report)
        outline = measured.outline if measured else _read_outline(_outline_path(folder, job))
        made = Made(job, measured, _planned(job, outline, report))
        report("writing")
        _write_plan(draft, made)
        _write_papers(draft, made)
        if measured:
            _write_measurement(draft, measured, made.plan.outline)
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


def _measured(folder: Path, job: Job, report: Report) -> Measured:
    template = job.template
    cards = card_set(job.cards)
    report("reading the pictures")
    if template.scan:
        return measure_scan(_read_picture(folder, template.scan), cards, report=report)
    photos = [_read_picture(folder, name) for name in template.photos]
    return measure(
        photos,
        cards,
        thickness_mm=template.thickness,
        cards_on=template.cards_on,
        report=report,
    )


def _read_picture(folder: Path, name: str) -> Photo:
    return read_photo(folder / name)


def _outline_path(folder: Path, job: Job) -> Path:
    if job.template.outline:
        return folder / job.template.outline
    path = folder / MEASURED / OUTLINE_FILE
    if not path.exists():
        raise JobFileError(
            f"{folder} has no measured outline yet: run `shapecut measure {folder}` first, or name "
            "one with --outline."
        )
    return path


def _read_outline(path: Path) -> Outline:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise JobFileError(f"The outline {path} cannot be read: {reason.lower()}.") from None
    return outline_from_text(text, path.name)


def _planned(job: Job, outline: Outline, report: Report) -> Plan:
    report("laying out the boards")
    return plan(treated(outline, job.edges), job.boards, job.allowances, job.stock)


def _write_measurement(draft: Path, measured: Measured, outline: Outline) -> None:
    names = tuple(photo.name for photo in measured.photos)
    result = outline_result(outline, names, measured.survey, measured.traced)
    (draft / OUTLINE_FILE).write_text(readable_json(result), encoding="utf-8")
    left, low, right, high = bounds(edge.curve for edge in outline.outer.edges)
    around = (
        left - FLAT_MARGIN_MM, low - FLAT_MARGIN_MM, right + FLAT_MARGIN_MM, high + FLAT_MARGIN_MM
    )  # fmt: skip
    height = measured.survey.height_mm
    for view in measured.survey.views:
        photo = measured.photos[view.photo]
        stem = Path(photo.name).stem
        over = overlay_jpeg(photo, view, outline, height_mm=height, largest_bytes=OVERLAY_BYTES)
        (draft / f"outline-over-{stem}.jpg").write_bytes(over)
        flat = rectified_picture(photo, view, around, mm_per_px=FLAT_MM_PER_PX, height_mm=height)
        (draft / f"flat-{stem}.jpg").write_bytes(flat_picture_jpeg(flat))


def _write_plan(draft: Path, made: Made) -> None:
    layout, cut_plan = made.plan.layout, made.plan.cut_plan
    fraction = made.job.papers.fraction
    drawing = drawing_of_layout(layout, made.job.title)
    (draft / "plan.svg").write_text(drawing_svg(drawing), encoding="utf-8")
    (draft / "cut-list.csv").write_bytes(cut_list_csv(layout, cut_plan, denominator=fraction))
    (draft / "boards-to-buy.csv").write_bytes(buying_list_csv(cut_plan, denominator=fraction))
    record = plan_file(layout, cut_plan).model_dump(mode="json", by_alias=True)
    (draft / "plan.json").write_text(readable_json(record), encoding="utf-8")


def _write_papers(draft: Path, made: Made) -> None:
    job, layout = made.job, made.plan.layout
    units = job.papers.units
    whole = drawing_of_layout(layout, job.title)
    (draft / "boards.dxf").write_bytes(drawing_dxf(whole, units=units))
    (draft / "pieces").mkdir()
    for piece in layout.pieces:
        drawing = drawing_of_piece(piece, layout.board.width_mm)
        (draft / "pieces" / f"{piece.label}.dxf").write_bytes(drawing_dxf(drawing, units=units))
    (draft / "tiles.pdf").write_bytes(tiles_pdf(layout, title=job.title, paper=job.papers.page))
    (draft / "report.html").write_text(_report(made), encoding="utf-8")
    (draft / "job.json").write_text(readable_json(_result(made)), encoding="utf-8")


def _report(made: Made) -> str:
    job, measured = made.job, made.measured
    return report_html(
        title=job.title,
        outline=made.plan.outline,
        layout=made.plan.layout,
        plan=made.plan.cut_plan,
        photos=measured.photos if measured else (),
        survey=measured.survey if measured else None,
        traced=measured.traced if measured else None,
        settings=ReportSettings(
            lengths=Lengths(job.papers.units, job.papers.fraction),
            currency=job.stock.currency,
            allowances=tuple(made.plan.allowances.items()),
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
        layout=made.plan.layout,
        cut_plan=made.plan.cut_plan,
    )
    return result.model_dump(mode="json", by_alias=True)
