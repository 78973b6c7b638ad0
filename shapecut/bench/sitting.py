"""One job at the bench: what its page shows and what its page can ask for."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from shapecut.bench.job_store import Edit, JobStore, edited
from shapecut.bench.making import Making
from shapecut.bench.scene import finding_values, outline_scene, rows_scene
from shapecut.errors import ShapecutError, UsageError
from shapecut.job.reading import job_from_text
from shapecut.job_folder import job_outline, job_rows
from shapecut.papers.folder import MANIFEST
from shapecut.stages.planning import treated

__all__ = ["Sitting"]

Values = dict[str, Any]

MOST_EDITS = 50
"""Edits of one call."""


class Sitting:
    """A job folder, its changes, and what is made from it."""

    def __init__(self, folder: Path) -> None:
        """Open a job folder.

        Raises:
            JobFileError: If it has no job file.
        """
        self.folder = folder.resolve()
        self._store = JobStore(self.folder)
        self._making = Making(self.folder)
        self._calls: dict[str, Callable[[Values], Values]] = {
            "change": self._change,
            "try": self._try,
            "undo": self._undo,
            "redo": self._redo,
            "make": self._make,
            "stop": self._stop,
        }

    def call(self, name: str, values: Values) -> Values | None:
        """Do what the page asks; None if there is no such thing.

        Raises:
            ShapecutError: If it cannot be done.
        """
        asked = self._calls.get(name)
        return asked(values) if asked else None

    def shown(self) -> Values:
        """All that the page shows.

        Mistakes in the job file and boards that cannot be laid are part of it.
        """
        values: Values = {
            "undo": self._store.can_undo,
            "redo": self._store.can_redo,
            "tables": {},
            "making": self.progress(),
            "papers": [path.relative_to(self.folder / "cut").as_posix() for path in self.papers()],
        }
        try:
            tables = ("edges", "boards", "joists", "joints")
            values["tables"] = {table: self._store.raw(table) for table in tables}
            job = self._store.job
            values["title"] = job.title
            given = job_outline(self.folder, job)
            values["outline"] = outline_scene(treated(given.outline, job.edges))
            values["of_outline"] = finding_values(given.findings)
            values["laid"] = rows_scene(job_rows(job, given))
        except ShapecutError as error:
            values["wrong"] = self.plainly(error)
        return values

    def progress(self) -> Values:
        """How far the papers are."""
        progress = self._making.progress
        words = progress.words.replace(str(self.folder), "the job")
        return {"state": progress.state.value, "words": words}

    def papers(self) -> list[Path]:
        """The files made, as the result's own list names them."""
        made = self.folder / "cut"
        listed = made / MANIFEST
        if not listed.is_file():
            return []
        paths = [made / name for name in listed.read_text("utf-8").splitlines()]
        return [path for path in paths if path.is_file() and path.resolve().is_relative_to(made)]

    def plainly(self, error: ShapecutError) -> str:
        """An error's sentence, without the places of this machine's disk."""
        return str(error).replace(f"{self.folder}/", "").replace(str(self.folder), "the job")

    def close(self) -> None:
        """Stop what is under way."""
        self._making.stop()

    def _change(self, values: Values) -> Values:
        self._store.change(_edits(values))
        return self.shown()

    def _try(self, values: Values) -> Values:
        """The rows as they would be; nothing is written."""
        job = job_from_text(edited(self._store.text, _edits(values)))
        return {"laid": rows_scene(job_rows(job, job_outline(self.folder, job)))}

    def _undo(self, _: Values) -> Values:
        self._store.undo()
        return self.shown()

    def _redo(self, _: Values) -> Values:
        self._store.redo()
        return self.shown()

    def _make(self, _: Values) -> Values:
        self._making.start()
        return self.progress()

    def _stop(self, _: Values) -> Values:
        self._making.stop()
        return self.progress()


def _edits(values: Values) -> Sequence[Edit]:
    """The edits of a call, checked.

    Raises:
        UsageError: If they are none.
    """
    given = values.get("edits")
    if not isinstance(given, list) or len(given) > MOST_EDITS:
        raise UsageError(f"A change has a list of at most {MOST_EDITS} edits.")
    edits = []
    for one in given:
        parts = one if isinstance(one, list) else []
        if len(parts) != 3 or not all(isinstance(part, str) for part in parts[:2]):
            raise UsageError("An edit is a table, a key and a value.")
        if not isinstance(parts[2], str | None):
            raise UsageError("A value is text, or nothing to take it away.")
        edits.append(Edit(*parts))
    return edits
