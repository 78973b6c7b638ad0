"""The table `[stock]` of the job file: what the yard sells, what is on hand, and the saw's kerf."""

from typing import Annotated

from pydantic import AfterValidator, Field

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

__all__ = ["StockTable"]


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
