"""Joists whose middles were drawn on the template as lines."""

import math
from collections.abc import Sequence

from shapecut.errors import LayoutError
from shapecut.layout.joists import PARALLEL_RAD
from shapecut.shape.placement import Placement
from shapecut.shape.setting_out import SetLine

__all__ = ["joists_along"]


def joists_along(lines: Sequence[SetLine], names: Sequence[str]) -> tuple[float, tuple[float, ...]]:
    """The direction of some lines, and how far each is from the plane's origin.

    The longest gives the sense; the direction is the mean of all, the longer ones counting more.

    Args:
        lines: All that were drawn, in the plane.
        names: Of those that are joists.

    Returns:
        Radians, and mm to the left of that direction, in the order of the names.

    Raises:
        LayoutError: If a line is missing, or the lines are not parallel.
    """
    drawn = {line.name: line for line in lines}
    missing = next((name for name in names if name not in drawn), None)
    if missing:
        there = f"it has {', '.join(drawn)}" if drawn else "none was found on it"
        raise LayoutError(
            f"Joist {missing} is to lie along a line drawn on the template, but there is no such "
            f"line: {there}. Look for them with setting_out under [template], or list the joists."
        )
    chosen = [drawn[name] for name in names]
    ways = [(line.end[0] - line.start[0], line.end[1] - line.start[1]) for line in chosen]
    longest = max(ways, key=lambda way: math.hypot(*way))
    turned = [way if _dot(way, longest) >= 0 else (-way[0], -way[1]) for way in ways]
    direction = math.atan2(sum(y for _, y in turned), sum(x for x, _ in turned))
    frame = Placement(turn_rad=direction).inverse()
    for line, (dx, dy) in zip(chosen, turned, strict=True):
        off = abs(math.remainder(math.atan2(dy, dx) - direction, math.tau))
        if off > PARALLEL_RAD:
            raise LayoutError(
                f"Joist {line.name} is {math.degrees(off):.1f}° off the direction of the others as "
                f"drawn on the template: joists are parallel; leave it out, or draw it again."
            )
    middles = [
        ((line.start[0] + line.end[0]) / 2, (line.start[1] + line.end[1]) / 2) for line in chosen
    ]
    return direction, tuple(frame.to_plane(middle)[1] for middle in middles)


def _dot(first: tuple[float, float], second: tuple[float, float]) -> float:
    return first[0] * second[0] + first[1] * second[1]
