"""How an outline was measured, as plain records."""

import math
from collections.abc import Sequence
from typing import Literal

from pydantic import BaseModel, Field

from shapecut.papers.finding_records import FindingRecord, finding_records
from shapecut.shape.placement import Point
from shapecut.survey.survey import Survey
from shapecut.survey.view import PhotoView, ScanView, View
from shapecut.trace.traced import Traced

__all__ = ["MeasurementRecord", "measurement_record"]


class CardRecord(BaseModel):
    """A card as it was found to lie."""

    name: str
    centre: Point
    turn_deg: float
    residual_px: float
    photos: tuple[str, ...]


class ViewRecord(BaseModel):
    """How one picture sees the plane."""

    photo: str
    kind: Literal["photograph", "scan"]
    focal_px: float | None = None
    centre_px: Point | None = None
    distortion: tuple[float, ...] | None = Field(None, description="k1, k2, p1, p2, k3 (Brown)")
    camera_at: tuple[float, float, float] | None = Field(None, description="above the plane, mm")
    mm_per_px: tuple[float, float] | None = None


class ByHandRecord(BaseModel):
    """Something about the outline that a person decided, and that was not measured so."""

    edges: tuple[str, ...]
    what: str


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


def measurement_record(
    photo_names: Sequence[str], survey: Survey, traced: Traced
) -> MeasurementRecord:
    """Write down how photographs of these names were surveyed and traced."""
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
        findings=finding_records(survey.findings + traced.findings),
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
