"""Read an outline from a list of points: x, y, and where an edge is an arc, how it bends.

    x mm; y mm; bulge          x,y,arc
    0;    0;    0              0,0,
    900;  0;    0,4142         450,-60,arc       ← a point on the arc between its neighbours
    …                          900,0,

Values stand between commas, semicolons or tabs; with the latter two a comma may be the decimal
sign.  A `ring` column parts the outer ring and holes; so does an empty line.  Rings close by
themselves.  Lines that begin with # are notes.
"""

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from shapecut.drawings.drawn import MOST_CURVES, Drawn, DrawnPath, drawn_path
from shapecut.drawings.outline_units import MM_PER_UNIT, UnitName, mm_per_unit
from shapecut.errors import ShapeError
from shapecut.shape.bulge import arc_through, bulged
from shapecut.shape.curves import Curve
from shapecut.shape.placement import Point

__all__ = ["read_csv"]

_HEADING = re.compile(r"([a-z]+)[\s_/(\[]*([a-z]*)[\s)\]]*")
"""A column's name and its unit: `x`, `x mm`, `x_mm`, `x (mm)`, `x [mm]`, `x/mm`."""

COLUMNS = ("x", "y", "bulge", "arc", "ring")
"""Names that columns may have; without a heading they are the first three."""


@dataclass(frozen=True)
class _Row:
    """One point: in the file's unit, its line in the file, and how the outline bends there."""

    line: int
    at: Point
    bulge: float
    on_arc: bool
    ring: str


def read_csv(
    data: bytes, name: str, *, units: UnitName | None = None, layers: Sequence[str] = ()
) -> Drawn:
    """Read a list of points.

    Args:
        data: The file, UTF-8 with or without a byte order mark.
        name: Its name, for the sentences.
        units: What its numbers are; None for what its heading says.
        layers: None; such a file has no layers.

    Raises:
        ShapeError: Values that are no numbers, columns that are missing, no unit.
    """
    if layers:
        raise ShapeError(f"{name} has no layers: leave template.outline_layers out.")
    try:
        lines = data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise ShapeError(f"{name} is not UTF-8 text: save it again as UTF-8.") from None
    separator = _separator(lines)
    columns, heading_unit, first = _heading(lines, separator, name)
    in_file_mm = MM_PER_UNIT[heading_unit] if heading_unit else None
    rows = list(_rows(lines, separator, columns, first, name))
    if not rows:
        raise ShapeError(f"{name} has no points: write one a line, x and y.")
    scale, findings = mm_per_unit(
        name, in_file_mm=in_file_mm, stated=units, missing='a heading such as "x mm, y mm"'
    )
    paths: list[DrawnPath] = []
    for ring, members in groupby(rows, key=lambda row: row.ring):
        of_ring = list(members)
        where = f"the ring {ring!r}" if "ring" in columns else f"the ring of line {of_ring[0].line}"
        curves = [curve.scaled(scale) for curve in _curves(of_ring, name)]
        try:
            paths += drawn_path(curves, where, closed=True)
        except ShapeError as error:
            raise ShapeError(f"{name}: {error}") from None
    return Drawn(tuple(paths), (), findings)


def _separator(lines: Sequence[str]) -> str:
    """What stands between values: in the first line with any, a tab or semicolon before a comma."""
    for line in lines:
        if not line.startswith("#"):
            for separator in "\t;,":
                if separator in line:
                    return separator
    return ","


def _heading(
    lines: Sequence[str], separator: str, name: str
) -> tuple[tuple[str, ...], UnitName | None, int]:
    """The columns' names, their unit, and the index of the first line with values."""
    for index, line in enumerate(lines):
        cells = [cell.strip().strip('"').lower() for cell in line.split(separator)]
        if line.startswith("#") or not any(cells):
            continue
        if not any(cell[:1].isalpha() and cell != "nan" for cell in cells):
            return COLUMNS[:3], None, index
        return *_columns(cells, name), index + 1
    return COLUMNS[:3], None, 0


def _columns(cells: Sequence[str], name: str) -> tuple[tuple[str, ...], UnitName | None]:
    found = [_HEADING.fullmatch(cell) for cell in cells]
    names = tuple(match[1] if match else cell for match, cell in zip(found, cells, strict=True))
    if not {"x", "y"} <= set(names) or len(set(names)) < len(names):
        raise ShapeError(
            f"{name} has the columns {', '.join(names)}: it needs x and y once each, and may have "
            f"{', '.join(COLUMNS[2:])}."
        )
    stated = {match[2] for match in found if match and match[1] in ("x", "y") and match[2]}
    units = [unit for unit in MM_PER_UNIT if unit in stated]
    if len(stated) > 1 or len(units) < len(stated):
        raise ShapeError(
            f"{name} gives x and y in {' and '.join(sorted(stated))}: give both in one of "
            f"{', '.join(MM_PER_UNIT)}."
        )
    return names, units[0] if units else None


def _rows(
    lines: Sequence[str], separator: str, columns: Sequence[str], first: int, name: str
) -> Iterator[_Row]:
    count, block, empty = 0, 0, True
    for index, line in enumerate(lines[first:], start=first + 1):
        cells = [cell.strip().strip('"') for cell in line.split(separator)]
        if line.startswith("#"):
            continue
        if not any(cells):
            block, empty = block + (not empty), True
            continue
        count, empty = count + 1, False
        if count > MOST_CURVES:
            raise ShapeError(f"{name} has more than {MOST_CURVES:,} points: thin them out.")
        if len(cells) > len(columns) and any(cells[len(columns) :]):
            raise ShapeError(
                f"{name}: line {index} has {len(cells)} values for {len(columns)} columns; where "
                "the comma is the decimal sign, put semicolons between values."
            )
        values = dict(zip(columns, cells, strict=False))
        x, y, bulge = (
            _number(values.get(column, ""), column, index, separator, name)
            for column in ("x", "y", "bulge")
        )
        on_arc = values.get("arc", "").lower() not in ("", "0", "no")
        yield _Row(index, (x, y), bulge, on_arc, values.get("ring") or str(block))


def _number(text: str, column: str, line: int, separator: str, name: str) -> float:
    if not text and column == "bulge":
        return 0.0
    try:
        value = float(text if separator == "," else text.replace(",", "."))
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise ShapeError(
            f'{name}: {column} in line {line} is "{text}", which is no number: mend it.'
        )
    return value


def _curves(rows: Sequence[_Row], name: str) -> Iterator[Curve]:
    """Yield the curves of a ring, from the first corner round to it."""
    if rows[0].at == rows[-1].at and len(rows) > 1:
        rows = rows[:-1]
    corners = [k for k, row in enumerate(rows) if not row.on_arc]
    if not corners:
        raise ShapeError(
            f"{name}: the ring of line {rows[0].line} has no corner, only points on arcs."
        )
    for k, after in zip(corners, [*corners[1:], corners[0] + len(rows)], strict=True):
        start, end = rows[k], rows[after % len(rows)]
        between = [rows[j % len(rows)] for j in range(k + 1, after)]
        if len(between) > 1 or (between and start.bulge):
            raise ShapeError(
                f"{name}: line {between[-1].line} says once more how the edge from line "
                f"{start.line} bends: give one point on its arc, or a bulge."
            )
        if between:
            yield arc_through(start.at, between[0].at, end.at)
        elif start.at != end.at:
            yield bulged(start.at, end.at, start.bulge)
