"""`plan.json`: rows, pieces, boards and what is fitted, as plain records with a published schema.

Lengths are millimetres, angles degrees (a person reads these files), points [x, y] in the template
plane unless a description says otherwise.
"""

import math
from collections.abc import Sequence
from typing import Literal

from pydantic import BaseModel, Field

from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.edging import Edging
from shapecut.layout.layout import Layout, Piece
from shapecut.layout.supports import Supports
from shapecut.papers.carpentry_records import (
    DirectionRecord,
    JointRecord,
    StartRecord,
    SupportsRecord,
    direction_records,
    joint_records,
    start_records,
    supports_record,
)
from shapecut.papers.finding_records import FindingRecord, finding_records
from shapecut.papers.fitting_records import (
    EdgingRecord,
    FittingsRecord,
    edging_record,
    fittings_record,
)
from shapecut.shape.curves import Arc
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop
from shapecut.stock.cutplan import CutBoard, CutPlan
from shapecut.stock.materials import Fittings

__all__ = ["FORMAT_VERSION", "PlanFile", "plan_file"]

FORMAT_VERSION = 1


class SideRecord(BaseModel):
    """One line or arc of a piece, in the piece's own frame."""

    kind: Literal["line", "arc"]
    start: Point = Field(serialization_alias="from")
    end: Point = Field(serialization_alias="to")
    centre: Point | None = None
    radius: float | None = None
    turn: Literal["ccw", "cw"] | None = None
    source: str | None = Field(description="the outline edge it follows; null for a board's edge")


class PieceRecord(BaseModel):
    """One piece to cut."""

    label: str
    row: int = Field(description="0 for border and breaker boards, which belong to no row")
    length: float = Field(description="of its blank, along the board")
    origin: Point = Field(description="of the piece's frame in the template plane")
    turn_deg: float = Field(description="of the piece's frame, counter-clockwise")
    area: float = Field(description="mm²")
    loops: tuple[tuple[SideRecord, ...], ...] = Field(description="outer loop first, then holes")


class RowRecord(BaseModel):
    """One course of boards."""

    number: int
    across: tuple[float, float] = Field(description="its board's two edges in the row frame")


class CutRecord(BaseModel):
    """Where a piece's blank lies on its board, from the board's reference end."""

    label: str
    start: float
    end: float
    turn: str = Field(description="how the piece lies, compared with its row")
    across: float = Field(description="how far it is moved across the board, abreast of others")


class BoardRecord(BaseModel):
    """One board and its cuts in sawing order."""

    number: int
    on_hand: str | None = Field(description="name of the offcut that it is; null if bought")
    length: float
    price: str | None
    cuts: tuple[CutRecord, ...]
    offcut: float


class PlanFile(BaseModel):
    """The whole of `plan.json`."""

    version: int = FORMAT_VERSION
    units: Literal["mm"] = "mm"
    board_width: float
    board_thickness: float
    board_gap: float
    row_origin: Point = Field(description="of the row frame in the template plane")
    row_turn_deg: float
    rows: tuple[RowRecord, ...]
    pieces: tuple[PieceRecord, ...]
    boards_to_buy: tuple[BoardRecord, ...]
    joints: tuple[JointRecord, ...] = ()
    starts: tuple[StartRecord, ...] = Field(
        (), description="where the best start was asked for: it, then the runners-up"
    )
    directions: tuple[DirectionRecord, ...] = Field(
        (), description="where directions were compared: the one taken, then the others"
    )
    supports: SupportsRecord | None = Field(None, description="null where no joists are stated")
    edging: EdgingRecord
    fittings: FittingsRecord
    kerf: float
    cost: str | None = Field(description="sum of the prices, or null without prices")
    least_possible: str = Field(description="proved bound on the cost, or on the length in mm")
    proved: bool = Field(description="true when no cheaper plan exists")
    findings: tuple[FindingRecord, ...]


def plan_file(
    layout: Layout,
    cut_plan: CutPlan,
    *,
    supports: Supports | None = None,
    trials: Sequence[DirectionTrial] = (),
    edging: Edging | None = None,
    fittings: Fittings | None = None,
) -> PlanFile:
    """Gather a layout, its supports and its cutting plan into `plan.json`."""
    return PlanFile(
        board_width=layout.board.width_mm,
        board_thickness=layout.board.thickness_mm,
        board_gap=layout.board.gap_mm,
        row_origin=layout.frame.origin,
        row_turn_deg=math.degrees(layout.frame.turn_rad),
        rows=tuple(RowRecord(number=row.number, across=row.across_mm) for row in layout.rows),
        pieces=tuple(_piece_record(piece) for piece in layout.pieces),
        boards_to_buy=tuple(map(_board_record, cut_plan.boards)),
        joints=joint_records(layout),
        starts=start_records(layout),
        directions=direction_records(trials),
        supports=supports_record(supports) if supports else None,
        edging=edging_record(edging or Edging()),
        fittings=fittings_record(fittings or Fittings()),
        kerf=cut_plan.kerf_mm,
        cost=None if cut_plan.cost is None else str(cut_plan.cost),
        least_possible=str(cut_plan.bound),
        proved=cut_plan.proved,
        findings=finding_records(
            layout.findings + cut_plan.findings + (fittings.findings if fittings else ())
        ),
    )


def _board_record(board: CutBoard) -> BoardRecord:
    return BoardRecord(
        number=board.number,
        on_hand=board.stock.on_hand.name if board.stock.on_hand else None,
        length=board.stock.length_mm,
        price=None if board.stock.price is None else str(board.stock.price),
        cuts=tuple(
            CutRecord(
                label=cut.label,
                start=cut.start_mm,
                end=cut.end_mm,
                turn=str(cut.turn),
                across=cut.across_mm,
            )
            for cut in board.cuts
        ),
        offcut=board.offcut_mm,
    )


def _piece_record(piece: Piece) -> PieceRecord:
    return PieceRecord(
        label=piece.label,
        row=piece.row,
        length=piece.length_mm,
        origin=piece.placement.origin,
        turn_deg=math.degrees(piece.placement.turn_rad),
        area=piece.region.area,
        loops=tuple(_side_records(loop) for loop in piece.region.loops),
    )


def _side_records(loop: Loop) -> tuple[SideRecord, ...]:
    records = []
    for side in loop:
        curve = side.curve
        arc = curve if isinstance(curve, Arc) else None
        records.append(
            SideRecord(
                kind="arc" if arc else "line",
                start=curve.start,
                end=curve.end,
                centre=arc.centre if arc else None,
                radius=arc.radius if arc else None,
                turn=("ccw" if arc.ccw else "cw") if arc else None,
                source=side.source,
            )
        )
    return tuple(records)
