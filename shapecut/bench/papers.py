"""The step of the papers: everything made into the folder `cut`, as the command line does."""

import io
import zipfile
from collections.abc import Mapping
from pathlib import Path

from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.long_step import LongStep
from shapecut.job.job import Job
from shapecut.papers.folder import MANIFEST
from shapecut.progress import Report

__all__ = ["PapersStep"]

MADE = "cut"


class PapersStep:
    """Makes the papers, and lists them."""

    name = "papers"
    calls: Mapping[str, Call] = {}

    def __init__(self, desk: Desk) -> None:
        """Make the papers of the job on a desk; none is under way yet."""
        self.made = desk.folder / MADE
        self.long_steps = {"make": LongStep(desk.folder, _make)}

    def shown(self, _: Job) -> Values:
        """The papers' names."""
        return {"names": [path.relative_to(self.made).as_posix() for path in self.files()]}

    def files(self) -> list[Path]:
        """The files made, as the result's own list names them."""
        listed = self.made / MANIFEST
        if not listed.is_file():
            return []
        paths = [self.made / name for name in listed.read_text("utf-8").splitlines()]
        return [
            path for path in paths if path.is_file() and path.resolve().is_relative_to(self.made)
        ]

    def zipped(self) -> bytes:
        """All of them in one file."""
        stream = io.BytesIO()
        with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
            for path in self.files():
                archive.write(path, path.relative_to(self.made).as_posix())
        return stream.getvalue()


def _make(folder: Path, report: Report) -> None:
    """In a process of its own."""
    from shapecut.job_folder import make_into

    make_into(folder, folder / MADE, replace=True, report=report)
