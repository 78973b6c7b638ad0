"""Chords between two sides that the fillet of a rounded corner explains better.

Where samples of a rounded corner scatter, one or two chords of its arc cost less than an arc that
is free.  A fillet, tangent to both sides, has only its radius to choose, which is one unknown fewer
than a line that cuts the corner off has.
"""

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.partition import Prices
from shapecut.trace.primitives import LineFit, fit_circle, fit_line
from shapecut.trace.raster import Points

__all__ = ["with_fillets"]

Array = NDArray[np.float64]
Index = NDArray[np.intp]

_MOST_CHORDS = 2
"""Primitives that may stand for one arc, at most."""
_TURN_RAD = (math.radians(20.0), math.radians(150.0))
"""Angles by which the sides of a rounded corner turn."""
_RADII = 80
"""Radii that are tried."""
_LEAST_SIDE, _LEAST_ARC = 8, 5
"""Samples of a side clear of the corner, and of its arc, at least."""
_STRAY = 9.0
"""Squared normalised distance that no sample counts for more than."""


def with_fillets(
    points: Points, sigma_mm: Array, firsts: Sequence[int], arcs: Sequence[bool], prices: Prices
) -> tuple[list[int], list[bool]]:
    """A ring's primitives with the chords of rounded corners taken together.

    Args:
        points: (N, 2) samples in ring order, mm.
        sigma_mm: (N,) standard deviation of each.
        firsts: Index of each primitive's first sample, in ring order.
        arcs: Whether each is an arc.
        prices: What a primitive costs.
    """
    firsts, arcs = list(firsts), list(arcs)
    for chords in range(1, _MOST_CHORDS + 1):
        k = 0
        while k < len(firsts) and len(firsts) >= chords + 2:
            # Sides at both ends, chords between them.
            run = [(k + step) % len(firsts) for step in range(chords + 2)]
            sides_are_lines = not (arcs[run[0]] or arcs[run[-1]])
            if sides_are_lines and not (chords == 1 and arcs[run[1]]):
                spans = [_span(firsts, n, len(points)) for n in run]
                found = _fillet(points, sigma_mm, spans, [arcs[n] for n in run], prices)
                if found:
                    firsts[run[1]], firsts[run[-1]] = found
                    arcs[run[1]] = True
                    for n in sorted(run[2:-1], reverse=True):
                        del firsts[n], arcs[n]
            k += 1
    return firsts, arcs


def _span(firsts: Sequence[int], n: int, count: int) -> Index:
    after = firsts[(n + 1) % len(firsts)]
    return (firsts[n] + np.arange((after - firsts[n]) % count or count)) % count


def _fillet(
    points: Points, sigma_mm: Array, spans: Sequence[Index], arcs: Sequence[bool], prices: Prices
) -> tuple[int, int] | None:
    """Indices of a fillet's first sample and of the next side's, where it explains a run better."""
    chords = points[np.concatenate(spans[1:-1])]
    first, last = (_side(points, sigma_mm, span, chords) for span in (spans[0], spans[-1]))
    if first is None or last is None:
        return None
    index = np.concatenate(spans)
    on_sides = (len(spans[0]), len(spans[-1]))
    best = _best_arc(points[index], sigma_mm[index], (first, last), on_sides, prices)
    if best is None:
        return None
    cost, begin, end = best
    as_chords = sum(prices.arc if arc else prices.line for arc in arcs[1:-1])
    for span, arc in zip(spans, arcs, strict=True):
        fit = (fit_circle if arc else fit_line)(points[span], sigma_mm[span])
        as_chords += _cost(fit.distances(points[span]), sigma_mm[span])
    if cost + prices.arc >= as_chords:
        return None
    return int(index[begin]), int(index[end + 1])


def _best_arc(
    points: Points,
    sigma_mm: Array,
    sides: tuple[LineFit, LineFit],
    on_sides: tuple[int, int],
    prices: Prices,
) -> tuple[float, int, int] | None:
    """The fillet of least cost: its cost, and the first and last of the samples along its arc.

    Args:
        points: (N, 2) samples from one side over the corner to the other.
        sigma_mm: (N,) standard deviation of each.
        sides: The lines of both.
        on_sides: How many samples, at each end, may lie along one side only.
        prices: For the least radius.
    """
    a, b = (np.array(side.direction) for side in sides)
    turn = math.atan2(float(a[0] * b[1] - a[1] * b[0]), float(a @ b))
    if not _TURN_RAD[0] < abs(turn) < _TURN_RAD[1]:
        return None
    gap = np.subtract(sides[1].point, sides[0].point)
    corner = sides[0].point + a * float(gap[0] * b[1] - gap[1] * b[0]) / math.sin(turn)
    off = points - corner
    before, beyond = -off @ a, off @ b
    per_radius = math.tan(abs(turn) / 2)
    least, most = prices.least_radius_mm, min(before[0], beyond[-1]) / per_radius
    if most <= least:
        return None
    inward = math.copysign(1.0, turn) * np.array([-a[1], a[0]])
    place = np.arange(len(points))
    along_first, along_last = place < len(points) - on_sides[1], place >= on_sides[0]
    away = [side.distances(points) for side in sides]
    best: tuple[float, int, int] | None = None
    for radius in np.geomspace(least, most, _RADII):
        reach = radius * per_radius
        on_first, on_last = along_first & (before > reach), along_last & (beyond > reach)
        arc = np.flatnonzero(~on_first & ~on_last)
        if len(arc) < _LEAST_ARC or arc[0] == 0 or arc[-1] == len(points) - 1:
            continue
        from_arc = np.hypot(*(off + reach * a - radius * inward).T) - radius
        distance = np.where(on_first, away[0], np.where(on_last, away[1], from_arc))
        cost = _cost(distance, sigma_mm)
        if best is None or cost < best[0]:
            best = cost, int(arc[0]), int(arc[-1])
    return best


def _side(points: Points, sigma_mm: Array, span: Index, chords: Points) -> LineFit | None:
    """The line of a side by its samples clear of a corner, whose chords take up some of them."""
    reach = math.dist(chords[0], chords[-1]) / 2
    nearest = np.min([np.hypot(*(points[span] - end).T) for end in (chords[0], chords[-1])], axis=0)
    clear = span[nearest > reach]
    return fit_line(points[clear], sigma_mm[clear]) if len(clear) >= _LEAST_SIDE else None


def _cost(distance_mm: Array, sigma_mm: Array) -> float:
    return float(np.sum(np.minimum((distance_mm / sigma_mm) ** 2, _STRAY)))
