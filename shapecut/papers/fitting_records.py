"""The records in `plan.json` of what is done at edges, of fittings, and of materials.

Lengths are millimetres, angles degrees, points [x, y] in the template plane; along an edge or a
fascia, distances count from the left end as seen from outside; joists are numbered from 1.
"""

import math

from pydantic import BaseModel, Field

from shapecut.layout.edging import Edging
from shapecut.layout.left_long import FrameMark
from shapecut.stock.materials import Fittings

__all__ = ["EdgingRecord", "FittingsRecord", "edging_record", "fittings_record"]

_Point = tuple[float, float]


class BorderCornerRecord(BaseModel):
    """Where two border boards meet."""

    edges: tuple[str, str]
    turn_deg: float = Field(description="of the outline, to the left; negative at inside corners")
    mitre_deg: float | None = Field(description="off square; null where boards are butted")
    through: str | None = Field(description="the edge whose board runs through, if butted")


class FrameMarkRecord(BaseModel):
    """A point to mark on the frame."""

    corner: str = Field(description="of the outline, that it is measured from")
    along: float = Field(description="from that corner along the edge")
    outwards: float = Field(description="square to the edge, away from the place")
    at: _Point


class TrimRecord(BaseModel):
    """A line to snap and trim along."""

    edge: str
    left_long: float
    marks: tuple[FrameMarkRecord, FrameMarkRecord]
    pieces: dict[str, tuple[float, float]] = Field(description="length cut to, and what is left")


class StopRecord(BaseModel):
    """A stop for flush row ends."""

    edge: str
    marks: tuple[FrameMarkRecord, FrameMarkRecord]
    rows: tuple[int, ...]


class EdgingRecord(BaseModel):
    """What is done at the edges."""

    corners: tuple[BorderCornerRecord, ...]
    trims: tuple[TrimRecord, ...]
    stops: tuple[StopRecord, ...]


class FastenerRecord(BaseModel):
    """One fastener."""

    kind: str
    holds: tuple[str, ...]
    joist: int | None
    at: _Point


class MarkRecord(BaseModel):
    """A point to drill."""

    name: str
    along: float
    up: float | None = Field(None, description="from the lower edge")
    at: _Point | None = None


class FasciaRecord(BaseModel):
    """One board of the fascia."""

    label: str
    edge: str
    width: float
    length: float = Field(description="from point to point")
    back: float
    face: float
    mitres_deg: tuple[float, float] = Field(description="left and right; negative where the back "
                                            "is longer than the face")  # fmt: skip
    marks: tuple[MarkRecord, ...]


class PointRowRecord(BaseModel):
    """A row of evenly spaced points."""

    name: str
    edge: str | None
    length: float
    clear: float = Field(description="between the sides of two neighbours")
    points: tuple[MarkRecord, ...]


class StripRecord(BaseModel):
    """Goods along edges."""

    name: str
    pieces: dict[str, float]
    runs: tuple[float, ...]
    left_bare: tuple[float, ...]
    corners: tuple[tuple[str, str], ...]


class MaterialRecord(BaseModel):
    """One line of the material list."""

    name: str
    length: float | None
    needed: int
    to_buy: int
    wasted: float | None = Field(description="part of the length bought that becomes no piece")
    price: str | None
    cost: str | None


class FittingsRecord(BaseModel):
    """What is fitted besides the boards, and all there is to buy."""

    fasteners: tuple[FastenerRecord, ...]
    fascia: tuple[FasciaRecord, ...]
    points: tuple[PointRowRecord, ...]
    strips: tuple[StripRecord, ...]
    materials: tuple[MaterialRecord, ...]


def edging_record(edging: Edging) -> EdgingRecord:
    """Corners of the border, trims and stops."""
    return EdgingRecord(
        corners=tuple(
            BorderCornerRecord(
                edges=corner.edges,
                turn_deg=math.degrees(corner.turn_rad),
                mitre_deg=None if corner.through else math.degrees(corner.mitre_rad),
                through=corner.through,
            )
            for corner in edging.corners
        ),
        trims=tuple(
            TrimRecord(
                edge=trim.edge,
                left_long=trim.by_mm,
                marks=_marks(trim.marks),
                pieces={piece.label: (piece.rough_mm, piece.left_mm) for piece in trim.pieces},
            )
            for trim in edging.trims
        ),
        stops=tuple(
            StopRecord(edge=stop.edge, marks=_marks(stop.marks), rows=stop.rows)
            for stop in edging.stops
        ),
    )


def _marks(marks: tuple[FrameMark, FrameMark]) -> tuple[FrameMarkRecord, FrameMarkRecord]:
    first, last = (
        FrameMarkRecord(
            corner=mark.corner, along=mark.along_mm, outwards=mark.outwards_mm, at=mark.place
        )
        for mark in marks
    )
    return first, last


def fittings_record(fittings: Fittings) -> FittingsRecord:
    """Fasteners, fascia, points, strips and materials."""
    return FittingsRecord(
        fasteners=tuple(
            FastenerRecord(
                kind=str(one.kind),
                holds=one.labels,
                joist=None if one.joist is None else one.joist + 1,
                at=one.place,
            )
            for one in (fittings.fasteners.places if fittings.fasteners else ())
        ),
        fascia=_fascia(fittings),
        points=tuple(
            PointRowRecord(
                name=row.rules.name,
                edge=row.rules.edge,
                length=row.length_mm,
                clear=row.clear_mm,
                points=tuple(
                    MarkRecord(name=p.name, along=p.along_mm, at=p.place) for p in row.points
                ),
            )
            for row in fittings.rows
        ),
        strips=tuple(
            StripRecord(
                name=runs.rules.name,
                pieces={piece.label: piece.length_mm for piece in runs.pieces},
                runs=runs.runs_mm,
                left_bare=runs.rests_mm,
                corners=tuple(corner.edges for corner in runs.corners),
            )
            for runs in fittings.strips
        ),
        materials=tuple(
            MaterialRecord(
                name=one.name,
                length=one.length_mm,
                needed=one.needed,
                to_buy=one.bought,
                wasted=one.wasted,
                price=None if one.price is None else str(one.price),
                cost=None if one.cost is None else str(one.cost),
            )
            for one in fittings.materials
        ),
    )


def _fascia(fittings: Fittings) -> tuple[FasciaRecord, ...]:
    fascia = fittings.fascia
    if fascia is None:
        return ()
    return tuple(
        FasciaRecord(
            label=part.label,
            edge=part.edge,
            width=fascia.rules.width_mm,
            length=part.length_mm,
            back=part.back_mm,
            face=part.face_mm,
            mitres_deg=(math.degrees(part.mitres_rad[0]), math.degrees(part.mitres_rad[1])),
            marks=tuple(MarkRecord(name=m.name, along=m.along_mm, up=m.up_mm) for m in part.marks),
        )
        for part in fascia.parts
    )
