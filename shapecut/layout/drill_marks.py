"""Marks for drilling templates: named points on a board or along an edge.

Glossary:
    column: screws one above the other at one place along a board.
    clear distance: between the near sides of two neighbouring points' things, or from such a side
        to the end.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from shapecut.errors import LayoutError
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = [
    "MOST_IN_A_ROW",
    "DrillMark",
    "Ends",
    "ScrewPattern",
    "evenly_spaced",
    "pattern_marks",
    "refuse_too_many",
]

MOST_IN_A_ROW = 1000
"""Points, columns of holes or parts along one edge, at most; more come from a slip of the unit."""


def refuse_too_many(count: float, what: str) -> None:
    """Refuse more of anything along one edge than `MOST_IN_A_ROW`.

    Raises:
        LayoutError: Naming what there would be too many of.
    """
    if count > MOST_IN_A_ROW:
        raise LayoutError(
            f"There would be {count:.0f} {what} in one row, and {MOST_IN_A_ROW} are the most: "
            "check the distance or length that is stated, and its unit."
        )


@dataclass(frozen=True)
class DrillMark:
    """A point to mark, mm from a board's left end and from its lower edge."""

    name: str
    along_mm: float
    up_mm: float


@dataclass(frozen=True)
class ScrewPattern:
    """Columns of screws.

    Attributes:
        count: Screws in a column.
        edge_mm: From the uppermost and the lowest to the board's edge.
        end_mm: From the outermost columns to the board's ends.
        spacing_mm: Greatest distance of columns; None for one over each joist.
        lengths: How refusals write lengths.
    """

    count: int
    edge_mm: float
    end_mm: float
    spacing_mm: float | None = None
    lengths: LengthStyle = MILLIMETRES


class Ends(StrEnum):
    """What is left between the outermost points and the ends of their stretch."""

    WHOLE = "whole"
    """As much as between two points: balusters between posts."""
    HALF = "half"
    """Half of it: each point in the middle of an equal part, as lights are."""


def evenly_spaced(
    length_mm: float,
    *,
    count: int | None = None,
    at_most_mm: float | None = None,
    size_mm: float = 0.0,
    margin_mm: float = 0.0,
    ends: Ends = Ends.HALF,
    lengths: LengthStyle = MILLIMETRES,
) -> tuple[tuple[float, ...], float]:
    """Points along a stretch with equal clear distances.

    n things of size s leave L - 2 m - n s of the stretch; that is shared by n + 1 clear distances
    with whole ends, by n with half ones.

    Three lights on 900 mm are 150, 450 and 750 mm from its end.  Balusters 40 mm thick between
    posts 1500 mm apart, no more than 100 mm clear: 10 of them, 1100 / 11 = 100 mm.

    >>> evenly_spaced(900.0, count=3)
    ((150.0, 450.0, 750.0), 300.0)
    >>> places, clear = evenly_spaced(1500.0, at_most_mm=100.0, size_mm=40.0, ends=Ends.WHOLE)
    >>> len(places), clear
    (10, 100.0)

    Args:
        length_mm: Of the stretch.
        count: How many points; or
        at_most_mm: the greatest clear distance, for as few points as keep it.
        size_mm: Of what stands at each point.
        margin_mm: Left out at both ends.
        ends: What is left there.
        lengths: How refusals write lengths.

    Returns:
        Distances of the points from the start, and the clear distance between two.

    Raises:
        LayoutError: If neither or both of count and distance are stated, or there is no room.
    """
    inner = length_mm - 2 * margin_mm
    extra = 1 if ends is Ends.WHOLE else 0
    if count is None and at_most_mm is not None:
        least = (inner - extra * at_most_mm) / (at_most_mm + size_mm)
        refuse_too_many(least, "points")
        count = max(1, math.ceil(least - 1e-9))
    elif count is None or at_most_mm is not None:
        raise LayoutError("Evenly spaced points need either their count or a greatest distance.")
    clear = (inner - count * size_mm) / (count + extra)
    if clear < 0:
        raise LayoutError(
            f"{count} points of {lengths(size_mm)} have no room on {lengths(length_mm)} with "
            f"margins of {lengths(margin_mm)}: take fewer, or smaller margins."
        )
    first = margin_mm + size_mm / 2 + (clear if ends is Ends.WHOLE else clear / 2)
    return tuple(first + k * (clear + size_mm) for k in range(count)), clear


def pattern_marks(
    label: str,
    length_mm: float,
    width_mm: float,
    pattern: ScrewPattern,
    joists_mm: Sequence[float] | None = None,
) -> tuple[DrillMark, ...]:
    """The holes of a board, column by column from its left end, each from below.

    Args:
        label: Of the board; its holes are F1-1a, F1-1b, F1-2a and so on.
        length_mm: Of the board.
        width_mm: Of the board.
        pattern: Of the holes.
        joists_mm: Where joists are behind it, for a pattern without spacing.

    Raises:
        LayoutError: If the board is too short or too narrow for its distances.
    """
    if 2 * pattern.edge_mm > width_mm or 2 * pattern.end_mm > length_mm:
        written = pattern.lengths
        raise LayoutError(
            f"Board {label}, {written(length_mm)} by {written(width_mm)}, is too small for screws "
            f"{written(pattern.edge_mm)} from its edges and {written(pattern.end_mm)} from its "
            f"ends: state lesser distances."
        )
    first, last = pattern.end_mm, length_mm - pattern.end_mm
    if pattern.spacing_mm is None:
        columns = [at for at in joists_mm or () if first - 1e-6 <= at <= last + 1e-6]
    else:
        refuse_too_many((last - first) / pattern.spacing_mm, "columns of screws")
        steps = max(1, math.ceil((last - first) / pattern.spacing_mm - 1e-9))
        columns = [first + k * (last - first) / steps for k in range(steps + 1)]
    low, high = pattern.edge_mm, width_mm - pattern.edge_mm
    if pattern.count == 1:
        heights = [width_mm / 2]
    else:
        heights = [low + k * (high - low) / (pattern.count - 1) for k in range(pattern.count)]
    return tuple(
        DrillMark(f"{label}-{n}{chr(ord('a') + k)}", along, up)
        for n, along in enumerate(columns, start=1)
        for k, up in enumerate(heights)
    )
