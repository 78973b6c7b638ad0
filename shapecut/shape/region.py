"""Regions of the plane bounded by lines and arcs, each side remembering what it was cut along."""

from dataclasses import dataclass

from shapecut.shape.curves import Curve
from shapecut.shape.placement import Placement

__all__ = ["Loop", "Region", "Side"]


@dataclass(frozen=True)
class Side:
    """One line or arc of a region's boundary.

    Attributes:
        curve: In mm, material on its left.
        source: Name of the outline edge it follows; None where it is not cut along the outline
            (a board's own edge, a square end).
    """

    curve: Curve
    source: str | None = None


Loop = tuple[Side, ...]
"""A closed chain of sides; counter-clockwise round material, clockwise round a hole."""


@dataclass(frozen=True)
class Region:
    """A connected piece of the plane: one outer loop and the holes in it."""

    outer: Loop
    holes: tuple[Loop, ...] = ()

    @property
    def loops(self) -> tuple[Loop, ...]:
        """The outer loop first, then the holes."""
        return (self.outer, *self.holes)

    @property
    def area(self) -> float:
        """Area in mm², holes taken out."""
        return sum(side.curve.area_term() for loop in self.loops for side in loop)

    def placed(self, placement: Placement) -> "Region":
        """The region moved from the placement's local frame to the plane."""

        def moved(loop: Loop) -> Loop:
            return tuple(Side(side.curve.placed(placement), side.source) for side in loop)

        return Region(moved(self.outer), tuple(moved(hole) for hole in self.holes))
