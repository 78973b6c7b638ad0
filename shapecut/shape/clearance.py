"""Fields kept clear of the edges that boards stay back from, however the rest of them came about.

Glossary:
    gap: how far boards stay back from an edge and from both its ends, mm.
    strip: all that lies beside a curve, on either hand, within the gap.
    run-on: the strip of an edge carried on straight by the gap past one of its ends.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.shape.curves import Curve, Line
from shapecut.shape.meetings import distance, distance_from
from shapecut.shape.monotone import Bounds, Windings, bounds
from shapecut.shape.offset import offset
from shapecut.shape.outermost import SAME_PLACE_MM, outermost
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop, Side

__all__ = ["KeptClear", "cleared"]


@dataclass(frozen=True)
class KeptClear:
    """An edge that boards stay back from.

    Attributes:
        name: Of the edge; the sides that are cut along its strip take it as their source.
        curve: In the plane, mm.
        gap_mm: Positive.
    """

    name: str
    curve: Curve
    gap_mm: float


def cleared(loops: Sequence[Loop], edges: Iterable[KeptClear]) -> list[Loop]:
    """Cut a field back where it comes nearer to an edge than the gap.

    An edge's strip is cut out where the field reaches into it, and the run-on at each end to which
    the field comes too near.  Square run-ons rather than round ends: straight cuts, and nothing at
    all is cut at corners whose mitre keeps the gap.

    Args:
        loops: What bounds the field, not crossing.
        edges: What it is to be kept clear of.

    Returns:
        What bounds the field left; the loops given if it was clear.
    """
    field = _Field([side.curve for loop in loops for side in loop])
    strips = [
        _strip(curve, edge)
        for edge in edges
        if _too_near(field, edge)
        for curve in (edge.curve, *_run_ons(field, edge))
    ]
    return outermost([*loops, *strips]) if strips else list(loops)


class _Field:
    """What some curves bound, asked for many places."""

    def __init__(self, curves: Sequence[Curve]) -> None:
        self._curves = curves
        self._boxes = np.array([bounds([curve]) for curve in curves]).reshape(-1, 4)
        self._windings = Windings(curves)

    def holds(self, point: Point) -> bool:
        """Whether a point lies in it."""
        return self._windings.round(point) > 0

    def near(self, box: Bounds, *, by_mm: float) -> Iterator[Curve]:
        """Its curves but for those that are farther from an upright rectangle."""
        left, low, right, high = self._boxes.T
        x0, y0, x1, y1 = box
        across = (left <= x1 + by_mm) & (right >= x0 - by_mm)
        up = (low <= y1 + by_mm) & (high >= y0 - by_mm)
        return (self._curves[int(k)] for k in np.flatnonzero(across & up))


def _too_near(field: _Field, edge: KeptClear) -> bool:
    """Whether the field comes nearer to an edge than the gap."""
    return field.holds(edge.curve.at(0.5)) or any(
        distance(curve, edge.curve) < edge.gap_mm - SAME_PLACE_MM
        for curve in field.near(bounds([edge.curve]), by_mm=edge.gap_mm)
    )


def _run_ons(field: _Field, edge: KeptClear) -> Iterator[Line]:
    """Straight on past each end of an edge to which the field comes too near."""
    for outwards in (edge.curve, edge.curve.reversed()):
        end, (dx, dy) = outwards.end, outwards.direction(1.0)
        if field.holds(end) or any(
            distance_from(curve, end) < edge.gap_mm - SAME_PLACE_MM
            for curve in field.near((*end, *end), by_mm=edge.gap_mm)
        ):
            yield Line(end, (end[0] + edge.gap_mm * dx, end[1] + edge.gap_mm * dy))


def _strip(curve: Curve, edge: KeptClear) -> list[Side]:
    """Clockwise round the strip of a curve, so that the field is on the left of every side.

    A strip wider than its arc's radius comes to a point at the centre.
    """
    left, right = offset(curve, -edge.gap_mm), offset(curve, edge.gap_mm)
    around = [
        left.curve,
        Line(left.end, right.end),
        right.curve.reversed() if right.curve else None,
        Line(right.start, left.start),
    ]
    return [Side(curve, edge.name) for curve in around if curve]
