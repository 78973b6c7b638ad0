"""A job's folder: what the commands write into it.

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
from shapecut.drawings.drawn_outline import GivenOutline
from shapecut.errors import JobFileError, UsageError
from shapecut.job.job import LONGEST_TITLE
from shapecut.job.new_job import SAMPLE_OUTLINE, job_text
from shapecut.job.reading import JOB_FILE, job_from_text, read_job
from shapecut.job_stages import job_made, job_measured, job_outline
from shapecut.papers.folder import whole_file, whole_folder
from shapecut.papers.json_text import readable_json
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
from shapecut.stages.measuring import Measured
from shapecut.stages.planning import treated

__all__ = [
    "make_into",
    "make_run",
    "measure_into",
    "new_job",
    "plan_into",
]


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
        measured = job_measured(folder, job, report)
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
    given = job_outline(folder, job, outline_path)
    _refuse_over_job(folder, out)
    with whole_folder(out, replace=replace) as draft:
        made = job_made(folder, job, given, report=report)
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
        measured = None if job.template.is_outline else job_measured(folder, job, report)
        given = (
            GivenOutline(measured.outline, marks=measured.traced.setting_out)
            if measured
            else job_outline(folder, job)
        )
        made = job_made(folder, job, given, measured, report)
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


def _refuse_over_job(folder: Path, out: Path) -> None:
    """A result never takes the place of the job it is made from."""
    job, result = folder.resolve(), out.resolve()
    if result == job or result in job.parents:
        raise UsageError(f"{out} holds the job itself: name a folder inside it, or elsewhere.")
