"""Fields kept clear of the edges that boards stay back from, however the rest of them came about.

Glossary:
    gap: how far boards stay back from an edge and from both its ends, mm.
    strip: all that lies beside a curve, on either hand, within the gap.
    run-on: the strip of an edge carried on straight by the gap past one of its ends.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from shapecut.shape.curves import Curve, Line
from shapecut.shape.meetings import distance, distance_from
from shapecut.shape.monotone import apart, bounds, winding
from shapecut.shape.offset import offset
from shapecut.shape.outermost import SAME_PLACE_MM, outermost
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
    curves = [side.curve for loop in loops for side in loop]
    strips = [
        _strip(curve, edge)
        for edge in edges
        if _too_near(curves, edge)
        for curve in (edge.curve, *_run_ons(curves, edge))
    ]
    return outermost([*loops, *strips]) if strips else list(loops)


def _too_near(curves: Sequence[Curve], edge: KeptClear) -> bool:
    """Whether the field that some curves bound comes nearer to an edge than the gap."""
    box = bounds([edge.curve])
    return winding(curves, edge.curve.at(0.5)) > 0 or any(
        distance(curve, edge.curve) < edge.gap_mm - SAME_PLACE_MM
        for curve in curves
        if not apart(bounds([curve]), box, by_mm=edge.gap_mm)
    )


def _run_ons(curves: Sequence[Curve], edge: KeptClear) -> Iterator[Line]:
    """Straight on past each end of an edge to which the field comes too near."""
    for outwards in (edge.curve, edge.curve.reversed()):
        end, (dx, dy) = outwards.end, outwards.direction(1.0)
        if winding(curves, end) > 0 or any(
            distance_from(curve, end) < edge.gap_mm - SAME_PLACE_MM for curve in curves
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
