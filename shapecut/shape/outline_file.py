"""`outline.json`: the outline as a file that `measure` writes, `plan` reads and a hand can type.

    {"units": "mm", "rings": [{"kind": "outer", "edges": [
      {"name": "E1", "kind": "line", "from": [0, 0], "to": [0, 400], "u": 0.2},
      {"name": "E2", "kind": "arc", "from": …, "to": …, "centre": [x, y], "radius": r, "turn": "cw"}
    ]}]}

Coordinates are template-plane millimetres, x right, y up.  A ring may be typed in either sense; a
full circle is two arcs.  Keys beyond these are welcome and left alone.
"""

import json
import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from shapecut.errors import ShapeError
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.placement import Point
from shapecut.shape.setting_out import SetArrow, SetLine, SetPoint, SettingOut
from shapecut.shape.validity import check_outline, oriented
from shapecut.units import MM_PER_INCH

__all__ = [
    "OutlineFile",
    "curve_record",
    "outline_from_text",
    "outline_record",
    "setting_out_from_text",
    "setting_out_record",
]

_MM = {"mm": 1.0, "in": MM_PER_INCH}
"""Millimetres in a file's units."""

RADIUS_AGREEMENT_MM = 0.05
"""How far a typed radius may be from the distance between the arc's start and its centre."""

_Coordinates = Annotated[tuple[float, float], Field(description="x and y")]

_Name = Annotated[str, Field(min_length=1, max_length=100, pattern=r"^[^\x00-\x1f\x7f]*$")]
"""One line of plain text: it stands in drawings, lists and on paper."""


class _EdgeRecord(BaseModel):
    model_config = ConfigDict(extra="allow", allow_inf_nan=False, populate_by_name=True)

    name: _Name | None = Field(None, description="E1, E2, … in ring order if left out")
    start: _Coordinates = Field(alias="from")
    end: _Coordinates = Field(alias="to")
    u: float | None = Field(None, ge=0, description="standard uncertainty across the edge")
    treatment: Treatment | None = None


class LineRecord(_EdgeRecord):
    """A straight edge."""

    kind: Literal["line"]


class ArcRecord(_EdgeRecord):
    """A circular edge."""

    kind: Literal["arc"]
    centre: _Coordinates
    radius: float | None = Field(None, gt=0, description="mm; taken from the centre if left out")
    turn: Literal["ccw", "cw"]


class RingRecord(BaseModel):
    """A closed chain of edges."""

    model_config = ConfigDict(extra="allow")

    kind: Literal["outer", "hole"]
    edges: Annotated[
        tuple[Annotated[LineRecord | ArcRecord, Field(discriminator="kind")], ...],
        Field(min_length=2),
    ]


class _MarkRecord(BaseModel):
    model_config = ConfigDict(extra="allow", allow_inf_nan=False, populate_by_name=True)

    name: _Name = Field(description="P1, L1, A1, … by kind, from left to right")
    u: float | None = Field(None, ge=0, description="standard uncertainty of its place")


class PointRecord(_MarkRecord):
    """A cross."""

    kind: Literal["point"]
    at: _Coordinates


class WayRecord(_MarkRecord):
    """A line, or an arrow from its tail to its tip."""

    kind: Literal["line", "arrow"]
    start: _Coordinates = Field(alias="from")
    end: _Coordinates = Field(alias="to")


class OutlineFile(BaseModel):
    """The whole of `outline.json`; its JSON Schema is published with the package."""

    model_config = ConfigDict(extra="allow")

    units: Literal["mm", "in"] = Field(description="of all lengths in the file; written in mm")
    rings: Annotated[tuple[RingRecord, ...], Field(min_length=1)]
    setting_out: tuple[PointRecord | WayRecord, ...] = Field(
        (), description="what was marked on the template with a marker"
    )


def outline_from_text(text: str, name: str) -> Outline:
    """Read an outline.

    Args:
        text: The file's text.
        name: The file's name, for the error's sentence.

    Returns:
        The checked outline: closed, not crossing itself, each ring in the sense of its kind.

    Raises:
        ShapeError: Naming the first mistake and its place.
    """
    record = _file_from_text(text, name)
    outers = [ring for ring in record.rings if ring.kind == "outer"]
    if len(outers) != 1:
        raise ShapeError(
            f"{name} has {len(outers)} outer rings; it needs exactly one, and holes inside it."
        )
    names = _edge_names(record)
    rings = {id(ring): Ring(_edges(ring, names, name, _MM[record.units])) for ring in record.rings}
    outer = rings.pop(id(outers[0]))
    outline = oriented(Outline(outer, tuple(rings.values())))
    check_outline(outline)
    return outline


def setting_out_from_text(text: str, name: str) -> SettingOut:
    """Read the marks of the same file, under the names that it gives them.

    Raises:
        ShapeError: Naming the first mistake and its place.
    """
    record = _file_from_text(text, name)
    marks = record.setting_out
    ways = [mark for mark in marks if isinstance(mark, WayRecord)]
    found = SettingOut(
        tuple(SetPoint(m.name, m.at, m.u or 0.0) for m in marks if isinstance(m, PointRecord)),
        tuple(SetLine(m.name, m.start, m.end, m.u or 0.0) for m in ways if m.kind == "line"),
        tuple(SetArrow(m.name, m.start, m.end, m.u or 0.0) for m in ways if m.kind == "arrow"),
    )
    return found.scaled(_MM[record.units])


def _file_from_text(text: str, name: str) -> OutlineFile:
    try:
        values = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise ShapeError(f"{name} is not JSON ({error}): mend it or measure again.") from None
    try:
        return OutlineFile.model_validate(values)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"]) or "the top"
        given = json.dumps(first["input"], default=str)[:60]
        raise ShapeError(
            f"{name}: at {place}: {first['msg']}; it says {given}. Mend it or measure again."
        ) from None


def _edge_names(record: OutlineFile) -> dict[int, str]:
    """The edges' names by identity: as stated, otherwise E and the place in the file."""
    edges = [edge for ring in record.rings for edge in ring.edges]
    return {id(edge): edge.name or f"E{place}" for place, edge in enumerate(edges, start=1)}


def _edges(
    ring: RingRecord, names: Mapping[int, str], file_name: str, mm: float
) -> tuple[Edge, ...]:
    """The edges of a ring whose file is in units of so many mm."""
    edges = []
    for record in ring.edges:
        name = names[id(record)]
        curve: Curve
        if isinstance(record, ArcRecord):
            curve = Arc(record.start, record.end, record.centre, record.turn == "ccw")
            if record.radius and abs(record.radius - curve.radius) * mm > RADIUS_AGREEMENT_MM:
                starts, ends = (math.dist(end, curve.centre) for end in (curve.start, curve.end))
                raise ShapeError(
                    f"{file_name}: edge {name} states radius {record.radius:g}, but starts "
                    f"{starts:.3f} from its centre and ends {ends:.3f} from it: mend the radius, "
                    f"the centre or the ends."
                )
        else:
            curve = Line(record.start, record.end)
        u_mm = None if record.u is None else record.u * mm
        edges.append(Edge(name, curve.scaled(mm), u_mm, record.treatment or Treatment.COVERED))
    return tuple(edges)


def curve_record(curve: Curve) -> dict[str, Any]:
    """The keys that describe a line or an arc, as in `outline.json`."""
    record: dict[str, Any] = {
        "kind": "line",
        "from": _coordinates(curve.start),
        "to": _coordinates(curve.end),
    }
    if isinstance(curve, Arc):
        record |= {
            "kind": "arc",
            "centre": _coordinates(curve.centre),
            "radius": round(curve.radius, 6),
            "turn": "ccw" if curve.ccw else "cw",
        }
    return record


def outline_record(outline: Outline, marks: SettingOut | None = None) -> dict[str, Any]:
    """The outline as the JSON value that `outline_from_text` reads back, with marks if there are.

    All rings are written clockwise, so that measured edges stand in the order of their names.
    """
    rings = []
    for ring in outline.rings:
        edges = []
        outer = ring is outline.outer
        for edge in reversed(ring.edges) if outer else ring.edges:
            record = {"name": edge.name} | curve_record(
                edge.curve.reversed() if outer else edge.curve
            )
            record["length"] = round(edge.curve.length, 3)
            if edge.u_mm is not None:
                record["u"] = round(edge.u_mm, 4)
            edges.append(record | {"treatment": edge.treatment.value})
        rings.append({"kind": "outer" if outer else "hole", "edges": edges})
    marked = setting_out_record(marks) if marks else []
    return {"units": "mm", "rings": rings} | ({"setting_out": marked} if marked else {})


def setting_out_record(marks: SettingOut) -> list[dict[str, Any]]:
    """The marks as the value of the key `setting_out` of `outline.json`."""
    records: list[dict[str, Any]] = [
        {"name": p.name, "kind": "point", "at": _coordinates(p.at), "u": round(p.u_mm, 4)}
        for p in marks.points
    ]
    ways = [("line", line.name, line.start, line.end, line.u_mm) for line in marks.lines]
    ways += [("arrow", arrow.name, arrow.start, arrow.tip, arrow.u_mm) for arrow in marks.arrows]
    return records + [
        {
            "name": name,
            "kind": kind,
            "from": _coordinates(start),
            "to": _coordinates(end),
            "u": round(u_mm, 4),
        }
        for kind, name, start, end, u_mm in ways
    ]


def _coordinates(point: Point) -> list[float]:
    return [round(point[0], 6) + 0.0, round(point[1], 6) + 0.0]
