"""Changes of single values that the page asks for, their undo and redo."""

from collections.abc import Mapping, Sequence
from typing import Any

from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.job_store import Edit
from shapecut.errors import UsageError

__all__ = ["Changes", "edits_of", "is_value"]

MOST_EDITS = 50
"""Edits of one call."""

MOST_TEXTS = 200
"""Texts of one list."""


class Changes:
    """Changes of the job file."""

    def __init__(self, desk: Desk) -> None:
        """Change the job on a desk."""
        self._store = desk.store

    @property
    def calls(self) -> Mapping[str, Call]:
        """What the page can ask for."""
        return {"change": self._change, "undo": self._undo, "redo": self._redo}

    def _change(self, values: Values) -> None:
        self._store.change(edits_of(values))

    def _undo(self, _: Values) -> None:
        self._store.undo()

    def _redo(self, _: Values) -> None:
        self._store.redo()


def edits_of(values: Values) -> Sequence[Edit]:
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
        if not is_value(parts[2]):
            raise UsageError("A value is text, a list of texts, or nothing to take it away.")
        edits.append(Edit(*parts))
    return edits


def is_value(value: Any) -> bool:
    """Whether something can be an edit's value."""
    if isinstance(value, list):
        return len(value) <= MOST_TEXTS and all(isinstance(one, str) for one in value)
    return isinstance(value, str | None)
