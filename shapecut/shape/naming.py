"""Names that a person can point at: E1, E2, … clockwise from the lowest-left corner.

Curves run with the material on their left, so an outer ring runs counter-clockwise.  E1 is
therefore the edge that ENDS in the lowest-left corner: the one a person meets first when walking
clockwise from that corner.  The holes continue the numbering; their curves run clockwise already.

A freeform curve is carried by a chain of arcs that run into each other without a corner.  They
share its name: E4.1, E4.2, … are the parts of E4.
"""

import math
from collections.abc import Sequence

from shapecut.shape.curves import Curve, Line
from shapecut.shape.outline import Edge, Outline, Ring, whole_name

__all__ = ["Measured", "named_outline", "whole_name"]

Measured = tuple[Curve, float | None]
"""A curve and its standard uncertainty across itself, mm; None where that is not known."""

_SMOOTH_RAD = 0.02
"""Curves that meet at a smaller angle run into each other."""
_LEAST_PARTS = 4
"""Fewer arcs in a row are what someone drew with compasses, each an edge of its own."""
_SHORT_LINE = 0.25
"""A line shorter than this share of both its neighbours is part of the curve they carry."""


def named_outline(outer: Sequence[Measured], holes: Sequence[Sequence[Measured]]) -> Outline:
    """Name the edges of rings, each in the sense of its kind.

    The lowest-left corner is the one of least x + y.  Holes are numbered from left to right.
    """
    wholes = _from_lowest_left(_wholes(outer))
    count = len(wholes)
    named = [
        edge
        for k, parts in enumerate(wholes)
        for edge in reversed(_named(f"E{count - k}", parts[::-1]))
    ]
    rings = [Ring(tuple(named))]
    for hole in sorted(holes, key=lambda hole: min(curve.start for curve, _ in hole)):
        wholes = _from_lowest_left(_wholes(hole))
        named = [
            edge for k, parts in enumerate(wholes, 1) for edge in _named(f"E{count + k}", parts)
        ]
        rings.append(Ring(tuple(named)))
        count += len(wholes)
    return Outline(rings[0], tuple(rings[1:]))


def _named(name: str, parts: Sequence[Measured]) -> list[Edge]:
    if len(parts) == 1:
        return [Edge(name, parts[0][0], u_mm=parts[0][1])]
    return [Edge(f"{name}.{k}", curve, u_mm=u) for k, (curve, u) in enumerate(parts, 1)]


def _from_lowest_left(wholes: list[list[Measured]]) -> list[list[Measured]]:
    """The ring begun at its lowest-left corner."""
    if len(wholes) == 1:
        (parts,) = wholes
        first = min(range(len(parts)), key=lambda k: sum(parts[k][0].start))
        return [[*parts[first:], *parts[:first]]]
    first = min(range(len(wholes)), key=lambda k: sum(wholes[k][0][0].start))
    return [*wholes[first:], *wholes[:first]]


def _wholes(ring: Sequence[Measured]) -> list[list[Measured]]:
    """The ring cut where its edges meet: arcs that carry a curve together, all else by itself."""
    joins = [_carry_on(ring, k) for k in range(len(ring))]
    first = joins.index(False) if False in joins else 0
    runs: list[list[Measured]] = []
    for k in [*range(first, len(ring)), *range(first)]:
        if runs and joins[k]:
            runs[-1].append(ring[k])
        else:
            runs.append([ring[k]])
    return [
        part
        for run in runs
        for part in ([run] if len(run) >= _LEAST_PARTS else [[one] for one in run])
    ]


def _carry_on(ring: Sequence[Measured], k: int) -> bool:
    """Whether a curve of a ring carries on what the one before it began."""
    before, after = ring[k - 1][0], ring[k][0]
    smooth = math.dist(before.direction(1.0), after.direction(0.0)) < _SMOOTH_RAD
    return smooth and not any(_straight(ring, at % len(ring)) for at in (k - 1, k))


def _straight(ring: Sequence[Measured], k: int) -> bool:
    """Whether a curve is a line that was drawn as one."""
    curve = ring[k][0]
    if not isinstance(curve, Line):
        return False
    neighbours = (ring[k - 1][0], ring[(k + 1) % len(ring)][0])
    return curve.length >= _SHORT_LINE * min(one.length for one in neighbours)
