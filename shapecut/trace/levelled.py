"""Turn and shift the plane so that the outline lies level, as it would be drawn.

The plane of a survey has an arbitrary turn and origin.  A level outline has its longest straight
edge along x or y, turned by the least angle that brings it there (so it still looks as in the first
picture), and its bounding box in the first quadrant with a corner at the origin.
"""

import math
from dataclasses import replace

from shapecut.shape.curves import Line
from shapecut.shape.monotone import bounds
from shapecut.shape.naming import named_outline
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement
from shapecut.survey.survey import Survey
from shapecut.trace.traced import Traced

__all__ = ["levelled"]


def levelled(survey: Survey, traced: Traced) -> tuple[Survey, Traced]:
    """Level a traced outline, and everything it was measured from with it.

    Returns:
        The survey and the tracing in the level plane; edges are named anew, since names follow from
        how the outline lies.
    """
    turn = Placement(turn_rad=_levelling_turn(traced.outline))
    left, low, _, _ = bounds(edge.curve.placed(turn) for edge in traced.outline.outer.edges)
    level = replace(turn, origin=(-left, -low))
    outer, *holes = (
        [(edge.curve.placed(level), edge.u_mm or 0.0) for edge in ring.edges]
        for ring in traced.outline.rings
    )
    samples = tuple(
        replace(samples, mm=level.points_to_plane(samples.mm)) for samples in traced.samples
    )
    return (
        survey.placed(level),
        replace(
            traced,
            outline=named_outline(outer, holes),
            samples=samples,
            setting_out=traced.setting_out.placed(level),
        ),
    )


def _levelling_turn(outline: Outline) -> float:
    """The turn, at most an eighth of a circle, that brings the longest straight edge to an axis."""
    lines = [edge.curve for edge in outline.edges if isinstance(edge.curve, Line)]
    if not lines:
        return 0.0
    dx, dy = max(lines, key=lambda line: line.length).direction()
    return -math.remainder(math.atan2(dy, dx), math.pi / 2)
