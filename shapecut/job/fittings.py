"""Tables of the job file for what is fitted besides boards.

They are `[fasteners]`, `[blocking]`, `[fascia]`, `[[points]]` and `[[strips]]`.
"""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from shapecut.job.values import (
    Length,
    Percent,
    PlainText,
    PositiveLength,
    Price,
    SignedLength,
    SoldLength,
    Table,
    each_once,
    length_field,
    not_empty,
)
from shapecut.layout.drill_marks import Ends
from shapecut.stock.materials import OWN_NAMES

__all__ = [
    "BlockingTable",
    "FasciaScrews",
    "FasciaTable",
    "FastenerTable",
    "PointsTable",
    "StripTable",
]


class FastenerTable(Table):
    """What holds the boards down."""

    kind: Literal["clips", "screws"] | None = Field(
        None,
        description="clips in the grooves with screws where there is none, or screws throughout; "
        "if left out, clips where boards.edges are grooved",
    )
    screws: Annotated[int, Field(ge=1, le=6)] = Field(
        2, description="across a board at each joist, where it is screwed throughout"
    )
    edge_distance: Length = length_field("20 mm", "from a screw to the board's long edge")
    end_distance: Length = length_field("25 mm", "from a screw to the end of its piece")
    spare_percent: Percent = Field(10, description="bought on top")
    clip_price: Price | None = Field(None, description="of one")
    starter_price: Price | None = Field(None, description="of one")
    screw_price: Price | None = Field(None, description="of one")


class BlockingTable(Table):
    """The timber that blocking is cut from, of the joists' width."""

    lengths: Annotated[tuple[SoldLength, ...], AfterValidator(not_empty)]
    spare_percent: Percent = Field(0, description="lengths bought on top")


class FasciaScrews(Table):
    """Holes to drill in each board of the fascia."""

    count: Annotated[int, Field(ge=1, le=26)] = Field(2, description="in a column")
    edge_distance: PositiveLength = length_field("30 mm", "from the outer screws to the long edges")
    end_distance: PositiveLength = length_field("40 mm", "from the outer columns to the ends")
    spacing: PositiveLength | None = Field(
        None, description="of columns, at most; one over each joist if left out"
    )


class FasciaTable(Table):
    """Boards that cover the frame along edges."""

    edges: Annotated[tuple[str, ...], AfterValidator(each_once)] = Field(
        (), description="all straight covered edges of the outside if left out"
    )
    thickness: PositiveLength = length_field("20 mm", "of the fascia's boards")
    frame_depth: PositiveLength = Field(description="of the frame that it covers")
    reveal: SignedLength = length_field(
        "0 mm", "how far it hangs below the frame; less than nothing where it stays above"
    )
    board_width: PositiveLength | None = Field(
        None, description="of the boards that are sold, which are ripped to what is needed"
    )
    lengths: Annotated[tuple[SoldLength, ...], AfterValidator(not_empty)]
    spare_percent: Percent = Field(0, description="boards bought on top")
    shortest: Length = length_field("300 mm", "part of a run that is joined")
    joints_away_from: str | None = Field(
        None, description="the edge from which joints lie as far as can be; evenly if left out"
    )
    screws: FasciaScrews | None = None


def _own_name(name: str) -> str:
    if name in OWN_NAMES:
        raise ValueError("is what the list of materials calls something else; choose another name")
    return name


class PointsTable(Table):
    """Evenly spaced points along an edge or a riser: lights, balusters."""

    name: Annotated[
        PlainText,
        Field(min_length=1, description="its points are called after it"),
        AfterValidator(_own_name),
    ]
    edge: str | None = Field(None, description="that they lie along")
    length: PositiveLength | None = Field(None, description="of a riser or rail that is no edge")
    count: Annotated[int, Field(ge=1, le=1000)] | None = None
    at_most: PositiveLength | None = Field(None, description="the greatest clear distance")
    size: Length = length_field("0 mm", "of what stands at each point, along the row")
    margin: Length = length_field("0 mm", "left out at both ends")
    ends: Ends = Field(
        Ends.HALF,
        description="left at the ends: half of the distance between two, or the whole of it, as "
        "for balusters between posts",
    )
    clear_of_joists: Length | None = Field(
        None, description="least distance to the side of a joist behind; not looked at if left out"
    )
    price: Price | None = Field(
        None, description="of what stands at one point, which is then among the materials"
    )
    spare_percent: Percent = Field(0, description="bought on top, where a price is stated")

    @model_validator(mode="after")
    def _one_of_each(self) -> Self:
        if (self.edge is None) == (self.length is None):
            raise ValueError("needs either edge or length, where the points lie along")
        if (self.count is None) == (self.at_most is None):
            raise ValueError("needs either count or at_most, for how many points there are")
        if self.clear_of_joists is not None and self.edge is None:
            raise ValueError("clear_of_joists needs an edge; behind a length no joist is known")
        return self


class StripTable(Table):
    """Goods sold by the reel or the length, along edges."""

    name: Annotated[PlainText, Field(min_length=1), AfterValidator(_own_name)]
    edges: Annotated[tuple[str, ...], AfterValidator(not_empty), AfterValidator(each_once)]
    lengths: Annotated[tuple[SoldLength, ...], AfterValidator(not_empty)] = Field(
        description="reels or lengths on sale"
    )
    spare_percent: Percent = Field(0, description="reels or lengths bought on top")
    pitch: PositiveLength | None = Field(
        None, description="of the places where it may be cut; anywhere if left out"
    )
    bends: bool = Field(False, description="it goes round corners in one piece")
