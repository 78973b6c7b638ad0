"""The records in `plan.json` of joints, supports, starts and directions.

Lengths are millimetres, angles degrees, points [x, y] in the template plane; joists are numbered
from 1 across them.
"""

import math
from collections.abc import Sequence

from pydantic import BaseModel, Field

from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports

__all__ = [
    "DirectionRecord",
    "JointRecord",
    "StartRecord",
    "SupportsRecord",
    "direction_records",
    "joint_records",
    "start_records",
    "supports_record",
]

_Point = tuple[float, float]


class JointRecord(BaseModel):
    """Where two pieces of a row meet over a joist."""

    row: int
    joist: int
    at: _Point


class BearingRecord(BaseModel):
    """What carries one piece."""

    label: str
    joists: tuple[int, ...]
    longest_span: float | None = Field(description="along the board, from centre to centre")
    free_ends: tuple[float, float] | None = Field(
        description="past the faces of the outermost joists, at the reference end and the other; "
        "null without any joist"
    )
    loose_corners: tuple[_Point, ...] = Field(description="with nothing under them")


class BlockRecord(BaseModel):
    """A piece of blocking that is proposed."""

    joists: tuple[int, ...] = Field(description="it is fixed between, or to")
    middle: _Point
    turn_deg: float
    length: float
    carries: tuple[str, ...] = Field(description="labels of pieces")


class SupportsRecord(BaseModel):
    """Joists, and what they carry."""

    joist_turn_deg: float
    joist_width: float
    joist_lines: tuple[float, ...] = Field(
        description="distances of their centre lines from the origin, to the left of their turn"
    )
    longest_spacing: float | None = Field(description="allowed; null if not known")
    pieces: tuple[BearingRecord, ...]
    blocking: tuple[BlockRecord, ...]


class StartRecord(BaseModel):
    """A start of the rows that was found best, or a runner-up."""

    level: float = Field(description="of a board's lower edge, in the row frame")
    narrow_rows: int
    short_pieces: int
    slivers: int
    arms: int
    blanks: float = Field(description="their total length")
    ripped_rows: int


class DirectionRecord(BaseModel):
    """A direction that was compared with others."""

    along: str
    turn_deg: float
    rows: int
    pieces: int
    small_parts: int
    joints: int
    boards: int
    bought: float = Field(description="length of all boards to buy")
    waste: float = Field(description="part of the area bought that is not laid")
    cost: str | None
    refused: str = Field(description="why it cannot be; empty if it can")


def joint_records(layout: Layout) -> tuple[JointRecord, ...]:
    """The joints of a layout."""
    return tuple(
        JointRecord(row=joint.row, joist=joint.joist + 1, at=joint.place) for joint in layout.joints
    )


def start_records(layout: Layout) -> tuple[StartRecord, ...]:
    """The starts that were found best, the best first."""
    return tuple(
        StartRecord(
            level=start.level_mm,
            narrow_rows=start.narrow_rows,
            short_pieces=start.short_pieces,
            slivers=start.slivers,
            arms=start.arms,
            blanks=start.blanks_mm,
            ripped_rows=start.ripped_rows,
        )
        for start in layout.starts
    )


def supports_record(supports: Supports) -> SupportsRecord:
    """Joists, what they carry, and the blocking proposed."""
    joists = supports.joists
    return SupportsRecord(
        joist_turn_deg=math.degrees(joists.frame.turn_rad),
        joist_width=joists.width_mm,
        joist_lines=joists.lines_mm,
        longest_spacing=supports.longest_spacing_mm,
        pieces=tuple(
            BearingRecord(
                label=piece.label,
                joists=tuple(number + 1 for number in piece.joists),
                longest_span=piece.span_mm,
                free_ends=piece.free_ends_mm,
                loose_corners=tuple(corner.place for corner in piece.loose),
            )
            for piece in supports.pieces
        ),
        blocking=tuple(
            BlockRecord(
                joists=tuple(number + 1 for number in block.joists),
                middle=block.middle,
                turn_deg=math.degrees(block.turn_rad),
                length=block.length_mm,
                carries=block.labels,
            )
            for block in supports.blocks
        ),
    )


def direction_records(trials: Sequence[DirectionTrial]) -> tuple[DirectionRecord, ...]:
    """The directions that were compared, the best first."""
    return tuple(
        DirectionRecord(
            along=trial.edge,
            turn_deg=math.degrees(trial.direction_rad),
            rows=trial.rows,
            pieces=trial.pieces,
            small_parts=trial.small_parts,
            joints=trial.joints,
            boards=trial.boards,
            bought=trial.bought_mm,
            waste=trial.waste,
            cost=None if trial.cost is None else str(trial.cost),
            refused=trial.refused,
        )
        for trial in trials
    )
