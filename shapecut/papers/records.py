"""`plan.json` and `job.json`: every computed value as plain records with published schemas.

Lengths are millimetres, angles degrees (a person reads these files), points [x, y] in the template
plane unless a description says otherwise.
"""

import math
from collections.abc import Sequence
from typing import Any, Literal

from pydantic import BaseModel, Field

from shapecut.findings import Finding
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
from shapecut.papers.fitting_records import (
    EdgingRecord,
    FittingsRecord,
    edging_record,
    fittings_record,
)
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Outline
from shapecut.shape.outline_file import OutlineFile, outline_record, setting_out_record
from shapecut.shape.region import Loop
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.materials import Fittings
from shapecut.survey.survey import Survey
from shapecut.survey.view import PhotoView, ScanView, View
from shapecut.trace.traced import Traced

__all__ = [
    "JobResult",
    "MeasurementRecord",
    "PlanFile",
    "job_result",
    "outline_result",
    "plan_file",
]

FORMAT_VERSION = 1

_Point = tuple[float, float]


class SideRecord(BaseModel):
    """One line or arc of a piece, in the piece's own frame."""

    kind: Literal["line", "arc"]
    start: _Point = Field(serialization_alias="from")
    end: _Point = Field(serialization_alias="to")
    centre: _Point | None = None
    radius: float | None = None
    turn: Literal["ccw", "cw"] | None = None
    source: str | None = Field(description="the outline edge it follows; null for a board's edge")


class PieceRecord(BaseModel):
    """One piece to cut."""

    label: str
    row: int = Field(description="0 for border and breaker boards, which belong to no row")
    length: float = Field(description="of its blank, along the board")
    origin: _Point = Field(description="of the piece's frame in the template plane")
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


class FindingRecord(BaseModel):
    """One thing to know about the job."""

    level: Literal["note", "check", "serious"]
    where: str
    what: str
    todo: str
    place: _Point | None = Field(None, description="on the template, to look at")


class ByHandRecord(BaseModel):
    """Something about the outline that a person decided, and that was not measured so."""

    edges: tuple[str, ...]
    what: str


class PlanFile(BaseModel):
    """The whole of `plan.json`."""

    version: int = FORMAT_VERSION
    units: Literal["mm"] = "mm"
    board_width: float
    board_thickness: float
    board_gap: float
    row_origin: _Point = Field(description="of the row frame in the template plane")
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


class CardRecord(BaseModel):
    """A card as it was found to lie."""

    name: str
    centre: _Point
    turn_deg: float
    residual_px: float
    photos: tuple[str, ...]


class ViewRecord(BaseModel):
    """How one picture sees the plane."""

    photo: str
    kind: Literal["photograph", "scan"]
    focal_px: float | None = None
    centre_px: _Point | None = None
    distortion: tuple[float, ...] | None = Field(None, description="k1, k2, p1, p2, k3 (Brown)")
    camera_at: tuple[float, float, float] | None = Field(None, description="above the plane, mm")
    mm_per_px: tuple[float, float] | None = None


class MeasurementRecord(BaseModel):
    """How the outline was measured and how well."""

    cards: tuple[CardRecord, ...]
    views: tuple[ViewRecord, ...]
    face_height: float = Field(description="of the measured face above the cards, mm")
    scale_u: float = Field(description="standard uncertainty of every length, as a fraction")
    point_u: float = Field(description="standard uncertainty of a point, scale aside, mm")
    residual_px: float
    boundary_rms: float = Field(description="of the boundary samples about the outline, mm")
    boundary_samples: int
    by_hand: tuple[ByHandRecord, ...] = Field(
        description="corrections and regularities of the job: the person's, not measured"
    )
    findings: tuple[FindingRecord, ...]


class JobResult(BaseModel):
    """The whole of `job.json`."""

    version: int = FORMAT_VERSION
    shapecut: str = Field(description="version of the program that computed it")
    title: str
    settings: dict[str, Any] = Field(description="the job file as read, lengths in mm")
    measurement: MeasurementRecord | None = Field(description="null for an outline that was given")
    outline: OutlineFile
    outline_findings: tuple[FindingRecord, ...] = Field(
        (), description="on an outline that was given: from a file, or taped"
    )
    plan: PlanFile


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
        boards_to_buy=tuple(
            BoardRecord(
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
            for board in cut_plan.boards
        ),
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
        findings=_finding_records(
            layout.findings + cut_plan.findings + (fittings.findings if fittings else ())
        ),
    )


def outline_result(
    outline: Outline, photo_names: tuple[str, ...], survey: Survey, traced: Traced
) -> dict[str, Any]:
    """Gather a measured outline into `outline.json`, with how it was measured under its own key."""
    measurement = _measurement(photo_names, survey, traced)
    marked = {"setting_out": setting_out_record(traced.setting_out)}
    return outline_record(outline) | marked | {"measurement": measurement.model_dump(mode="json")}


def job_result(
    *,
    version: str,
    title: str,
    settings: dict[str, Any],
    photo_names: tuple[str, ...],
    survey: Survey | None,
    traced: Traced | None,
    outline: Outline,
    layout: Layout,
    cut_plan: CutPlan,
    supports: Supports | None = None,
    trials: Sequence[DirectionTrial] = (),
    edging: Edging | None = None,
    fittings: Fittings | None = None,
    of_outline: tuple[Finding, ...] = (),
) -> JobResult:
    """Gather everything into `job.json`."""
    measurement = _measurement(photo_names, survey, traced) if survey and traced else None
    return JobResult(
        shapecut=version,
        title=title,
        settings=settings,
        measurement=measurement,
        outline=OutlineFile.model_validate(
            outline_record(outline)
            | {"setting_out": setting_out_record(traced.setting_out) if traced else []}
        ),
        outline_findings=_finding_records(of_outline),
        plan=plan_file(
            layout, cut_plan, supports=supports, trials=trials, edging=edging, fittings=fittings
        ),
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


def _finding_records(findings: tuple[Finding, ...]) -> tuple[FindingRecord, ...]:
    return tuple(
        FindingRecord(
            level=finding.level.value,
            where=finding.where,
            what=finding.what,
            todo=finding.todo,
            place=finding.place_mm,
        )
        for finding in findings
    )


def _measurement(photo_names: tuple[str, ...], survey: Survey, traced: Traced) -> MeasurementRecord:
    return MeasurementRecord(
        cards=tuple(
            CardRecord(
                name=card.name,
                centre=card.placement.origin,
                turn_deg=math.degrees(card.placement.turn_rad),
                residual_px=card.residual_px,
                photos=tuple(photo_names[photo] for photo in card.photos),
            )
            for card in survey.cards
        ),
        views=tuple(_view_record(view, photo_names[view.photo]) for view in survey.views),
        face_height=survey.height_mm,
        scale_u=survey.relative_u,
        point_u=survey.point_u_mm,
        residual_px=survey.residual_px,
        boundary_rms=traced.rms_mm,
        boundary_samples=sum(len(samples.mm) for samples in traced.samples),
        by_hand=tuple(ByHandRecord(edges=one.edges, what=one.what) for one in traced.by_hand),
        findings=_finding_records(survey.findings + traced.findings),
    )


def _view_record(view: View, photo: str) -> ViewRecord:
    if isinstance(view, PhotoView):
        x, y, z = map(float, view.position)
        return ViewRecord(
            photo=photo,
            kind="photograph",
            focal_px=view.camera.focal_px,
            centre_px=view.camera.centre_px,
            distortion=view.camera.distortion,
            camera_at=(x, y, z),
        )
    if isinstance(view, ScanView):
        return ViewRecord(photo=photo, kind="scan", mm_per_px=view.mm_per_px)
    raise TypeError(f"no record for a {type(view).__name__}")
