"""Parts of a template that a strip of print or tape cuts off from the rest, right across it.

The rims on both sides of such a strip are straight and face each other, and the edges that it
crosses go on in line beyond it.  Between two templates side by side lies floor.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.cell_masks import filled, grown, opened, patches
from shapecut.trace.raster import Mask

__all__ = ["strips_across"]

_WIDEST_MM = 70.0
"""Strips are at most this wide, mm."""
_MOST_PARTS = 3
"""Parts that are joined one after the other, at most."""
_LEAST_PART = 0.03
"""Share of the template's area from which on a part beyond a strip is one."""
_FOLLOWS_CELLS = 3.0
"""A rim's polygon follows it within so many cells."""
_LEAST_SIDE_MM = 30.0
"""Shorter sides of it tell no direction, mm."""
_LEAST_CELLS = 4
"""Cells from which on a side's line is fitted."""
_FACING, _IN_LINE = math.cos(math.radians(1.5)), math.cos(math.radians(3.0))
"""Sides turn no more than this from facing each other, and from lying in one line."""
_IN_LINE_CELLS = 1.5
"""Sides in one line are no more than so many cells beside each other."""
_BESIDE = 0.5
"""Share of the shorter of two sides along which the other one faces it, at least."""

Cell = NDArray[np.float64]


@dataclass(frozen=True)
class _Side:
    """A straight side of a rim, from corner to corner, each a (2,) cell."""

    start: Cell
    end: Cell

    @property
    def length(self) -> float:
        return math.dist(self.start, self.end)

    @property
    def way(self) -> Cell:
        """(2,) its direction."""
        return np.asarray((self.end - self.start) / max(self.length, 1e-9))

    def beside(self, place: Cell) -> float:
        """How far a (2,) place lies beside its line, cells."""
        off = place - self.start
        return abs(float(self.way[0] * off[1] - self.way[1] * off[0]))

    def goes_on_in(self, other: "_Side") -> bool:
        """Whether another side lies in one line with it."""
        return (
            float(self.way @ other.way) > _IN_LINE
            and max(self.beside(other.start), other.beside(self.end)) < _IN_LINE_CELLS
        )


def strips_across(
    mask: Mask, positive: Mask, is_floor: Callable[[Mask], bool], cell_mm: float
) -> tuple[Mask, Mask]:
    """Strips across the template, and the template with the parts that they cut off.

    Args:
        mask: Its largest part.
        positive: Cells that look like the template.
        is_floor: Whether a strip may be floor.
        cell_mm: Side of a cell.
    """
    whole, strips = filled(mask), np.zeros_like(mask)
    parts = [_sides(whole)]
    for _ in range(_MOST_PARTS):
        found = _next_part(whole, parts, positive, is_floor, cell_mm)
        if found is None:
            break
        part, strip = found
        parts.append(_sides(part))
        whole, strips = filled(whole | part | strip), strips | strip
    return strips, whole


def _next_part(
    whole: Mask,
    parts: list[list[_Side]],
    positive: Mask,
    is_floor: Callable[[Mask], bool],
    cell_mm: float,
) -> tuple[Mask, Mask] | None:
    """One more part and the strip before it; None where there is no other."""
    for window, patch in patches(opened(positive & ~grown(whole, 2), 3), margin=0):
        if patch.sum() < _LEAST_PART * whole.sum():
            continue
        part = np.zeros_like(whole)
        part[window] = patch
        part = filled(part)
        sides = _sides(part)
        for known in parts:
            for k, n in product(range(len(known)), range(len(sides))):
                if _parted_by_strip(known, k, sides, n, cell_mm):
                    strip = _between(known[k], sides[n], whole.shape) & ~whole & ~part
                    if not is_floor(strip):
                        return part, strip
    return None


def _parted_by_strip(a: list[_Side], k: int, b: list[_Side], n: int, cell_mm: float) -> bool:
    """Whether two sides face each other across a strip, and an edge goes on in line beyond it."""
    if not _face(a[k], b[n], cell_mm):
        return False
    return any(
        before.goes_on_in(after)
        for before, after in (
            (_next(a, k, -1, cell_mm), _next(b, n, 1, cell_mm)),
            (_next(b, n, -1, cell_mm), _next(a, k, 1, cell_mm)),
        )
    )


def _sides(mask: Mask) -> list[_Side]:
    """The sides of the polygon that follows the rim of the mask's largest component."""
    rims, _ = cv2.findContours(mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    rim = max(rims, key=cv2.contourArea)[:, 0].astype(float)
    corners = cv2.approxPolyDP(rim.astype(np.float32), _FOLLOWS_CELLS, True)[:, 0]
    places = [int(np.argmin(np.sum((rim - corner) ** 2, axis=1))) for corner in corners]
    return [
        _side(np.take(rim, range(first, first + (last - first) % len(rim) + 1), 0, mode="wrap"))
        for first, last in zip(places, [*places[1:], places[0]], strict=True)
    ]


def _side(rim: NDArray[np.float64]) -> _Side:
    """The straight side through (N, 2) cells of a rim, its ends cut off by other sides."""
    clear = slice(round(_FOLLOWS_CELLS), -round(_FOLLOWS_CELLS))
    if len(rim[clear]) < _LEAST_CELLS:
        return _Side(rim[0], rim[-1])
    x, y, *middle = cv2.fitLine(rim[clear].astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)
    way, on = np.ravel([x, y]).astype(float), np.ravel(middle).astype(float)
    start, end = (on + way * float((place - on) @ way) for place in (rim[0], rim[-1]))
    return _Side(start, end)


def _next(sides: list[_Side], k: int, step: int, cell_mm: float) -> _Side:
    """The next side before or after another that is long enough to tell a direction."""
    for n in range(1, len(sides)):
        side = sides[(k + n * step) % len(sides)]
        if side.length * cell_mm > _LEAST_SIDE_MM:
            return side
    return sides[k]


def _face(a: _Side, b: _Side, cell_mm: float) -> bool:
    """Whether two sides face each other across a strip."""
    if float(a.way @ b.way) > -_FACING or min(a.length, b.length) * cell_mm < _LEAST_SIDE_MM:
        return False
    low, high = sorted(float((place - a.start) @ a.way) for place in (b.start, b.end))
    beside = min(high, a.length) - max(low, 0.0)
    apart = max(a.beside((b.start + b.end) / 2), b.beside((a.start + a.end) / 2))
    return beside > _BESIDE * min(a.length, b.length) and apart * cell_mm < _WIDEST_MM


def _between(a: _Side, b: _Side, shape: tuple[int, ...]) -> Mask:
    """Cells between two sides that face each other, and on their rims."""
    corners = np.round([a.start, a.end, b.start, b.end]).astype(np.int32)
    cells = np.zeros(shape, np.uint8)
    cv2.fillPoly(cells, [cv2.convexHull(corners)], 1)
    return grown(cells.astype(bool), 1)
