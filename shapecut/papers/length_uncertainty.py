"""How sure the length of an edge is, from the edges that bound it.

Each edge lies within its standard uncertainty across itself, independently of the others.  Moving
outwards by e, a neighbour that meets the edge at the interior angle α lengthens it by e / sin α;
the edge itself, by e·(cot α₁ + cot α₂ + sweep), where sweep is nought for a line.  Variances add
(JCGM 100:2008, GUM, 5.1.2), and so does that of the scale, in proportion to the length.
"""

import math

from shapecut.shape.curves import Arc, Curve
from shapecut.shape.outline import Ring

__all__ = ["COVERAGE", "length_u95_mm"]

COVERAGE = 2.0
"""Coverage factor k for about 95 % (GUM, 6.3.3)."""

FLATTEST_CORNER_RAD = math.radians(20.0)
"""A corner that turns less than this has no sharp place along its edges: it is reckoned square."""


def length_u95_mm(ring: Ring, index: int, *, relative_u: float) -> float | None:
    """Uncertainty of an edge's length that holds with about 95 %.

    Args:
        ring: The ring of the edge.
        index: Of the edge in the ring.
        relative_u: Standard uncertainty of scale, as a fraction of any length.

    Returns:
        Millimetres; None when the edge or a neighbour was not measured.
    """
    count = len(ring.edges)
    edge, before, after = (ring.edges[(index + step) % count] for step in (0, -1, 1))
    if edge.u_mm is None or before.u_mm is None or after.u_mm is None:
        return None
    first, last = _turn(before.curve, edge.curve), _turn(edge.curve, after.curve)
    sweep = edge.curve.sweep_rad if isinstance(edge.curve, Arc) else 0.0
    # The interior angle is π − turn: same sine, opposite cotangent.
    own = sweep - 1 / math.tan(first) - 1 / math.tan(last)
    return COVERAGE * math.hypot(
        before.u_mm / math.sin(first),
        after.u_mm / math.sin(last),
        own * edge.u_mm,
        relative_u * edge.curve.length,
    )


def _turn(before: Curve, after: Curve) -> float:
    """Turn from one curve into the next, counter-clockwise positive; flat ones count as square."""
    (u, v), (p, q) = before.direction(1.0), after.direction(0.0)
    turn = math.atan2(u * q - v * p, u * p + v * q)
    flat = abs(math.sin(turn)) < math.sin(FLATTEST_CORNER_RAD)
    return math.pi / 2 if flat else turn
