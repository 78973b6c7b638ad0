"""What the browser draws: outline and rows as paths in millimetres, y turned down."""

from typing import Any

from shapecut.findings import Finding
from shapecut.layout.layout import Layout
from shapecut.papers.drawing import Layer, Stroke, closed_stroke
from shapecut.papers.finding_records import finding_records
from shapecut.papers.svg import path_data
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement

__all__ = ["finding_values", "outline_scene", "rows_scene"]

Values = dict[str, Any]


def outline_scene(outline: Outline) -> Values:
    """The edges with their places, and the box they lie in."""
    left, low, right, high = bounds(edge.curve for edge in outline.outer.edges)
    return {
        "box": [left, -high, right - left, high - low],
        "edges": [
            {
                "name": edge.name,
                "meets": edge.treatment.value,
                "length": edge.curve.length,
                "u": edge.u_mm,
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
                "middle": _turned(
                    piece.placement.to_plane((piece.length_mm / 2, layout.board.width_mm / 2))
                ),
            }
            for piece, loops in strokes
        ],
        "findings": finding_values(layout.findings),
    }


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
