"""What a person corrects about the outline, as text of the job file: comments kept."""

from collections.abc import Mapping
from typing import Any

import tomlkit
from tomlkit.items import AoT

from shapecut.errors import UsageError

__all__ = ["HINTS", "with_correction", "with_hint", "without_correction", "without_edges"]

HINTS = ("on_template", "on_floor", "box")
"""What can be pointed at in a picture."""

CORRECTIONS = "corrections"

_SAME = {"move": ("move",), "length": ("of",)}
"""Of corrections of a kind the last of one thing counts: it takes the place of a former one."""


def with_correction(text: str, correction: Mapping[str, str | list[str]]) -> str:
    """A job file with one correction more.

    Args:
        text: The job file.
        correction: A table of `[[corrections]]`.
    """
    document = tomlkit.parse(text)
    tables = document.get(CORRECTIONS)
    if tables is None:
        document.append(CORRECTIONS, tomlkit.aot())
        tables = document[CORRECTIONS]
    for number in reversed(range(len(tables))):
        if _replaces(correction, tables[number]):
            del tables[number]
    table: Any = tomlkit.table() if isinstance(tables, AoT) else tomlkit.inline_table()
    table.update(correction)
    if isinstance(tables, AoT):
        table.trivia.indent = "\n"  # an empty line before its header
    tables.append(table)
    return tomlkit.dumps(document)


def _replaces(correction: Mapping[str, Any], former: Mapping[str, Any]) -> bool:
    kind = next((kind for kind in _SAME if kind in correction and kind in former), None)
    return kind is not None and all(correction[key] == former.get(key) for key in _SAME[kind])


def without_correction(text: str, number: int) -> str:
    """A job file without one of its corrections, counted from 0.

    Raises:
        UsageError: If it has none of that number.
    """
    document = tomlkit.parse(text)
    tables = document.get(CORRECTIONS, ())
    if not 0 <= number < len(tables):
        raise UsageError("That correction was taken back already.")
    del tables[number]
    if tables:
        return tomlkit.dumps(document)
    del document[CORRECTIONS]
    return tomlkit.dumps(document).rstrip() + "\n"


def with_hint(text: str, kind: str, picture: str, places: list[Any] | None) -> str:
    """A job file that says where something is in a picture, or no longer says it for None.

    Raises:
        UsageError: If there is no such kind of hint.
    """
    if kind not in HINTS:
        raise UsageError("A hint is a place on the template, one on the floor, or a box.")
    document = tomlkit.parse(text)
    template: Any = document["template"]
    if places is None:
        if picture in template.get("hints", {}).get(kind, {}):
            del template["hints"][kind][picture]
            if not template["hints"][kind]:
                del template["hints"][kind]
            if not template["hints"]:
                del template["hints"]
        return tomlkit.dumps(document)
    if "hints" not in template:
        template["hints"] = tomlkit.table()
        template["hints"][kind] = tomlkit.inline_table()
        template["hints"].add(tomlkit.nl())
    template["hints"].setdefault(kind, tomlkit.inline_table())[picture] = places
    return tomlkit.dumps(document)


def without_edges(text: str, names: set[str]) -> str:
    """A job file that says nothing of what boards meet at some edges."""
    document = tomlkit.parse(text)
    edges: Any = document.get("edges", {})
    for name in names & set(edges):
        del edges[name]
    return tomlkit.dumps(document)
