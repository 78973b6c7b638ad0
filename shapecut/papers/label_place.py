"""Where there is room for a text inside a piece, clear of every cut.

A band is a strip inside a piece along its board, as high as the text with its clearance; texts are
centred on the longest one, those nearest the piece's middle first.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from shapecut.shape.placement import Point
from shapecut.shape.region import Region

__all__ = ["GLYPH_WIDTH", "Band", "Interior", "Room", "label_rooms", "place_label"]

BAND_PLACES = (0.5, 0.35, 0.65, 0.2, 0.8)
"""How far up the piece the bands' middles lie, as shares of its width, best first."""

WORTH_MOVING = 1.5
"""A band farther from the piece's middle is taken only if it is longer by this factor."""

SCAN_LINES = 5
"""Straight lines by which a band's height is probed."""

CLEARANCE = 0.3
"""Room over and under a text, as a share of its height."""

GLYPH_WIDTH = 0.8
"""Width to reckon with for one letter or digit of a text, as a share of the capitals' height."""

SIZES = (1.0, 0.75, 0.55, 0.4, 0.3, 0.2, 0.12)
"""Shares of the wanted height that are tried, until the text fits."""

FLATTENING_MM = 0.2
"""Greatest distance of chords from their arc."""

Span = tuple[float, float]


@dataclass(frozen=True)
class Band:
    """A strip inside a piece from `start` to `end` with its middle at `y`, in the piece's frame."""

    y: float
    start: float
    end: float

    @property
    def length(self) -> float:
        """Length in mm."""
        return self.end - self.start

    @property
    def middle(self) -> Point:
        """The middle of the strip."""
        return ((self.start + self.end) / 2, self.y)


@dataclass(frozen=True)
class Interior:
    """The inside of a piece, to be probed by lines along its board.

    Attributes:
        starts: (N, 2) starts of the straight segments that make up its boundary, piece frame, mm.
        ends: (N, 2) their ends.
    """

    starts: NDArray[np.float64]
    ends: NDArray[np.float64]

    @classmethod
    def of(cls, region: Region) -> "Interior":
        """The inside of a piece's region."""
        rings = [
            np.concatenate([side.curve.flattened(FLATTENING_MM)[:-1] for side in loop])
            for loop in region.loops
        ]
        return cls(
            np.concatenate(rings), np.concatenate([np.roll(ring, -1, axis=0) for ring in rings])
        )

    def spans(self, y: float) -> list[Span]:
        """The stretches inside at height `y`, from left to right."""
        crossing = (self.starts[:, 1] <= y) != (self.ends[:, 1] <= y)
        (xa, ya), (xb, yb) = self.starts[crossing].T, self.ends[crossing].T
        xs = np.sort(xa + (y - ya) / (yb - ya) * (xb - xa)).tolist()
        return list(zip(xs[::2], xs[1::2], strict=True))

    def bands(self, height_mm: float) -> list[Band]:
        """Strips of a height inside the piece, at `BAND_PLACES` of its width."""
        found = []
        half = height_mm / 2
        low, high = float(self.starts[:, 1].min()), float(self.starts[:, 1].max())
        for y in (low + share * (high - low) for share in BAND_PLACES):
            probed = [self.spans(line) for line in np.linspace(y - half, y + half, SCAN_LINES)]
            found += [Band(y, *span) for span in reduce(_common, probed)]
        return found

    def middle(self) -> Point:
        """The middle of the bounding rectangle, for a piece too thin for any band."""
        low, high = self.starts.min(axis=0), self.starts.max(axis=0)
        return (float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2)


def _common(first: list[Span], second: list[Span]) -> list[Span]:
    """What two sets of stretches have in common."""
    return [(max(a, c), min(b, d)) for a, b in first for c, d in second if max(a, c) < min(b, d)]


@dataclass(frozen=True)
class Room:
    """Where a text of one height fits.

    Attributes:
        height_mm: Of its capitals.
        length_mm: Length of band that the text needs.
        bands: All bands high enough for it, long enough or not.
    """

    height_mm: float
    length_mm: float
    bands: tuple[Band, ...]


def label_rooms(text: str, interior: Interior, height_mm: float) -> Iterator[Room]:
    """Yield where a text fits inside a piece, from the wanted height down through `SIZES`."""
    for size in SIZES:
        height = size * height_mm
        bands = interior.bands(height * (1 + 2 * CLEARANCE))
        yield Room(height, GLYPH_WIDTH * height * (len(text) + 1), tuple(bands))


def place_label(
    rooms: Iterable[Room], shown: Callable[[Sequence[Band]], Sequence[Band]] = tuple
) -> tuple[Point, float] | None:
    """Choose a place for a text.

    Args:
        rooms: Where it fits, largest height first.
        shown: Cuts bands down to what is seen of them.

    Returns:
        The middle of the text in the piece's frame and its height, or None when not even the
        smallest fits.
    """
    for room in rooms:
        roomy = [band for band in shown(room.bands) if band.length >= room.length_mm]
        if roomy:
            return reduce(_better, roomy).middle, room.height_mm
    return None


def _better(chosen: Band, other: Band) -> Band:
    factor = 1.0 if other.y == chosen.y else WORTH_MOVING
    return other if other.length > factor * chosen.length else chosen
