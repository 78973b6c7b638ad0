"""Offcuts on hand as a file: what one job leaves over is what the next may cut from."""

import json
import tomllib
from collections.abc import Sequence
from decimal import Decimal
from pathlib import Path
from typing import Annotated, Self

from pydantic import Field, ValidationError, model_validator

from shapecut.errors import JobFileError
from shapecut.job.values import Length, PlainText, PositiveLength, Table
from shapecut.stock.cutplan import Offcut

__all__ = ["OFFCUTS_FILE", "OffcutTable", "offcuts_from_text", "offcuts_text", "read_offcuts"]

OFFCUTS_FILE = "offcuts.toml"

_HEAD = """\
# Offcuts on hand, each written with its name.  lower and upper: where the board's two edges begin
# and end, measured along it from one place; avoid: stretches that no piece may lie on.
"""


class OffcutTable(Table):
    """A board on hand: its length where both ends are square, or else where its edges end."""

    name: PlainText = Field(min_length=1, max_length=100, description="as written on it")
    length: PositiveLength | None = Field(None, description="where both ends are square")
    lower: tuple[Length, Length] | None = Field(
        None, description="where its lower edge begins and ends"
    )
    upper: tuple[Length, Length] | None = Field(
        None, description="where its upper edge begins and ends"
    )
    avoid: tuple[tuple[Length, Length], ...] = Field(
        (), description="stretches, from and to, that no piece may lie on"
    )
    cost: Annotated[Decimal, Field(ge=0, max_digits=12, decimal_places=4)] = Field(
        Decimal(0), description="of using it"
    )

    @model_validator(mode="after")
    def _length_or_edges(self) -> Self:
        edges = (self.lower, self.upper)
        if (self.length is None) != (None not in edges) or (self.length and any(edges)):
            raise ValueError("needs either length, or lower and upper")
        return self

    def offcut(self) -> Offcut:
        """The offcut that the table states."""
        whole = (0.0, self.length or 0.0)
        return Offcut(self.name, self.lower or whole, self.upper or whole, self.avoid, self.cost)


class _OffcutsFile(Table):
    offcuts: tuple[OffcutTable, ...] = ()


def offcuts_from_text(text: str, name: str = OFFCUTS_FILE) -> tuple[Offcut, ...]:
    """Read offcuts.

    Args:
        text: TOML.
        name: The file's name, for the error's sentence.

    Raises:
        JobFileError: One line for each mistake: the key, what is wrong.
    """
    try:
        values = tomllib.loads(text.removeprefix("\ufeff"), parse_float=Decimal)
        tables = _OffcutsFile.model_validate(values).offcuts
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise JobFileError(f"{name} is not TOML: {error}.") from None
    except ValidationError as error:
        lines = []
        for details in error.errors():
            key = ".".join(str(part) for part in details["loc"])
            reason = details["msg"].removeprefix("Value error, ").rstrip(".")
            lines.append(f"{name}: {key}: {reason[0].lower()}{reason[1:]}.")
        raise JobFileError("\n".join(lines)) from None
    return tuple(table.offcut() for table in tables)


def read_offcuts(path: Path) -> tuple[Offcut, ...]:
    """Read a file of offcuts.

    Raises:
        JobFileError: When it is missing, unreadable, or mistaken.
    """
    try:
        return offcuts_from_text(path.read_text(encoding="utf-8"), path.name)
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise JobFileError(
            f"The offcuts {path} cannot be read: {reason.lower()}; name a file written by an "
            "earlier job, or leave stock.offcuts out."
        ) from None


def offcuts_text(offcuts: Sequence[Offcut]) -> str:
    """Write offcuts so that `offcuts_from_text` reads the same ones back, to a micrometre."""
    return "\n".join([_HEAD, *map(_table, offcuts)])


def _table(offcut: Offcut) -> str:
    lines = [
        "[[offcuts]]",
        f"name = {json.dumps(offcut.name, ensure_ascii=False)}",
        f"lower = {_pair(offcut.lower_mm)}",
        f"upper = {_pair(offcut.upper_mm)}",
    ]
    if offcut.avoid_mm:
        lines.append(f"avoid = [{', '.join(map(_pair, offcut.avoid_mm))}]")
    if offcut.cost:
        lines.append(f"cost = {offcut.cost}")
    return "\n".join(lines) + "\n"


def _pair(stretch: tuple[float, float]) -> str:
    begin, end = (f"{round(place, 3) + 0.0:.3f}".rstrip("0").rstrip(".") for place in stretch)
    return f'["{begin} mm", "{end} mm"]'
