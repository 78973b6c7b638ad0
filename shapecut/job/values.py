"""What the tables of the job file have in common: trade lengths, and refusing unknown keys."""

from decimal import Decimal, InvalidOperation
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from shapecut.units import parse_length

__all__ = [
    "Length",
    "Percent",
    "PlainText",
    "PositiveLength",
    "Price",
    "SignedLength",
    "SoldLength",
    "Table",
    "each_once",
    "length_field",
    "not_empty",
]

_LENGTH_SCHEMA = WithJsonSchema(
    {
        "type": "string",
        "description": "A trade length with its unit: 140 mm, 2.4 m, 5 1/2 in, 1' 3 1/4\"",
    }
)


def _positive(length_mm: float) -> float:
    if length_mm <= 0:
        raise ValueError("must be more than zero")
    return length_mm


def not_empty(entries: tuple[Any, ...]) -> tuple[Any, ...]:
    """For an `AfterValidator`: refuse a list without entries."""
    if not entries:
        raise ValueError("needs at least one entry")
    return entries


def each_once(names: tuple[str, ...]) -> tuple[str, ...]:
    """For an `AfterValidator`: refuse a name that is listed twice."""
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise ValueError(f"names {twice} twice; name it once")
    return names


Length = Annotated[float, BeforeValidator(parse_length), _LENGTH_SCHEMA]
PositiveLength = Annotated[
    float, BeforeValidator(parse_length), AfterValidator(_positive), _LENGTH_SCHEMA
]


def _signed_length(text: Any) -> float:
    """A trade length, with a minus for the left and for downwards, mm."""
    if isinstance(text, str) and text.strip().startswith(("-", "\u2212")):
        return -parse_length(text.strip()[1:])
    return parse_length(text)


SignedLength = Annotated[float, BeforeValidator(_signed_length), _LENGTH_SCHEMA]


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("has a character that cannot be printed")
    return text


PlainText = Annotated[str, AfterValidator(_printable)]
"""A text without control characters: a title, a file's name."""


def length_field(default: str, description: str) -> Any:
    """A length's default, written as a person would."""
    return Field(default, description=description, validate_default=True)


class Table(BaseModel):
    """A table of the job file: unknown keys refused, values fixed once read."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


Percent = Annotated[float, Field(ge=0, le=100)]


def _plain_number(price: Any) -> Any:
    """Refuse a text that is no number, with how a price is written."""
    if isinstance(price, str):
        try:
            return Decimal(price)
        except InvalidOperation:
            raise ValueError(
                "write a number with a decimal point, and the currency under [stock]: price = 12.50"
            ) from None
    return price


Price = Annotated[
    Decimal, Field(ge=0, max_digits=12, decimal_places=4), BeforeValidator(_plain_number)
]


class SoldLength(Table):
    """A length on sale."""

    length: PositiveLength
    price: Price | None = Field(None, description="of one")
    available: Annotated[int, Field(ge=1)] | None = Field(None, description="no limit if left out")
