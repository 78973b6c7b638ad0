"""The ends of pieces, and how near two of them may lie on one board.

Glossary:
    end: how far one end of a piece stands back from its extreme, across the board: a chain of
        points (depth, across), depth zero or more and somewhere zero, across from the board's lower
        edge to its upper.  The empty chain is a square end.
    gap: distance along the board between the extremes of two neighbours; less than nothing where
        slanted ends lie side by side.
    kerf: width of the cut, measured square to it.

Two neighbours are parted by one cut: along the end of the first, along the start of the second, or
square between them, whichever needs the least board.  What the cut turns to dust is all that lies
within a kerf of that end, the end's own line carried on to the board's edges.
"""

import math
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.placement import Point
from shapecut.shape.region import Region

__all__ = ["SQUARE", "End", "Parting", "across_flipped", "end_gap", "ends_of", "straight"]

End = tuple[Point, ...]
"""(depth, across) in mm, across never falling; see the glossary."""

SQUARE: End = ()

SAME_MM = 1e-3
"""Depths, and steps across, below this are nothing; far below what a saw keeps."""

FLATTENING_MM = 0.01
"""Greatest distance of chords from an arc in an end."""

Floats = NDArray[np.float64]

_ROUNDING = 1e-9
"""Part of a stretch by which a corner may lie beside it and still count: floats are not exact."""


class Parting(StrEnum):
    """The cut that parts two neighbours on a board."""

    ALONG_END = "along the end"
    """Along the end of the first."""
    ALONG_NEXT = "along the next start"
    """Along the start of the second."""
    SQUARE = "square"
    """Square across the board, each piece being trimmed to its end afterwards."""


def ends_of(region: Region, width_mm: float) -> tuple[End, End]:
    """The start and the end of a piece.

    A piece narrower than the board is cut off the board by one straight cut and ripped afterwards:
    its slanted ends are carried on in a line to the board's edges where that stays within its
    length, and are square otherwise.

    Args:
        region: In the piece's frame: x along the board, y across from its lower edge.
        width_mm: Of the board.
    """
    chain = np.concatenate([side.curve.flattened(FLATTENING_MM)[:-1] for side in region.outer])
    left, right = _extremes(chain)
    first, last = float(left[:, 0].min()), float(right[:, 0].max())
    start = _as_end(left[:, 0] - first, left[:, 1])
    end = _as_end(last - right[:, 0], right[:, 1])
    low, high = float(chain[:, 1].min()), float(chain[:, 1].max())
    if low <= SAME_MM and high >= width_mm - SAME_MM:
        return _to_edges(start, width_mm), _to_edges(end, width_mm)
    start, end = _carried_across(start, width_mm), _carried_across(end, width_mm)
    at_edges = [sum(side[edge][0] for side in (start, end) if side) for edge in (0, -1)]
    return (start, end) if max(at_edges) <= last - first else (SQUARE, SQUARE)


def _to_edges(end: End, width_mm: float) -> End:
    """The end with its first and last point right on the board's edges."""
    if not end:
        return SQUARE
    return ((end[0][0], 0.0), *end[1:-1], (end[-1][0], width_mm))


def _carried_across(end: End, width_mm: float) -> End:
    """A straight end carried on to the board's edges, or else a square one; see `ends_of`."""
    if len(end) != 2:
        return SQUARE
    (d0, a0), (d1, a1) = end
    slope = (d1 - d0) / (a1 - a0)
    at_edges = [round(d0 + slope * (across - a0), 3) for across in (0.0, width_mm)]
    if min(at_edges) < 0.0:
        return SQUARE
    return ((at_edges[0], 0.0), (at_edges[1], width_mm))


def _extremes(chain: Floats) -> tuple[Floats, Floats]:
    """Least and greatest x of a closed chain (N, 2) at every y, as two chains of rising y."""
    levels = np.unique(chain[:, 1])
    levels = levels[np.concatenate([[True], np.diff(levels) > SAME_MM])]
    low, high = levels[:-1], levels[1:]
    middle = (low + high) / 2
    (x0, y0), (x1, y1) = chain.T, np.roll(chain, -1, axis=0).T
    spans = (np.minimum(y0, y1) < middle[:, None]) & (middle[:, None] < np.maximum(y0, y1))
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = (x1 - x0) / (y1 - y0)
        at_middle = x0 + slope * (middle[:, None] - y0)
    first = np.where(spans, at_middle, np.inf).argmin(axis=1)
    last = np.where(spans, at_middle, -np.inf).argmax(axis=1)
    chains = []
    for side in (first, last):
        at_low, at_high = (x0[side] + slope[side] * (y - y0[side]) for y in (low, high))
        chains.append(np.stack([[at_low, at_high], [low, high]]).T.reshape(-1, 2))
    return chains[0], chains[1]


def _as_end(depth: Floats, across: Floats) -> End:
    """Points as an end, without points that change nothing."""
    if depth.max() < SAME_MM:
        return SQUARE
    kept: list[Point] = []
    for d, a in zip(depth, across, strict=True):
        rounded = (round(float(d), 3) + 0.0, round(float(a), 3) + 0.0)
        if kept and math.dist(kept[-1], rounded) < SAME_MM:
            continue
        if len(kept) > 1 and _in_line(kept[-2], kept[-1], rounded):
            kept.pop()
        kept.append(rounded)
    return tuple(kept)


def _in_line(first: Point, middle: Point, last: Point) -> bool:
    """Whether the middle point lies on the stretch between the others."""
    (ux, uy), (vx, vy) = (
        (middle[0] - first[0], middle[1] - first[1]),
        (last[0] - first[0], last[1] - first[1]),
    )
    length = math.hypot(vx, vy)
    on_stretch = 0 <= ux * vx + uy * vy <= length**2
    return on_stretch and abs(ux * vy - uy * vx) <= SAME_MM * length


def across_flipped(end: End) -> End:
    """The end as it is when the board's lower edge has become the upper."""
    return tuple((depth, round(end[-1][1] - across, 3)) for depth, across in reversed(end))


def straight(end: End) -> bool:
    """Whether the end is one straight cut across the whole board."""
    return len(end) in (0, 2)


def end_gap(end: End, start: End, kerf_mm: float) -> tuple[float, Parting]:
    """Least gap between an end and the start that follows it, and the cut that parts them.

    >>> slanted = ((100.0, 0.0), (0.0, 100.0))
    >>> end_gap(slanted, across_flipped(slanted), 0.0)
    (-100.0, <Parting.ALONG_END: 'along the end'>)
    >>> end_gap(slanted, slanted, 3.0)
    (3.0, <Parting.SQUARE: 'square'>)
    """
    if not end or not start:
        return kerf_mm, Parting.SQUARE
    gaps = _straight_gaps if straight(end) and straight(start) else _shaped_gaps
    along = {**gaps(end, start, kerf_mm), Parting.SQUARE: kerf_mm}
    nearest = min(along, key=lambda parting: round(along[parting], 6))
    return along[nearest], nearest


def _straight_gaps(end: End, start: End, kerf_mm: float) -> dict[Parting, float]:
    """The gaps of two straight ends: at one of the edges they are nearest."""
    nearest = max(-a - b for (a, _), (b, _) in zip(end, start, strict=True))
    along = {Parting.ALONG_END: end, Parting.ALONG_NEXT: start}
    return {
        parting: nearest + kerf_mm * math.hypot(1.0, (low[0] - high[0]) / (high[1] - low[1]))
        for parting, (low, high) in along.items()
    }


def _shaped_gaps(end: End, start: End, kerf_mm: float) -> dict[Parting, float]:
    """The gaps of two ends of any shape."""
    first, second = (np.array(chain) * (-1.0, 1.0) for chain in (end, start))
    return {
        Parting.ALONG_END: _clearance(_carried_on(first, kerf_mm), second, first, kerf_mm),
        Parting.ALONG_NEXT: _clearance(_carried_on(second, kerf_mm), first, second, kerf_mm),
    }


def _clearance(carried: Floats, other: Floats, own: Floats, kerf_mm: float) -> float:
    """Least distance between the origins of two chains that face each other, a kerf apart.

    Both chains are (N, 2) with x towards the other one.  The distance of two chains is that of a
    corner of one from a stretch of the other, so it is enough to look at each corner how far the
    stretches of the other chain, widened by the kerf, reach at its height.
    """
    reaches = (_reach(carried, other, kerf_mm), _reach(other, own, kerf_mm))
    return max(reaches)


def _carried_on(chain: Floats, by_mm: float) -> Floats:
    """A chain whose first and last stretch run on past the board's edges."""
    ends = []
    for at, near in ((chain[0], chain[1]), (chain[-1], chain[-2])):
        rise = at[1] - near[1]
        ends.append(at + (at - near) * (by_mm / abs(rise)) if rise else at)
    return np.vstack([ends[0], chain, ends[1]])


def _reach(stretches: Floats, corners: Floats, kerf_mm: float) -> float:
    """How far apart two facing chains must be: stretches of one from corners of the other.

    Args:
        stretches: (N, 2) chain of one.
        corners: (M, 2) chain of the other.
        kerf_mm: Half the width of the band round every stretch.
    """
    x, y = corners[:, 0, None], corners[:, 1, None]
    (x0, y0), (x1, y1) = stretches[:-1].T, stretches[1:].T
    reach = np.full((len(corners), len(x0)), -np.inf)
    for px, py in ((x0, y0), (x1, y1)):
        height = y - py
        disc = px + np.sqrt(np.maximum(0.0, kerf_mm**2 - height**2))
        reach = np.maximum(reach, np.where(np.abs(height) <= kerf_mm, disc, -np.inf))
    dx, dy = x1 - x0, y1 - y0
    length = np.hypot(dx, dy)
    with np.errstate(divide="ignore", invalid="ignore"):
        fraction = (y - y0 + kerf_mm * dx / length) / dy
        beside = x0 + kerf_mm * dy / length + fraction * dx
    inside = (dy > 0) & (fraction >= -_ROUNDING) & (fraction <= 1 + _ROUNDING)
    reach = np.maximum(reach, np.where(inside, beside, -np.inf))
    return float((reach + x).max())
