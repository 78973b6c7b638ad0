"""Distances taped between two cards, as text of the job file: comments kept."""

from typing import Any

import tomlkit
from tomlkit.items import AoT

from shapecut.bench.places import with_place
from shapecut.errors import UsageError

__all__ = ["with_tape", "without_tape"]


def with_tape(text: str, start: str, end: str, length: str) -> str:
    """A job file with one tape more; a former one between the same cards gives way to it."""
    document = tomlkit.parse(text)
    if "tapes" not in document.get("cards", {}):
        document = tomlkit.parse(with_place(text, "cards", "tapes"))
        document.setdefault("cards", tomlkit.table())["tapes"] = tomlkit.array()
    tapes: Any = document["cards"]["tapes"]
    for number in reversed(range(len(tapes))):
        if set(tapes[number]["between"]) == {start, end}:
            del tapes[number]
    tape: Any = tomlkit.table() if isinstance(tapes, AoT) else tomlkit.inline_table()
    tape.update({"between": [start, end], "length": length})
    tapes.append(tape)
    return tomlkit.dumps(document)


def without_tape(text: str, start: str, end: str) -> str:
    """A job file without the tape between two cards.

    Raises:
        UsageError: If it has none.
    """
    document = tomlkit.parse(text)
    cards: Any = document.get("cards", {})
    tapes = cards.get("tapes", [])
    numbers = [k for k, tape in enumerate(tapes) if set(tape["between"]) == {start, end}]
    if not numbers:
        raise UsageError("That tape was taken back already.")
    for number in reversed(numbers):
        del tapes[number]
    if not tapes:
        del cards["tapes"]
    return tomlkit.dumps(document)
