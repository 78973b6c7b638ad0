"""What a strip of a board's width takes out of a field, for every place it can slide to at once.

Glossary:
    strip: the field between two levels, `width_mm` apart; its place is the lower one, row frame.
    run: a line, or an arc that only rises or falls both along and across.
    bank: the runs that bound a cell on one side, one above the other.
    cell: a part of the field between two banks, so that every level in it crosses it in one
        stretch; cells meet along levels.
    link: the level at which two cells meet over some length.
    regime: a stretch of places within which the same cells, links and corners stay in the strip,
        named by any place inside it.  Within a regime every measure changes continuously, so that
        it can be asked for at the regime's own ends.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.curves import Arc, Curve
from shapecut.shape.monotone import quarters
from shapecut.shape.region import Region

__all__ = ["Parts", "SlidingStrip", "sliding_strip"]

SAME_PLACE_MM = 1e-6
"""Heights and places along the boards nearer than this are one; `clip.ON_BORDER_MM` is the same."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class _Bank:
    """Where a cell ends on one side.

    Attributes:
        heights: (M,) of its corners, rising.
        corners: (M,) along-coordinates of its corners.
        rounds: (M - 1, 3) of the run between two corners: along- and across-coordinate of its
            centre, and its radius, negative on the centre's left; noughts for a line.
    """

    heights: Floats
    corners: Floats
    rounds: Floats

    def at(self, levels: Floats) -> Floats:
        """(N,) along-coordinates at some levels of the cell."""
        straight = np.interp(levels, self.heights, self.corners)
        if not self.rounds.any():
            return straight
        run = np.searchsorted(self.heights[1:-1], levels)
        centre, middle, radius = self.rounds[run].T
        half_chord = np.sqrt(np.maximum(radius**2 - (levels - middle) ** 2, 0.0))
        return np.where(radius, centre + np.sign(radius) * half_chord, straight)


@dataclass(frozen=True)
class _Cell:
    """A part of the field between two banks of the same extent across the boards."""

    left: _Bank
    right: _Bank

    @property
    def ends(self) -> tuple[float, float]:
        """Its lowest and its highest level."""
        return float(self.left.heights[0]), float(self.left.heights[-1])


@dataclass(frozen=True)
class Parts:
    """The connected parts of strips at N places; C columns, of which some hold no part.

    Attributes:
        there: (N, C) whether the column holds a part.
        low: (N, C) its lowest level.
        high: (N, C) its highest level.
        left: (N, C) its leftmost point.
        right: (N, C) its rightmost point.
    """

    there: NDArray[np.bool_]
    low: Floats
    high: Floats
    left: Floats
    right: Floats

    @property
    def widths_mm(self) -> Floats:
        """(N, C) extent across the boards, nought where there is no part."""
        return np.subtract(self.high, self.low, out=np.zeros_like(self.low), where=self.there)

    @property
    def lengths_mm(self) -> Floats:
        """(N, C) extent along the boards, nought where there is no part."""
        return np.subtract(self.right, self.left, out=np.zeros_like(self.low), where=self.there)


@dataclass(frozen=True)
class SlidingStrip:
    """A field, ready to be cut into strips of one width anywhere; see `sliding_strip`."""

    width_mm: float
    cells: tuple[_Cell, ...]
    links: tuple[tuple[int, int, float], ...]

    @property
    def corner_heights(self) -> Floats:
        """The height of every corner, rising."""
        banks = [bank for cell in self.cells for bank in (cell.left, cell.right)]
        return np.unique(np.concatenate([bank.heights for bank in banks]))

    @property
    def turning_heights(self) -> Floats:
        """The heights at which parts can begin or end, rising."""
        return np.unique(np.array([cell.ends for cell in self.cells]))

    def parts(self, places: Floats, regimes: Floats | None = None) -> Parts:
        """Cut strips.

        Args:
            places: (N,) lower levels.
            regimes: (N,) a place inside the regime of each; the places themselves if left out.
        """
        regimes = places if regimes is None else regimes
        columns = np.arange(len(self.cells))
        extents = np.array([self._extents(cell, places, regimes) for cell in self.cells])
        low, high, left, right = extents.transpose(1, 2, 0)
        labels = self._labels(regimes)
        together = labels[:, :, None] == columns
        return Parts(
            labels == columns,
            np.where(together, low[:, :, None], np.inf).min(axis=1),
            np.where(together, high[:, :, None], -np.inf).max(axis=1),
            np.where(together, left[:, :, None], np.inf).min(axis=1),
            np.where(together, right[:, :, None], -np.inf).max(axis=1),
        )

    def _extents(
        self, cell: _Cell, places: Floats, regimes: Floats
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """(N,) low, high, left and right of the strip's part in one cell."""
        bottom, top = cell.ends
        low = np.where(regimes > bottom, places, bottom)
        high = np.where(regimes + self.width_mm < top, places + self.width_mm, top)
        above = cell.left.heights - regimes[:, None]
        inside = (above > 0) & (above < self.width_mm)
        both = np.concatenate([low, high])
        left = np.where(inside, cell.left.corners, np.inf).min(axis=1)
        left = np.minimum(left, cell.left.at(both).reshape(2, -1).min(axis=0))
        right = np.where(inside, cell.right.corners, -np.inf).max(axis=1)
        right = np.maximum(right, cell.right.at(both).reshape(2, -1).max(axis=0))
        return low, high, left, right

    def _labels(self, regimes: Floats) -> NDArray[np.int64]:
        """(N, C) the first cell that each cell hangs together with; C for cells outside."""
        count = len(self.cells)
        bottoms, tops = np.array([cell.ends for cell in self.cells]).T
        upper = regimes + self.width_mm
        inside = (regimes[:, None] < tops - SAME_PLACE_MM) & (
            upper[:, None] > bottoms + SAME_PLACE_MM
        )
        labels = np.where(inside, np.arange(count), count)
        for _ in range(count):
            before = labels.copy()
            for first, second, level in self.links:
                linked = (regimes < level - SAME_PLACE_MM) & (upper > level + SAME_PLACE_MM)
                least = np.minimum(labels[:, first], labels[:, second])
                for cell in (first, second):
                    labels[:, cell] = np.where(linked, least, labels[:, cell])
            if np.array_equal(before, labels):
                break
        return labels


def sliding_strip(field: Region, width_mm: float) -> SlidingStrip:
    """Take a field apart into cells.

    Args:
        field: In the row frame.
        width_mm: Of the strip.
    """
    runs = _Runs.of(field)
    grown: list[list[_Slice]] = []
    links: list[tuple[int, int, float]] = []
    below: list[int] = []
    for low, high in pairwise(runs.levels().tolist()):
        slices = list(runs.slices(low, high))
        meets = [[cell for cell in below if grown[cell][-1].meets(new)] for new in slices]
        above: list[int] = []
        for new, found in zip(slices, meets, strict=True):
            only = len(found) == 1 and sum(found[0] in other for other in meets) == 1
            if only and grown[found[0]][-1].runs_on_into(new):
                grown[found[0]].append(new)
                above.append(found[0])
                continue
            links += [(cell, len(grown), low) for cell in found]
            above.append(len(grown))
            grown.append([new])
        below = above
    return SlidingStrip(width_mm, tuple(map(_cell, grown)), tuple(links))


@dataclass(frozen=True)
class _Slice:
    """A stretch of the field between two neighbouring corners' heights, on its way up a cell.

    Attributes:
        levels: The two heights.
        lefts: Along-coordinates of its left end at both.
        rights: Along-coordinates of its right end at both.
        rounds: Of its left and of its right run, see `_Bank`.
    """

    levels: tuple[float, float]
    lefts: tuple[float, float]
    rights: tuple[float, float]
    rounds: tuple[Floats, Floats]

    def meets(self, above: "_Slice") -> bool:
        """Whether the slice above it touches it over some length."""
        left, right = max(self.lefts[1], above.lefts[0]), min(self.rights[1], above.rights[0])
        return right - left > SAME_PLACE_MM

    def runs_on_into(self, above: "_Slice") -> bool:
        """Whether the slice above it is just as long where they touch."""
        left, right = self.lefts[1] - above.lefts[0], self.rights[1] - above.rights[0]
        return max(abs(left), abs(right)) < SAME_PLACE_MM


def _cell(slices: Sequence[_Slice]) -> _Cell:
    heights = np.array([slices[0].levels[0], *(part.levels[1] for part in slices)])
    lefts = np.array([slices[0].lefts[0], *(part.lefts[1] for part in slices)])
    rights = np.array([slices[0].rights[0], *(part.rights[1] for part in slices)])
    left_rounds, right_rounds = np.array([part.rounds for part in slices]).transpose(1, 0, 2)
    return _Cell(_Bank(heights, lefts, left_rounds), _Bank(heights, rights, right_rounds))


@dataclass(frozen=True)
class _Runs:
    """The runs of a field's boundary: (S, 2) starts and ends, (S, 3) rounds, see `_Bank`."""

    starts: Floats
    ends: Floats
    rounds: Floats

    @classmethod
    def of(cls, field: Region) -> "_Runs":
        curves: list[Curve] = []
        for side in (side for loop in field.loops for side in loop):
            curves += quarters(side.curve) if isinstance(side.curve, Arc) else [side.curve]
        starts, ends = (
            np.array(ends) for ends in zip(*((c.start, c.end) for c in curves), strict=True)
        )
        return cls(starts, ends, np.array([_round(curve) for curve in curves]))

    def levels(self) -> Floats:
        """The heights of all corners, rising, without those that only rounding tells apart."""
        rising = np.sort(np.concatenate([self.starts[:, 1], self.ends[:, 1]]))
        return np.asarray(rising[np.append(True, np.diff(rising) > SAME_PLACE_MM)])

    def slices(self, low: float, high: float) -> Iterator[_Slice]:
        """The stretches of the field between two neighbouring heights, from left to right."""
        middle = (low + high) / 2
        crossing = (self.starts[:, 1] < middle) != (self.ends[:, 1] < middle)
        (xa, ya), (xb, yb) = self.starts[crossing].T, self.ends[crossing].T
        rounds = self.rounds[crossing]
        levels = np.array([[low], [middle], [high]])
        at = xa + (levels - ya) / (yb - ya) * (xb - xa)
        centre, height, radius = rounds.T
        half_chord = np.sqrt(np.maximum(radius**2 - (levels - height) ** 2, 0.0))
        at = np.where(radius, centre + np.sign(radius) * half_chord, at)
        order = np.argsort(at[1])
        for left, right in zip(order[::2], order[1::2], strict=True):
            yield _Slice(
                (low, high),
                (float(at[0, left]), float(at[2, left])),
                (float(at[0, right]), float(at[2, right])),
                (rounds[left], rounds[right]),
            )


def _round(curve: Curve) -> tuple[float, float, float]:
    """Centre and signed radius of a run; noughts for a line."""
    if not isinstance(curve, Arc):
        return (0.0, 0.0, 0.0)
    x, y = curve.centre
    return (x, y, float(np.copysign(curve.radius, curve.at(0.5)[0] - x)))
