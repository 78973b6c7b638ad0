"""Names that a person can point at: E1, E2, … clockwise from the lowest-left corner.

Curves run with the material on their left, so an outer ring runs counter-clockwise.  E1 is
therefore the edge that ENDS in the lowest-left corner: the one a person meets first when walking
clockwise from that corner.  The holes continue the numbering; their curves run clockwise already.
"""

from collections.abc import Sequence

from shapecut.shape.curves import Curve
from shapecut.shape.outline import Edge, Outline, Ring

__all__ = ["Measured", "named_outline"]

Measured = tuple[Curve, float | None]
"""A curve and its standard uncertainty across itself, mm; None where that is not known."""


def named_outline(outer: Sequence[Measured], holes: Sequence[Sequence[Measured]]) -> Outline:
    """Name the edges of rings, each in the sense of its kind.

    The lowest-left corner is the one of least x + y.  Holes are numbered from left to right.
    """
    turned = _from_lowest_left(outer)
    count = len(turned)
    rings = [Ring(tuple(Edge(f"E{count - k}", c, u_mm=u) for k, (c, u) in enumerate(turned)))]
    for hole in sorted(holes, key=lambda hole: min(curve.start for curve, _ in hole)):
        turned = _from_lowest_left(hole)
        rings.append(
            Ring(tuple(Edge(f"E{count + k}", c, u_mm=u) for k, (c, u) in enumerate(turned, 1)))
        )
        count += len(turned)
    return Outline(rings[0], tuple(rings[1:]))


def _from_lowest_left(ring: Sequence[Measured]) -> list[Measured]:
    """The ring begun at its lowest-left corner."""
    first = min(range(len(ring)), key=lambda k: sum(ring[k][0].start))
    return [*ring[first:], *ring[:first]]
