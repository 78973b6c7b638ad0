"""Boards by their trade names: what a nominal size really measures.

Sources, both from memory: American Softwood Lumber Standard PS 20, minimum dressed sizes, dry, for
names in inches (a 2x6 is 1 1/2 by 5 1/2 in); EN 1313-1, preferred sizes of sawn softwood at 20 %
moisture, for names in millimetres (planing takes a few mm more: state the size of planed boards).
EN 336 names structural timber by the same figures.
"""

import re
from fractions import Fraction

from shapecut.errors import LayoutError
from shapecut.units import MM_PER_INCH

__all__ = ["actual_size_mm"]

DRESSED_THICKNESS_IN = {"1": "3/4", "5/4": "1", "2": "3/2"}
"""PS 20, by nominal thickness."""

DRESSED_WIDTH_IN = {
    "2": "3/2", "3": "5/2", "4": "7/2", "5": "9/2", "6": "11/2", "8": "29/4", "10": "37/4",
    "12": "45/4",
}  # fmt: skip
"""PS 20, by nominal width."""

SAWN_THICKNESS_MM = frozenset(map(str, (16, 19, 22, 25, 32, 36, 38, 44, 47, 50, 63, 75, 100)))
"""EN 1313-1."""

SAWN_WIDTH_MM = frozenset(
    map(str, (75, 100, 115, 120, 125, 138, 150, 175, 200, 225, 250, 275, 300))
)
"""EN 1313-1."""

_NAME = re.compile(r"(?P<thickness>\d{1,3}(/4)?)\s*[x×]\s*(?P<width>\d{1,3})\s*(?P<unit>mm)?")


def actual_size_mm(name: str) -> tuple[float, float]:
    """Width and thickness of a board by its name.

    >>> actual_size_mm("5/4x6")
    (139.7, 25.4)

    Args:
        name: Thickness by width: inches without a unit, or millimetres with it (`38x150 mm`).

    Raises:
        LayoutError: If the name is no size of either standard.
    """
    match = _NAME.fullmatch(name.strip().lower())
    thickness, width = (match["thickness"], match["width"]) if match else ("", "")
    if match and match["unit"] and thickness in SAWN_THICKNESS_MM and width in SAWN_WIDTH_MM:
        return float(width), float(thickness)
    dressed = thickness in DRESSED_THICKNESS_IN and width in DRESSED_WIDTH_IN
    if match and not match["unit"] and dressed:
        width_in = Fraction(DRESSED_WIDTH_IN[width])
        thickness_in = Fraction(DRESSED_THICKNESS_IN[thickness])
        return float(width_in) * MM_PER_INCH, float(thickness_in) * MM_PER_INCH
    raise LayoutError(
        f'"{name}" is no size by PS 20 (2x6, 5/4x6, 1x4) or EN 1313-1 (25x150 mm): state the '
        f"board's real width and thickness instead."
    )
