"""How far apart joists may be under boards: the default where a job states no limit.

Source: International Residential Code, Table R507.7 (maximum joist spacing for wood decking; the
spacing under plastic composite decking is the maker's approval, Section R507.2).  The table names
nominal thicknesses; the actual ones beside them are those of PS 20, from memory.
"""

import math
from dataclasses import dataclass

from shapecut.units import MM_PER_INCH

__all__ = ["SOURCE", "SpanLimit", "longest_spacing_mm"]

SOURCE = "IRC Table R507.7"

SQUARE_RAD = math.radians(5.0)
"""Joists up to this skew count as square to the boards."""

GREATEST_SKEW_RAD = math.radians(45.0)
"""The table's diagonal column ends here."""

_HAIR = 1e-9
"""Rounding of an angle, radians."""


@dataclass(frozen=True)
class SpanLimit:
    """A row of the table.

    Attributes:
        nominal: Thickness as it is called, wood decking.
        thickness_mm: Actual thickness from which on it holds.
        square_mm: Greatest spacing of joists square to the boards.
        diagonal_mm: Greatest spacing of joists up to 45° from square.
    """

    nominal: str
    thickness_mm: float
    square_mm: float
    diagonal_mm: float


TABLE = (
    SpanLimit("2 in", 1.5 * MM_PER_INCH, 24 * MM_PER_INCH, 16 * MM_PER_INCH),
    SpanLimit("1 1/4 in", 1.0 * MM_PER_INCH, 16 * MM_PER_INCH, 12 * MM_PER_INCH),
)
"""The thickest first."""

METRIC_SHARE = 0.99
"""A board counts as thick as the table's from this share of it on: 38 mm is 1 1/2 in by name."""


def longest_spacing_mm(thickness_mm: float, skew_rad: float) -> float | None:
    """The greatest spacing of joists under wood decking by `SOURCE`.

    Args:
        thickness_mm: Of the boards, actual.
        skew_rad: Of the joists, 0 where they are square to the boards.

    Returns:
        In mm; None where the table does not reach: thinner boards, a greater skew.

    >>> longest_spacing_mm(25.4, 0.0), longest_spacing_mm(38.0, 0.0)
    (406.4, 609.6)
    """
    row = next((row for row in TABLE if thickness_mm >= METRIC_SHARE * row.thickness_mm), None)
    if row is None or skew_rad > GREATEST_SKEW_RAD + _HAIR:
        return None
    return round(row.square_mm if skew_rad <= SQUARE_RAD else row.diagonal_mm, 6)
