"""What the browser draws: outline and rows as paths in millimetres, y turned down."""

from typing import Any

from shapecut.findings import Finding
from shapecut.job.job import Job
from shapecut.layout.layout import Layout, Piece
from shapecut.papers.drawing import Layer, Stroke, closed_stroke
from shapecut.papers.finding_records import finding_records
from shapecut.papers.layout_drawing import piece_label
from shapecut.papers.length_uncertainty import COVERAGE
from shapecut.papers.markup import Lengths
from shapecut.papers.svg import path_data
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement, Point

__all__ = ["finding_values", "lengths_of", "outline_scene", "rows_scene"]

Values = dict[str, Any]

NEARLY_WHOLE = 0.98
"""A piece that fills so much of the box round it has room for its label in the middle."""


def lengths_of(job: Job) -> Lengths:
    """How a job has its lengths written."""
    return Lengths(job.papers.units, job.papers.fraction)


def outline_scene(outline: Outline, lengths: Lengths) -> Values:
    """The edges with their places, and the box they lie in."""
    left, low, right, high = bounds(edge.curve for edge in outline.outer.edges)
    known = [edge.u_mm for edge in outline.edges if edge.u_mm is not None]
    return {
        "box": [left, -high, right - left, high - low],
        "size": f"{lengths.short(right - left)} × {lengths.short(high - low)}",
        "within": lengths.within(COVERAGE * max(known)) if known else "",
        "edges": [
            {
                "name": edge.name,
                "meets": edge.treatment.value,
                "length": lengths.short(edge.curve.length),
                "within": "" if edge.u_mm is None else lengths.within(COVERAGE * edge.u_mm),
                "path": path_data([Stroke((edge.curve,), Layer.FIELD)]),
                "middle": _turned(edge.curve.at(0.5)),
                "along": _turned(edge.curve.direction(0.5)),
            }
            for edge in outline.edges
        ],
    }


def rows_scene(layout: Layout) -> Values:
    """The pieces of all rows, which way is across the boards, and if rows go that way (1 or -1)."""
    strokes = [
        (
            piece,
            [closed_stroke(loop, piece.placement, Layer.CONTOUR) for loop in piece.region.loops],
        )
        for piece in layout.pieces
    ]
    across = Placement(turn_rad=layout.frame.turn_rad).to_plane((0.0, 1.0))
    return {
        "rows": len(layout.rows),
        "across": _turned(across),
        "start_side": 1 if layout.rows[0].across_mm <= layout.rows[-1].across_mm else -1,
        "pitch": layout.board.width_mm + layout.board.gap_mm,
        "pieces": [
            {
                "label": piece.label,
                "path": path_data(loops),
                "middle": _turned(_label_place(piece, layout.board.width_mm)),
            }
            for piece, loops in strokes
        ],
        "findings": finding_values(layout.findings),
    }


def _label_place(piece: Piece, width_mm: float) -> Point:
    """Where a piece's label stands: in the middle, or if that is cut away, where there is room."""
    left, low, right, high = bounds(side.curve for side in piece.region.outer)
    if piece.region.area > NEARLY_WHOLE * (right - left) * (high - low):
        return piece.placement.to_plane(((left + right) / 2, (low + high) / 2))
    return piece_label(piece, width_mm, piece.placement).at


def finding_values(findings: tuple[Finding, ...]) -> list[Values]:
    """Findings with their places as they are drawn."""
    values = []
    for record in finding_records(findings):
        value = record.model_dump(mode="json")
        value["place"] = _turned(record.place) if record.place else None
        values.append(value)
    return values


def _turned(point: tuple[float, float]) -> list[float]:
    return [point[0], -point[1]]
