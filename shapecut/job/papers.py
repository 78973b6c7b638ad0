"""The table `[papers]` of the job file: what the results look like."""

from typing import Annotated, Literal, Self

from pydantic import (
    AfterValidator,
    BeforeValidator,
    Field,
    PlainSerializer,
    WithJsonSchema,
    model_validator,
)

from shapecut.job.values import Length, PositiveLength, Table, length_field
from shapecut.papers.paper import PageSize, page_size_from_text
from shapecut.papers.printer import CHECK_BAR_MM, Printer
from shapecut.papers.tile_kind import TileKind
from shapecut.papers.tool import Tool
from shapecut.units import in_both_units

__all__ = ["Papers"]

WORST_PRINTER = 0.2
"""A check bar farther off than this share of its length was measured wrongly, or is another bar."""

WIDEST_TOOL_MM = 60.0
"""A router's bit wider than this is a slip of the pen."""


def _of_check_bar(bar_mm: float) -> float:
    if abs(bar_mm / CHECK_BAR_MM - 1) > WORST_PRINTER:
        raise ValueError(
            f"is not what a bar of {CHECK_BAR_MM:.0f} mm can measure; measure the chequered bar on "
            "a printed page, from end to end"
        )
    return bar_mm


def _each_once(kinds: tuple[TileKind, ...]) -> tuple[TileKind, ...]:
    if len(set(kinds)) < len(kinds):
        raise ValueError("names one kind of page twice; name each once")
    return kinds


CheckBar = Annotated[PositiveLength, AfterValidator(_of_check_bar)]

Page = Annotated[
    PageSize,
    BeforeValidator(page_size_from_text),
    PlainSerializer(str),
    WithJsonSchema(
        {
            "type": "string",
            "description": "A4, A3, Letter, Tabloid, “roll 610 mm” or a size, “900 mm x 1200 mm”",
        }
    ),
]


class Papers(Table):
    """What the results look like."""

    units: Literal["mm", "in"] = Field("mm", description="of the DXF files and the lists")
    fraction: Literal[2, 4, 8, 16, 32, 64] = Field(16, description="inches are rounded to 1/this")
    page: Page = Field("A4", description="of full-scale pages and cut cards", validate_default=True)
    tiles: Annotated[tuple[TileKind, ...], AfterValidator(_each_once)] = Field(
        (TileKind.PLAN,),
        description="full-scale pages to write: plan, cuts (each piece only where the saw goes), "
        "drilling (only where it is drilled), placing (the whole floor)",
    )
    bar_along: CheckBar | None = Field(
        None,
        description="the 100 mm check bar along the long side of a printed tile page, or along "
        "the roll, as measured",
    )
    bar_across: CheckBar | None = Field(
        None, description="the 100 mm check bar across a printed tile page, as measured"
    )
    point_drill: Length = length_field("5 mm", "diameter of holes at points marked on the template")
    dxf: Literal["R2010", "R12"] = Field("R2010", description="release of the DXF files")
    tool: PositiveLength | None = Field(
        None,
        description="diameter of the router's bit: the machine's files then hold the path of its "
        "middle; the contour itself if left out",
    )
    relieve: bool = Field(
        False, description="whether the bit runs into inside corners to clear them"
    )

    @model_validator(mode="after")
    def _relieved_for_a_tool(self) -> Self:
        if self.relieve and self.tool is None:
            raise ValueError("relieve needs tool, the diameter of the bit that clears the corners")
        if self.tool is not None and self.tool > WIDEST_TOOL_MM:
            raise ValueError(
                f"tool {in_both_units(self.tool)} is wider than "
                f"{in_both_units(WIDEST_TOOL_MM)}; state the diameter of the bit"
            )
        return self

    @property
    def printer(self) -> Printer:
        """What the printer makes of the check bars."""
        return Printer(self.bar_along or CHECK_BAR_MM, self.bar_across or CHECK_BAR_MM)

    @property
    def bit(self) -> Tool | None:
        """The router's bit."""
        return Tool(self.tool, self.relieve) if self.tool else None
