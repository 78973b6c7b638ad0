"""Corners that are not what their edges promise: rounded, worn, torn or cut off.

Rounded to radius r between edges that turn by φ, a corner leaves its edges t = r tan(φ/2) before
they meet; at s < t from the meeting the boundary is r - √(r² - (t - s)²) inside the edge.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.findings import Finding, Level
from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Ring
from shapecut.trace.edge_samples import EdgeSamples, inside_mm

__all__ = ["worn_corners"]

Array = NDArray[np.float64]

_REACH_MM = 25.0
"""How far along both edges a corner is looked at."""
_LEAST_TURN_RAD = math.radians(20.0)
"""Edges that turn less have no corner to wear."""
_LEAST_MISSING_MM = 3.0
"""A corner that leaves its edges less than this before they meet is as sharp as a hand cuts it."""
_EVIDENCE = 50.0
"""Fall of chi-square by which a rounding must explain the samples better than a sharp corner."""
_SCATTER_MM = 0.3
"""Standard deviation of a hand's cut about the line it followed."""
_TORN_MM = 0.6
"""Samples that scatter more than this about the best rounding show a corner torn, not rounded."""
_SHORT = 0.25
"""An edge shorter than this share of both its neighbours, and than `_REACH_MM`, cuts their corner
off."""


def worn_corners(ring: Ring, samples: Sequence[EdgeSamples]) -> list[Finding]:
    """Findings about the corners of a ring.

    Args:
        ring: Its edges named.
        samples: Along each of its edges.
    """
    found = []
    for k, edge in enumerate(ring.edges):
        before, after = ring.edges[k - 1], ring.edges[(k + 1) % len(ring.edges)]
        found += _worn(before, edge, samples[k - 1], samples[k])
        found += _cut_off(before, edge, after)
    return found


def _worn(
    before: Edge, after: Edge, before_samples: EdgeSamples, after_samples: EdgeSamples
) -> list[Finding]:
    (ax, ay), (bx, by) = before.curve.direction(1.0), after.curve.direction(0.0)
    turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
    if abs(turn) < _LEAST_TURN_RAD or abs(turn) > math.pi - _LEAST_TURN_RAD:
        return []
    from_corner = np.concatenate(
        [before.curve.length - before_samples.along_mm, after_samples.along_mm]
    )
    inside = np.concatenate(
        [inside_mm(before.curve, before_samples.mm), inside_mm(after.curve, after_samples.mm)]
    )
    sigma = np.hypot(np.concatenate([before_samples.u_mm, after_samples.u_mm]), _SCATTER_MM)
    near = from_corner < min(_REACH_MM, 0.4 * before.curve.length, 0.4 * after.curve.length)
    if not near.any():
        return []
    missing = math.copysign(1.0, turn) * inside[near]
    tangent, fall, scatter = _rounding(from_corner[near], missing, sigma[near], abs(turn))
    if tangent < _LEAST_MISSING_MM or fall < _EVIDENCE:
        return []
    names = sorted((before.name, after.name), key=lambda name: (len(name), name))
    name, place = "/".join(names), after.curve.start
    if scatter > _TORN_MM:
        return [
            Finding(
                Level.CHECK,
                name,
                f"The corner {name} is torn or worn off over about {tangent:.0f} mm; it is drawn"
                " where its edges would meet.",
                "Look at the corner; if it was meant to be so, cut it so by hand.",
                place,
            )
        ]
    radius = tangent / math.tan(abs(turn) / 2)
    return [
        Finding(
            Level.NOTE,
            name,
            f"The corner {name} is rounded, with a radius of about {radius:.0f} mm; it is drawn"
            " sharp.",
            place_mm=place,
        )
    ]


def _rounding(
    from_corner: Array, missing: Array, sigma: Array, turn: float
) -> tuple[float, float, float]:
    """The tangent length that explains samples best, its fall of chi-square, and their scatter."""
    sharp = float(np.sum((missing / sigma) ** 2))
    best, least, scatter = 0.0, sharp, 0.0
    for tangent in np.arange(1.0, _REACH_MM, 0.5):
        radius = tangent / math.tan(turn / 2)
        deep = np.clip(tangent - from_corner, 0.0, radius)
        off = missing - (radius - np.sqrt(np.maximum(radius**2 - deep**2, 0.0)))
        chi2 = float(np.sum((off / sigma) ** 2))
        if chi2 < least:
            gone = from_corner < tangent
            best, least = float(tangent), chi2
            scatter = float(np.sqrt(np.mean(off[gone] ** 2))) if gone.any() else 0.0
    return best, sharp - least, scatter


def _cut_off(before: Edge, edge: Edge, after: Edge) -> list[Finding]:
    """A short straight edge across what would be a corner of its neighbours."""
    curve = edge.curve
    least = min(before.curve.length, after.curve.length)
    if not isinstance(curve, Line) or curve.length > min(_REACH_MM, _SHORT * least):
        return []
    turns = [
        math.atan2(a[0] * b[1] - a[1] * b[0], a[0] * b[0] + a[1] * b[1])
        for a, b in (
            (before.curve.direction(1.0), curve.direction()),
            (curve.direction(), after.curve.direction(0.0)),
        )
    ]
    if min(map(abs, turns)) < _LEAST_TURN_RAD or turns[0] * turns[1] < 0 or abs(sum(turns)) > 3.0:
        return []
    return [
        Finding(
            Level.CHECK,
            edge.name,
            f"{edge.name}, {curve.length:.0f} mm long, cuts off the corner of {before.name} and"
            f" {after.name}: cut so, or torn.",
            f"If it is torn, or a shadow, add to the job: [[corrections]] with shadow ="
            f' "{edge.name}"; {before.name} and {after.name} then meet.',
            curve.at(0.5),
        )
    ]
