"""Curves that a drawing gives as many short lines, as the arcs that they stand for.

Many programs write every curve as a polyline.  Where an arc follows both the corners and the sides
of several lines in a row within `FREEFORM_MM`, it takes their place; so does one line where they
lie in a row.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.biarcs import FREEFORM_MM, distances_from
from shapecut.shape.bulge import arc_through
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point

__all__ = ["with_arcs"]

Array = NDArray[np.float64]

LEAST_LINES = 6
"""Fewer lines in a row are what someone drew as lines."""

WIDEST_ARC_RAD = math.pi + 1e-3
"""Greatest sweep of one arc; a circle is two."""

WIDEST_TURN_RAD = math.radians(15.0)
"""Lines that meet at a wider turn meet at a corner."""


def with_arcs(ring: Sequence[Curve]) -> tuple[Curve, ...]:
    """A closed chain with arcs in place of the many short lines that stand for them.

    Args:
        ring: Curves, each starting where the one before ends.

    Returns:
        The chain, begun at a corner if it has one; where nothing was replaced, as it was.
    """
    if len(ring) < LEAST_LINES:
        return tuple(ring)
    breaks = [k for k in range(len(ring)) if _corner(ring[k - 1], ring[k])]
    first = breaks[0] if breaks else 0
    turned = [*ring[first:], *ring[:first]]
    starts = [(k - first) % len(ring) for k in breaks] or [0]
    runs = zip(starts, [*starts[1:], len(ring)], strict=True)
    chain = [curve for start, end in runs for curve in _run(turned[start:end])]
    return tuple(chain) if len(chain) < len(ring) else tuple(ring)


def _corner(before: Curve, after: Curve) -> bool:
    """Whether two neighbours belong to different runs: not both lines, or at a corner."""
    if not (isinstance(before, Line) and isinstance(after, Line)):
        return True
    (u, v), (p, q) = before.direction(), after.direction()
    return u * p + v * q < math.cos(WIDEST_TURN_RAD)


def _run(lines: Sequence[Curve]) -> list[Curve]:
    """Lines that run into each other, and the arcs that stand for them, each as long as it can."""
    corners = [line.start for line in lines] + [lines[-1].end]
    places = np.array(corners)
    chain: list[Curve] = []
    at = 0
    while at < len(lines):
        count, curve = _longest(corners[at:], places[at:])
        chain.append(curve if curve else lines[at])
        at += count if curve else 1
    return chain


def _longest(corners: Sequence[Point], places: Array) -> tuple[int, Curve | None]:
    """The arc over the most lines from the first corner on, and their number.

    Their number is doubled while an arc follows, then searched for by halving.
    """
    best: tuple[int, Curve | None] = (0, None)
    low, high = 0, len(corners)
    count = LEAST_LINES
    while low < count < high:
        curve = _over(corners[: count + 1], places[: count + 1])
        if curve:
            best, low = (count, curve), count
        else:
            high = count
        count = 2 * low if high == len(corners) and 2 * low < high else (low + high) // 2
        if low == 0:
            break
    return best


def _over(corners: Sequence[Point], places: Array) -> Curve | None:
    """The arc or line from the first corner to the last, if it follows all between them.

    An arc of more than half a turn is not told well by three of its points.
    """
    if corners[0] == corners[-1]:
        return None
    curve = arc_through(corners[0], corners[len(corners) // 2], corners[-1])
    if isinstance(curve, Arc) and abs(curve.sweep_rad) > WIDEST_ARC_RAD:
        return None
    middles = (places[1:] + places[:-1]) / 2
    off = distances_from(np.vstack([places, middles]), curve)
    return curve if float(off.max()) <= FREEFORM_MM else None
