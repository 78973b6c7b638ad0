"""The step of the papers: everything made into the folder `cut`, as the command line does."""

import io
import json
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.inputs import inputs_of
from shapecut.bench.long_step import LongStep
from shapecut.bench.pictures import FileState, file_state
from shapecut.job.job import Job
from shapecut.papers.folder import MANIFEST
from shapecut.papers.json_text import readable_json
from shapecut.progress import Report

__all__ = ["PapersStep"]

MADE = "cut"


class PapersStep:
    """Makes the papers, and lists them."""

    name = "papers"
    calls: Mapping[str, Call] = {}

    def __init__(self, desk: Desk) -> None:
        """Make the papers of the job on a desk; none is under way yet."""
        self._folder, self.made = desk.folder, desk.folder / MADE
        self._made_from: tuple[FileState, Any] | None = None
        self.long_steps = {"make": LongStep(desk.folder, _make)}

    def shown(self, job: Job) -> Values:
        """The papers' names, and what changed since they were made."""
        names = [path.relative_to(self.made).as_posix() for path in self.files()]
        return {"names": names, "changed": self._changed(job) if names else ""}

    def _changed(self, job: Job) -> str:
        """What the papers are no longer of: the job's settings, or a file; nothing if they are."""
        record = self.made / "job.json"
        state = file_state(record)
        if self._made_from is None or self._made_from[0] != state:
            self._made_from = (state, _settings(record))
        if self._made_from[1] != json.loads(readable_json(job.model_dump(mode="json"))):
            return "the job"
        newer = (path for path in inputs_of(self._folder, job) if file_state(path)[2] > state[2])
        return next((path.name for path in newer), "")

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


def _settings(record: Path) -> Any:
    """The job that a result was made from; None where the record does not tell."""
    try:
        return json.loads(record.read_bytes()).get("settings")
    except (OSError, ValueError, AttributeError):
        return None


def _make(folder: Path, report: Report) -> None:
    """In a process of its own."""
    from shapecut.job_folder import make_into

    make_into(folder, folder / MADE, replace=True, report=report)
