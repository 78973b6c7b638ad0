"""Paper to print on: standard sheets, sheets of any size, and rolls cut to any length."""

import re
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from shapecut.errors import UnitError
from shapecut.units import MM_PER_INCH, parse_length

__all__ = ["PageSize", "Paper", "Sheet", "page_size_from_text", "sheet_of"]

NARROWEST_MM = 160.0
"""Least width and height of a page: a check bar with its margins, and something to show."""

LONGEST_MM = 5000.0
"""Longest side of a page: PDF readers know no page longer than 200 in (ISO 32000-1, annex C.2)."""

_SIZES = (
    "A4, A3, Letter, Tabloid, a roll such as “roll 610 mm” or a size such as “900 mm x 1200 mm”"
)


class Paper(StrEnum):
    """Paper sizes that can be asked for by name."""

    A4 = "A4"
    A3 = "A3"
    LETTER = "Letter"
    TABLOID = "Tabloid"


@dataclass(frozen=True)
class Sheet:
    """A sheet as it lies in front of its reader, mm.

    Attributes:
        width_mm: Its width.
        height_mm: Its height.
        off_roll: The side along which the roll runs that it is cut from; None for no roll.
    """

    width_mm: float
    height_mm: float
    off_roll: Literal["width", "height"] | None = None

    def turned(self) -> "Sheet":
        """The sheet turned by a quarter; not of a roll."""
        return Sheet(self.height_mm, self.width_mm)

    @property
    def fed_level(self) -> bool:
        """Whether it goes through the printer along its width: its long side, or the roll's run."""
        if self.off_roll:
            return self.off_roll == "width"
        return self.width_mm > self.height_mm

    @property
    def area_mm2(self) -> float:
        """Its area."""
        return self.width_mm * self.height_mm


_UPRIGHT = {
    Paper.A4: Sheet(210.0, 297.0),
    Paper.A3: Sheet(297.0, 420.0),
    Paper.LETTER: Sheet(8.5 * MM_PER_INCH, 11 * MM_PER_INCH),
    Paper.TABLOID: Sheet(11 * MM_PER_INCH, 17 * MM_PER_INCH),
}


def sheet_of(paper: Paper) -> Sheet:
    """The upright sheet: A sizes by ISO 216, Letter and Tabloid (A and B) by ASME Y14.1."""
    return _UPRIGHT[paper]


@dataclass(frozen=True)
class PageSize:
    """What a person prints on.

    Attributes:
        text: As the person wrote it.
        width_mm: Of the sheet or the roll.
        height_mm: Of the sheet; None for a roll, whose pages are as long as need be.
    """

    text: str
    width_mm: float
    height_mm: float | None

    def __str__(self) -> str:
        return self.text

    @property
    def paper(self) -> Paper:
        """The standard sheet for papers that need no full scale: itself, or A4."""
        return Paper(self.text) if self.text in list(Paper) else Paper.A4

    def sheets(self, width_mm: float, height_mm: float) -> tuple[Sheet, ...]:
        """The sheets that something may be laid over, upright and turned.

        Args:
            width_mm: Of a page that would hold all of it.
            height_mm: Of a page that would hold all of it.
        """
        if self.height_mm is not None:
            sheet = Sheet(self.width_mm, self.height_mm)
            return (sheet, sheet.turned())
        length, width = (min(max(side, NARROWEST_MM), LONGEST_MM) for side in (height_mm, width_mm))
        return (
            Sheet(self.width_mm, length, off_roll="height"),
            Sheet(width, self.width_mm, off_roll="width"),
        )


def page_size_from_text(text: object) -> PageSize:
    """Read a page's size.

    Raises:
        ValueError: If it is none, or one on which nothing can be printed.
    """
    if isinstance(text, PageSize):
        return text
    if not isinstance(text, str):
        raise ValueError(f"must be {_SIZES}")
    text = text.strip()
    named = next((paper for paper in Paper if paper.lower() == text.lower()), None)
    if named:
        sheet = sheet_of(named)
        return PageSize(named.value, sheet.width_mm, sheet.height_mm)
    roll = re.fullmatch(r"roll\s+(.+)", text, re.IGNORECASE)
    sides = [roll[1]] if roll else re.split(r"\s*[x×]\s*", text)
    if not roll and len(sides) != 2:
        raise ValueError(f"must be {_SIZES}")
    try:
        lengths = [parse_length(side) for side in sides]
    except UnitError as error:
        raise ValueError(f"must be {_SIZES}; {error}") from None
    if min(lengths) < NARROWEST_MM or max(lengths) > LONGEST_MM:
        raise ValueError(
            f"must be {NARROWEST_MM:.0f} mm to {LONGEST_MM:.0f} mm wide and high: less has no room "
            "for the check bars, more no printer takes"
        )
    return PageSize(text, lengths[0], None if roll else lengths[1])
