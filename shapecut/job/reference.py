"""The job file's tables for references without cards, all pointed at by pixel positions.

Pixel positions are [x, y] from the top left of the picture as it stands upright.
"""

from collections import Counter
from collections.abc import Mapping
from typing import Self

from pydantic import Field, model_validator

from shapecut.capture.paper_sizes import PaperName
from shapecut.job.values import PositiveLength, Table, length_field

__all__ = ["Reference", "SheetTable", "TapeTable"]

Pixel = tuple[float, float]
Corners = tuple[Pixel, Pixel, Pixel, Pixel]

LEAST_POINTS = 4
"""Fewer points give no photograph's pose."""


class SheetTable(Table):
    """A sheet of paper lying on the floor."""

    paper: PaperName = Field(description='its size: "A4", "Letter" and so on')
    seen: Mapping[str, Corners] = Field(
        description="for each photograph by name its four corners, one after the other round the "
        "sheet, beginning with both ends of the same short side"
    )


class PointTable(Table):
    """A pencilled point on the floor, or any spot that two scans show."""

    name: str = Field(min_length=1)
    seen: Mapping[str, Pixel] = Field(description="for each picture by name its place [x, y] there")


class TapeTable(Table):
    """A taped distance between two points."""

    between: tuple[str, str] = Field(description="the names of two points")
    length: PositiveLength = Field(description="as read off the tape")
    u: PositiveLength = length_field("1 mm", "its standard uncertainty")


class Reference(Table):
    """References without cards."""

    sheets: tuple[SheetTable, ...] = ()
    points: tuple[PointTable, ...] = Field((), description="at least four, of taped distances")
    tapes: tuple[TapeTable, ...] = Field((), description="every point to every other")

    @model_validator(mode="after")
    def _points_and_tapes_fit(self) -> Self:
        names = [point.name for point in self.points]
        twice = next((name for name, count in Counter(names).items() if count > 1), None)
        if twice:
            raise ValueError(f"two points are called {twice}; give each its own name")
        for tape in self.tapes:
            a, b = tape.between
            if a == b:
                raise ValueError(f"a tape goes from {a} to itself; name two points")
            unknown = next((name for name in tape.between if name not in names), None)
            if unknown:
                raise ValueError(f"the tape {a}–{b} names {unknown}, which is none of the points")
        if self.tapes and len(self.points) < LEAST_POINTS:
            raise ValueError(
                f"{len(self.points)} taped points are too few; pencil at least {LEAST_POINTS}"
            )
        least = 2 * len(self.points) - 2
        if self.tapes and len(self.tapes) < least:
            raise ValueError(
                f"{len(self.points)} points need at least {least} taped distances, so that a "
                f"mistake shows; there are {len(self.tapes)}"
            )
        return self

    @property
    def pictures(self) -> frozenset[str]:
        """Names of all pictures that something is pointed at in."""
        seen = [sheet.seen.keys() for sheet in self.sheets]
        return frozenset().union(*seen, *(point.seen.keys() for point in self.points))
