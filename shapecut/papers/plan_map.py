"""A little map of the plan, on which each cut card shows where its piece belongs."""

from dataclasses import dataclass

from shapecut.layout.layout import Layout
from shapecut.papers.drawing import Layer, Stroke, closed_stroke
from shapecut.papers.on_board import OnBoard
from shapecut.shape.curves import Line

__all__ = ["PlanMap", "plan_map", "reference_end"]


@dataclass(frozen=True)
class PlanMap:
    """All pieces in the plane of the plan, mm.

    Attributes:
        pieces: The outer contour of each, by its label.
        bounds: x least, y least, x greatest, y greatest.
    """

    pieces: dict[str, Stroke]
    bounds: tuple[float, float, float, float]


def plan_map(layout: Layout) -> PlanMap:
    """Draw the map of a layout that has pieces."""
    pieces = {
        piece.label: closed_stroke(piece.region.outer, piece.placement, Layer.CONTOUR)
        for piece in layout.pieces
    }
    ends = [curve.start for stroke in pieces.values() for curve in stroke.curves]
    xs, ys = zip(*ends, strict=True)
    return PlanMap(pieces, (min(xs), min(ys), max(xs), max(ys)))


def reference_end(lying: OnBoard) -> Stroke:
    """Where the end that a card measures from lies in the plan, across the whole board."""
    low, high = lying.to_plane((0.0, 0.0)), lying.to_plane((0.0, lying.width_mm))
    return Stroke((Line(low, high),), Layer.REFERENCE)
