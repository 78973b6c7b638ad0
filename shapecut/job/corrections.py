"""The job file's `[[corrections]]`: what a person says of the traced outline, by names of edges."""

from typing import Self

from pydantic import Field, model_validator

from shapecut.job.values import Length, PlainText, PositiveLength, SignedLength, Table, length_field
from shapecut.trace.correction import (
    Correction,
    KnownLength,
    MovedCorner,
    OneEdge,
    Shadow,
    TwoEdges,
)

__all__ = ["CorrectionTable"]

_KINDS = ("move", "one", "two", "shadow", "length")
"""What a correction says; one of them in each table."""
_BELONG = {
    "to": ("move",),
    "by": ("move",),
    "corner": ("two", "shadow"),
    "at": ("two",),
    "within": ("shadow",),
    "of": ("length",),
}
"""Keys that mean something only beside another."""


class CorrectionTable(Table):
    """One correction of the traced outline; its names are those of the outline as it was traced."""

    move: PlainText | None = Field(
        None, description='a corner to move, such as "E3/E4"; with `to` or `by`'
    )
    to: tuple[SignedLength, SignedLength] | None = Field(
        None, description="where the corner lies, x and y in the plane of outline.json"
    )
    by: tuple[SignedLength, SignedLength] | None = Field(
        None, description="how far it moves to the right and up, negative to the left and down"
    )
    one: tuple[PlainText, ...] = Field(
        (), description="edges that are one, with whatever was traced between them"
    )
    two: PlainText | None = Field(
        None, description="an edge that is two, which meet at `at` from `corner`"
    )
    at: PositiveLength | None = Field(
        None, description="where they meet, along the edge from the corner"
    )
    shadow: PlainText | None = Field(
        None, description="an edge that is none; of `within`, only that stretch of it is none"
    )
    corner: PlainText | None = Field(
        None, description="the corner from which `within` or `at` is measured along the edge"
    )
    within: tuple[Length, Length] | None = Field(
        None, description="where the stretch begins and ends along the edge"
    )
    length: PositiveLength | None = Field(None, description="a true length, as taped; with `of`")
    of: PlainText | tuple[PlainText, PlainText] | None = Field(
        None, description='the edge of that length, or the two corners, such as ["E1/E2", "E3/E4"]'
    )
    u: PositiveLength = length_field("1 mm", "standard uncertainty of that length")

    @model_validator(mode="after")
    def _says_one_thing(self) -> Self:
        given = [kind for kind in _KINDS if getattr(self, kind)]
        if len(given) != 1:
            has = " and ".join(given) or "none"
            raise ValueError(f"needs exactly one of {', '.join(_KINDS)}; it has {has}")
        for key, kinds in _BELONG.items():
            if getattr(self, key) is not None and given[0] not in kinds:
                raise ValueError(f"{key} belongs to {' and '.join(kinds)}; leave it out")
        if self.move and (self.to is None) == (self.by is None):
            raise ValueError("move needs either to or by")
        if self.one and len(set(self.one)) < 2:
            raise ValueError("one needs two edges or more")
        if self.two and (self.corner is None or self.at is None):
            raise ValueError("two needs both corner and at")
        if self.shadow and (self.corner is None) != (self.within is None):
            raise ValueError("shadow needs both corner and within, or neither for the whole edge")
        if self.within and self.within[0] == self.within[1]:
            raise ValueError("within begins where it ends; name a stretch")
        if self.length and not self.of:
            raise ValueError("length needs of: an edge, or two corners")
        return self

    @property
    def correction(self) -> Correction:
        """The same as the tracing takes it."""
        if self.move:
            return MovedCorner(self.move, self.to, self.by)
        if self.one:
            return OneEdge(self.one)
        if self.two:
            return TwoEdges(self.two, self.corner or "", self.at or 0.0)
        if self.shadow:
            return Shadow(self.shadow, self.corner or "", self.within)
        of = (self.of,) if isinstance(self.of, str) else self.of
        return KnownLength(of or ("",), self.length or 0.0, self.u)
