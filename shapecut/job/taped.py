"""The job file's table for an outline that was taped on the spot."""

from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Self

from pydantic import Field, model_validator

from shapecut.job.reference import TapeTable
from shapecut.job.values import Length, PlainText, PositiveLength, Table, length_field

__all__ = ["OffsetTable", "Taped"]

LEAST_CORNERS = 3


class OffsetTable(Table):
    """A point by how far along the base line it lies, and how far square off it."""

    name: PlainText = Field(min_length=1)
    along: Length = Field(description="from the base line's start to the foot of the square offset")
    left: Length | None = Field(None, description="offset to the left, looking along the base line")
    right: Length | None = Field(None, description="offset to the right instead")
    u: PositiveLength = length_field("1 mm", "standard uncertainty of both distances")

    @model_validator(mode="after")
    def _one_side(self) -> Self:
        if self.left is not None and self.right is not None:
            raise ValueError(f"{self.name} cannot lie left and right; leave one out")
        return self

    @property
    def offset_mm(self) -> float:
        """To the left; negative to the right."""
        return (self.left or 0.0) - (self.right or 0.0)


class Taped(Table):
    """An outline taped on the spot: offsets from a base line, or distances between points."""

    corners: tuple[PlainText, ...] = Field(
        (), description="names of the points round the outline, in order; all offsets if left out"
    )
    arcs: tuple[PlainText, ...] = Field(
        (),
        description="corners that are none: points on a round edge, which becomes the arc through "
        "its neighbours",
    )
    offsets: tuple[OffsetTable, ...] = Field((), description="points taped from a base line")
    square_u_deg: float = Field(
        0.5, ge=0, le=5, description="standard uncertainty of the offsets' right angles"
    )
    base: tuple[PlainText, PlainText] | None = Field(
        None,
        description="two fixed points; the other points lie left of the line from the first to the "
        "second, seen from above",
    )
    right: tuple[PlainText, ...] = Field((), description="points that lie on its right instead")
    distances: tuple[TapeTable, ...] = Field(
        (), description="between any two points; more than the points need correct each other"
    )

    @model_validator(mode="after")
    def _whole(self) -> Self:
        if bool(self.offsets) == bool(self.distances):
            raise ValueError("needs either offsets from a base line or distances between points")
        if self.distances and not (self.base and self.corners):
            raise ValueError("distances need base, two fixed points, and corners, the outline's")
        if self.offsets and (self.base or self.right):
            raise ValueError("base and right are for distances; offsets say left or right")
        for named in ([offset.name for offset in self.offsets], self.corners):
            _refuse_twice(named)
        _refuse_unknown("corners", self.corners, self.points)
        _refuse_unknown("base", self.base or (), self.points)
        _refuse_unknown("right", self.right, self.points)
        _refuse_unknown("arcs", self.arcs, self.ring)
        if len(self.ring) < LEAST_CORNERS:
            raise ValueError(f"{len(self.ring)} corners are no outline; name at least three")
        pairs = zip(self.ring, (*self.ring[1:], *self.ring[:1]), strict=True)
        both = next((pair for pair in pairs if set(pair) <= set(self.arcs)), None)
        if both:
            raise ValueError(
                f"{both[0]} and {both[1]} are both points on arcs; one is enough for each arc"
            )
        same = next((tape for tape in self.distances if len(set(tape.between)) == 1), None)
        if same:
            raise ValueError(f"a tape goes from {same.between[0]} to itself; name two points")
        return self

    @property
    def points(self) -> tuple[str, ...]:
        """Names of all points, in the order in which they are first named."""
        return tuple(dict.fromkeys(self._named()))

    def _named(self) -> Iterator[str]:
        yield from (offset.name for offset in self.offsets)
        for tape in self.distances:
            yield from tape.between

    @property
    def ring(self) -> tuple[str, ...]:
        """Names of the points round the outline."""
        return self.corners or self.points


def _refuse_twice(names: Sequence[str]) -> None:
    twice = next((name for name, count in Counter(names).items() if count > 1), None)
    if twice:
        raise ValueError(f"{twice} is named twice; give each point its own name, and each once")


def _refuse_unknown(key: str, names: Sequence[str], points: Sequence[str]) -> None:
    strange = next((name for name in names if name not in points), None)
    if strange:
        raise ValueError(
            f"{key} names {strange}, which nothing was taped to; known are {', '.join(points)}"
        )
