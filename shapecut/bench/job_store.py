"""The job file as the bench changes it: comments kept, whole or not at all, every step undoable."""

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import RLock
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import Table

from shapecut.bench.places import with_place
from shapecut.errors import JobFileError, UsageError
from shapecut.job.job import Job
from shapecut.job.reading import JOB_FILE, job_from_text
from shapecut.papers.folder import whole_file

__all__ = ["BEFORE_FILE", "Edit", "JobStore", "edited"]

BEFORE_FILE = "job.before.toml"
"""The job as it was before the last change."""

DEEPEST = 200
"""So many changes can be undone."""

EDITABLE = {
    "template": {"thickness", "cards_on", "drawn", "line_side", "regular"},
    "cards": {"bar_along", "bar_across"},
    "cards.own": {"dictionary", "side"},
    "edges": None,
    "boards": {"width", "thickness", "gap", "direction", "start", "smallest_rip"},
    "joists": {
        "spacing",
        "lines",
        "first",
        "measured_from",
        "direction",
        "width",
        "longest_spacing",
        "material",
    },
    "joints": {"offset", "shortest", "gap", "pattern"},
    "stock": {"kerf"},
}
"""What the bench may change by single values: keys by table, None for any key."""

MAY_BE_EMPTY = {"cards", "edges"}
"""Tables that stay without values, for the notes in them; others go with their last value."""


@dataclass(frozen=True)
class Edit:
    """One value of one table, or of one within a table ("cards.own"); None takes it away."""

    table: str
    key: str
    value: str | list[str] | None


def edited(text: str, edits: Sequence[Edit]) -> str:
    """A job file with some values changed, all else of it as it was.

    Raises:
        UsageError: If a value is none that the bench may change.
        JobFileError: If the text is no TOML.
    """
    document = _parsed(text)
    for edit in edits:
        keys = EDITABLE.get(edit.table, set())
        if keys is not None and edit.key not in keys:
            raise UsageError(f"{edit.table}.{edit.key} cannot be changed here: edit {JOB_FILE}.")
        table, key, *_ = [*edit.table.split("."), edit.key]
        if edit.value is not None and table in document and key not in document[table]:
            document = _parsed(with_place(tomlkit.dumps(document), table, key))
        _edit(document, edit.table.split("."), edit)
    return tomlkit.dumps(document)


def _parsed(text: str) -> tomlkit.TOMLDocument:
    try:
        return tomlkit.parse(text)
    except TOMLKitError as error:
        raise JobFileError(f"{JOB_FILE} cannot be read: {error}; mend it by hand.") from None


def _edit(within: Any, path: Sequence[str], edit: Edit) -> None:
    if not path:
        if edit.value is not None:
            within[edit.key] = edit.value
        elif edit.key in within:
            del within[edit.key]
        return
    name, *rest = path
    if name not in within or within[name] == "":
        if edit.value is None:
            return
        within[name] = tomlkit.inline_table() if isinstance(within, Table) else tomlkit.table()
    _edit(within[name], rest, edit)
    if not within[name] and name not in MAY_BE_EMPTY:
        del within[name]


class JobStore:
    """A job file with its changes; many threads may use one.

    Changes made to the file by hand meanwhile are taken up, and can be undone like any other.
    """

    def __init__(self, folder: Path) -> None:
        """Open the job of a folder."""
        self._path = folder / JOB_FILE
        self._before = folder / BEFORE_FILE
        self._lock = RLock()
        self._current = self._on_disk()
        self._undo: list[str] = []
        self._redo: list[str] = []

    @property
    def text(self) -> str:
        """The job file as it is now.

        Raises:
            JobFileError: If it cannot be read.
        """
        with self._lock:
            now = self._on_disk()
            if now != self._current:
                self._push(self._undo, self._current)
                self._redo.clear()
                self._current = now
            return now

    @property
    def job(self) -> Job:
        """The same, checked.

        Raises:
            JobFileError: If it is mistaken.
        """
        return job_from_text(self.text)

    @property
    def can_undo(self) -> bool:
        """Whether there is a change to take back."""
        return bool(self._undo)

    @property
    def can_redo(self) -> bool:
        """Whether a change was taken back."""
        return bool(self._redo)

    def raw(self, table: str) -> dict[str, str | list[str]]:
        """The texts of a table, or of one within a table, and its lists of texts, as they stand."""
        values = tomllib.loads(self.text)
        for name in table.split("."):
            values = values.get(name, {})
        return {
            key: value
            for key, value in values.items()
            if isinstance(value, str)
            or (isinstance(value, list) and all(isinstance(one, str) for one in value))
        }

    def change(self, edits: Sequence[Edit]) -> None:
        """Apply edits and write the file.

        Raises:
            ShapecutError: If they cannot be made; the file is as it was then.
        """
        self.rewrite(lambda text: edited(text, edits))

    def rewrite(self, changed: Callable[[str], str]) -> None:
        """Write the file anew, its text changed.

        Raises:
            ShapecutError: If the job would be impossible; the file is as it was then.
        """
        with self._lock:
            before = self.text
            after = changed(before)
            if after != before:
                job_from_text(after)
                self._write(after)
                self._push(self._undo, before)
                self._redo.clear()

    def undo(self) -> None:
        """Take the last change back; nothing where there is none."""
        with self._lock:
            self._step(self._undo, self._redo)

    def redo(self) -> None:
        """Make the change again that was taken back last; nothing where there is none."""
        with self._lock:
            self._step(self._redo, self._undo)

    def _step(self, source: list[str], target: list[str]) -> None:
        before = self.text
        if source:
            self._write(source[-1])
            source.pop()
            self._push(target, before)

    def _write(self, text: str) -> None:
        whole_file(self._before, self._current.encode(), replace=True)
        whole_file(self._path, text.encode(), replace=True)
        self._current = text

    def _push(self, stack: list[str], text: str) -> None:
        stack.append(text)
        del stack[:-DEEPEST]

    def _on_disk(self) -> str:
        try:
            return self._path.read_bytes().decode()
        except OSError:
            raise JobFileError(
                f"There is no {JOB_FILE} in the folder: start a job with `shapecut new`."
            ) from None
        except UnicodeDecodeError:
            raise JobFileError(f"{JOB_FILE} is no UTF-8 text: save it as such.") from None
