"""The table `[stock]` of the job file: what the yard sells, what is on hand, and the saw's kerf."""

from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from shapecut.job.offcut_file import OffcutTable
from shapecut.job.values import (
    Length,
    Percent,
    PlainText,
    SoldLength,
    Table,
    length_field,
    not_empty,
)
from shapecut.units import in_both_units

__all__ = ["StockTable"]

WIDEST_KERF_MM = 60.0
"""As wide as the widest bit of a router; blades cut less."""


class StockTable(Table):
    """What the yard sells, and the saw."""

    lengths: Annotated[tuple[SoldLength, ...], AfterValidator(not_empty)]
    kerf: Length = length_field("3 mm", "width of the saw cut")
    squared_end: Length = length_field(
        "0 mm", "taken off either end of a bought board to square it"
    )
    offcuts: PlainText | None = Field(
        None, description="an offcuts.toml of boards on hand, as an earlier job wrote it"
    )
    on_hand: tuple[OffcutTable, ...] = Field((), description="boards on hand, stated here")
    search_seconds: float = Field(
        3.0, gt=0, le=3600, description="longest search for cheaper boards"
    )
    keep: Length = length_field("300 mm", "offcuts at least this long are kept for the next job")
    spare_percent: Percent = Field(
        0, description="boards bought on top, of the longest ones that are bought"
    )
    currency: PlainText = Field("", max_length=12, description="written behind prices")

    @model_validator(mode="after")
    def _leaves_something(self) -> Self:
        if self.kerf > WIDEST_KERF_MM:
            raise ValueError(
                f"kerf {in_both_units(self.kerf)} is more than {in_both_units(WIDEST_KERF_MM)}; "
                "state how wide the saw cuts"
            )
        shortest = min(sold.length for sold in self.lengths)
        if 2 * self.squared_end >= shortest:
            raise ValueError(
                f"squared_end {in_both_units(self.squared_end)} leaves nothing of the board of "
                f"{in_both_units(shortest)}; state what squaring takes off either end"
            )
        return self
