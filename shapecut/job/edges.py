"""The tables of the job file about edges: `[allowances]`, `[border]`, `[[breakers]]`, ...."""

from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from shapecut.job.values import Length, PositiveLength, Table, each_once, length_field, not_empty
from shapecut.layout.border_rules import Corners
from shapecut.units import in_both_units

__all__ = ["Allowances", "BorderTable", "BreakerTable", "LeftLong"]

LeftLong = PositiveLength
"""How far boards are left long at an edge."""


WIDEST_CORNER_GAP_MM = 50.0
"""A wider gap at a mitre is a slip of the unit."""


class BorderTable(Table):
    """Border boards along chosen edges, of the same boards as the rows."""

    edges: Annotated[tuple[str, ...], AfterValidator(not_empty), AfterValidator(each_once)] = Field(
        description="that they follow; of two that are butted, the one named first runs through"
    )
    courses: Annotated[int, Field(ge=1, le=20)] = Field(1, description="boards side by side")
    corners: Corners = Field(Corners.MITRED, description="how they meet at corners")
    corner_gap: Length = length_field("0 mm", "left open at a mitre, square to the cut")

    @model_validator(mode="after")
    def _gap_of_a_mitre(self) -> Self:
        if self.corner_gap > WIDEST_CORNER_GAP_MM:
            raise ValueError(
                f"corner_gap {in_both_units(self.corner_gap)} is more than "
                f"{in_both_units(WIDEST_CORNER_GAP_MM)}; state what is left open between the two "
                "cuts of a mitre"
            )
        if self.corner_gap and self.corners is Corners.BUTTED:
            raise ValueError(
                'corner_gap is for corners = "mitred"; butted boards stop a board gap before each '
                "other"
            )
        return self


class BreakerTable(Table):
    """A board across the field, which parts all rows there."""

    measured_from: str = Field(description="the outline edge that it lies parallel to")
    at: PositiveLength = Field(description="from that edge to the middle of the board")


class Allowances(Table):
    """How far the boards stay back from, or reach past, an edge of each treatment."""

    wall: Length = length_field("6 mm", "expansion gap left at walls and posts")
    covered: Length = length_field("0 mm", "left short under a fascia or trim")
    exposed: Length = length_field("2 mm", "cut outside the line, to be sanded back to it")
    overhang: Length = length_field("25 mm", "nosing past the frame")
    butt: Length | None = Field(None, description="to the next board; the board gap if left out")
