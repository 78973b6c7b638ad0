"""Before there is a job: what is asked of the person, and the job file that comes of it."""

from pathlib import Path
from typing import Literal

from shapecut.bench.desk import Values
from shapecut.errors import UsageError
from shapecut.job.job import LONGEST_TITLE
from shapecut.job.new_job import job_text
from shapecut.job.reading import JOB_FILE, job_from_text
from shapecut.papers.folder import whole_file

__all__ = ["begin_job", "beginning"]

PICTURES = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".heic"}


def beginning(folder: Path) -> Values:
    """What the page shows while a folder has no job."""
    return {"title": folder.name[:LONGEST_TITLE], "pictures": _pictures(folder)}


def begin_job(folder: Path, values: Values) -> None:
    """Start a job with the commented job file that `shapecut new` writes.

    The photographs that lie in the folder already are its photographs if the person says so.

    Raises:
        UsageError: If the folder has a job meanwhile, or the call's values are none.
        JobFileError: If the title is none that a job can have.
        OutputError: If the job file cannot be written.
    """
    title, units, listed = (values.get(key) for key in ("title", "units", "pictures"))
    if not isinstance(title, str) or units not in ("mm", "in") or not isinstance(listed, bool):
        raise UsageError("A job has a title and units.")
    written: Literal["mm", "in"] = "in" if units == "in" else "mm"
    text = job_text(title.strip(), _pictures(folder) if listed else (), units=written)
    job_from_text(text)
    whole_file(folder / JOB_FILE, text.encode(), replace=False)


def _pictures(folder: Path) -> list[str]:
    if not folder.is_dir():
        return []
    return sorted(
        path.name
        for path in folder.iterdir()
        if path.suffix.lower() in PICTURES
        and path.is_file()
        and path.name.isprintable()
        and not path.name.startswith(".")
    )
