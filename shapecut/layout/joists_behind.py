"""Where joists end behind an edge."""

import math
from dataclasses import dataclass

from shapecut.layout.joists import LEAST_ANGLE_RAD, Joists
from shapecut.shape.curves import Line

__all__ = ["JoistBehind", "joists_behind"]


@dataclass(frozen=True)
class JoistBehind:
    """A joist behind an edge.

    Attributes:
        joist: Index among the joists' lines.
        along_mm: Of its centre line, along the edge from its start.
        half_mm: Half of its width, along the edge.
    """

    joist: int
    along_mm: float
    half_mm: float


def joists_behind(joists: Joists, line: Line) -> tuple[JoistBehind, ...]:
    """The joists that run up to an edge, along it; none where they run along it."""
    start, end = (joists.frame.to_local(point) for point in (line.start, line.end))
    rise = (end[1] - start[1]) / line.length
    if abs(rise) < math.sin(LEAST_ANGLE_RAD):
        return ()
    half = joists.width_mm / 2 / abs(rise)
    found = (
        JoistBehind(index, (level - start[1]) / rise, half)
        for index, level in enumerate(joists.lines_mm)
    )
    reach = line.length + half
    inside = (one for one in found if -half < one.along_mm < reach)
    return tuple(sorted(inside, key=lambda one: one.along_mm))
