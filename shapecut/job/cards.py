"""The table `[cards]` of the job file: the reference cards in the photographs."""

from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from shapecut.job.reference import TapeTable
from shapecut.job.values import Length, PositiveLength, Table, not_empty

__all__ = ["Cards"]


class OwnMark(Table):
    """One mark on a card of the user's own."""

    number: int = Field(ge=0)
    at: tuple[Length, Length] = Field(description="its centre from the card's lower left corner")
    side: PositiveLength = Field(description="side of its black square")
    turn_deg: float = Field(0.0, description="counter-clockwise, as printed")


class OwnCard(Table):
    """A card of the user's own with several marks."""

    name: str
    marks: Annotated[tuple[OwnMark, ...], AfterValidator(not_empty)]


class OwnCards(Table):
    """Marks that were not printed by `shapecut cards`."""

    dictionary: str = Field(description='an OpenCV dictionary, e.g. "AprilTag 36h11"')
    side: PositiveLength | None = Field(
        None, description="side of the black square, when every card carries one mark"
    )
    card: tuple[OwnCard, ...] = Field((), description="cards with several marks at stated places")

    @model_validator(mode="after")
    def _side_or_cards(self) -> Self:
        if (self.side is None) == (not self.card):
            raise ValueError("needs either side (one mark a card) or [[cards.own.card]] tables")
        return self


class Cards(Table):
    """The reference cards in the photographs."""

    bar_along: PositiveLength | None = Field(
        None, description="the 100 mm check bar along the sheet, as you measured it"
    )
    bar_across: PositiveLength | None = Field(
        None, description="the 100 mm check bar across the sheet, as you measured it"
    )
    own: OwnCards | None = None
    tapes: tuple[TapeTable, ...] = Field(
        (), description="distances taped between the crosses of two cards, by the cards' names"
    )

    @model_validator(mode="after")
    def _bars_belong_to_printed_cards(self) -> Self:
        if self.own and (self.bar_along or self.bar_across):
            raise ValueError(
                "bar_along and bar_across are for printed cards; own marks state a side"
            )
        return self
