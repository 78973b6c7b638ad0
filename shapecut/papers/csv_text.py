"""CSV for any spreadsheet.

Files follow RFC 4180 (commas, CRLF, quotes doubled) in UTF-8 with a byte order mark, by which
spreadsheets tell UTF-8 from the local code page.  A text that a spreadsheet would take for a
formula is given a leading apostrophe.  Money is a `Decimal`, and has two digits behind the point or
more.
"""

import csv
from collections.abc import Iterable, Sequence
from decimal import Decimal
from io import StringIO

from shapecut.stock.money import penny_exact

__all__ = ["Cell", "csv_bytes", "rounded_mm"]

Cell = str | float | int | Decimal | None

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv_bytes(header: Sequence[str], lines: Iterable[Sequence[Cell]]) -> bytes:
    """A header and lines of cells as a file."""
    stream = StringIO()
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([_guarded(cell) for cell in line] for line in lines)
    return stream.getvalue().encode("utf-8-sig")


def rounded_mm(length_mm: float | None) -> float | None:
    """A length in mm to one decimal, never minus nought."""
    return None if length_mm is None else round(length_mm, 1) + 0.0


def _guarded(cell: Cell) -> Cell:
    """Keep a spreadsheet from running a text as a formula, and write money alike."""
    if isinstance(cell, Decimal):
        return penny_exact(cell)
    if isinstance(cell, str) and cell.startswith(_FORMULA_STARTS):
        return "'" + cell
    return cell
