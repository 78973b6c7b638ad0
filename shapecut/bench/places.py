"""Where a new value goes in the job file, so that it reads as if a person had written it there."""

import re
import tomllib

__all__ = ["with_place"]


def with_place(text: str, table: str, key: str) -> str:
    """A job file with an empty text for a key that a table does not have yet.

    It stands below the note that shows the key ("# gap = …"), or else first in its table.

    Args:
        text: The job file, valid TOML.
        table: The name in a header [table] of its own; without that header nothing changes.
        key: Of that table.
    """
    lines = text.splitlines(keepends=True)
    header = _first(lines, rf"\[{re.escape(table)}\]\s*(#.*)?$", 0, len(lines))
    if header is None or not lines[header].endswith("\n"):
        return text
    end = _first(lines, r"\[", header + 1, len(lines)) or len(lines)
    note = _first(lines, rf"#\s*{re.escape(key)}\s*=", header + 1, end)
    above = header if note is None else note
    ending = "\r\n" if lines[above].endswith("\r\n") else "\n"
    placed = "".join([*lines[: above + 1], f'{key} = ""{ending}', *lines[above + 1 :]])
    # A header or a note may also be a line within a longer text.
    return placed if _holds(placed, table, key) else text


def _first(lines: list[str], pattern: str, start: int, end: int) -> int | None:
    return next((n for n in range(start, end) if re.match(pattern, lines[n])), None)


def _holds(text: str, table: str, key: str) -> bool:
    try:
        return bool(tomllib.loads(text).get(table, {}).get(key) == "")
    except tomllib.TOMLDecodeError:
        return False
