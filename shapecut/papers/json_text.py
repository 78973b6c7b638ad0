"""JSON that a person can read: one edge, piece side or cut a line instead of one number a line."""

import json
import re
from typing import Any

__all__ = ["readable_json"]

LINE_WIDTH = 160
"""Innermost lists and objects are put on one line up to this many characters."""

_INNERMOST = re.compile(r"\[[^\[\]{}]*\]|\{[^{}]*\}")
_BREAK = re.compile(r"\s*\n\s*")


def readable_json(value: Any) -> str:
    """Write a JSON value with short innermost lists and objects on one line each."""
    # A JSON string never holds a raw newline, so only layout is joined, never text.
    text = json.dumps(value, indent=1, ensure_ascii=False, allow_nan=False)
    for _ in range(2):  # points first, then the edges that hold them
        text = _INNERMOST.sub(_joined, text)
    return text + "\n"


def _joined(match: re.Match[str]) -> str:
    line = _BREAK.sub(" ", match[0])
    line = re.sub(r"^([\[{]) | ([\]}])$", r"\1\2", line)
    return line if len(line) <= LINE_WIDTH else match[0]
