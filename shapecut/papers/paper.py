"""Sheets of paper by their standard names."""

from dataclasses import dataclass
from enum import StrEnum

from shapecut.units import MM_PER_INCH

__all__ = ["Paper", "Sheet", "sheet_of"]


class Paper(StrEnum):
    """Paper sizes that can be asked for."""

    A4 = "A4"
    A3 = "A3"
    LETTER = "Letter"
    TABLOID = "Tabloid"


@dataclass(frozen=True)
class Sheet:
    """A sheet as it lies in front of its reader, mm."""

    width_mm: float
    height_mm: float

    def turned(self) -> "Sheet":
        """The sheet turned by a quarter."""
        return Sheet(self.height_mm, self.width_mm)


_UPRIGHT = {
    Paper.A4: Sheet(210.0, 297.0),
    Paper.A3: Sheet(297.0, 420.0),
    Paper.LETTER: Sheet(8.5 * MM_PER_INCH, 11 * MM_PER_INCH),
    Paper.TABLOID: Sheet(11 * MM_PER_INCH, 17 * MM_PER_INCH),
}


def sheet_of(paper: Paper) -> Sheet:
    """The upright sheet: A sizes by ISO 216, Letter and Tabloid (A and B) by ASME Y14.1."""
    return _UPRIGHT[paper]
