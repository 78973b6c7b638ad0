"""How full-scale pages are printed."""

from dataclasses import dataclass, field

from shapecut.papers.paper import PageSize
from shapecut.papers.printer import Printer
from shapecut.units import MM_PER_INCH, format_length

__all__ = ["SIDES", "SMALL_TEXT_MM", "TileSettings"]

SMALL_TEXT_MM = 2.2
"""Height of what is written along board edges and datum lines, and beside holes."""

SIDES = (
    "Black lines are saw cuts; the allowance is already in them. The hatched side is waste, the "
    "other side is kept."
)


@dataclass(frozen=True)
class TileSettings:
    """How full-scale pages are printed.

    Attributes:
        page: The paper.
        printer: What it makes of 100 mm.
        units: `mm` or `in`, which comes first where a length is stated.
        denominator: Inches are rounded to 1/denominator.
        point_mm: Diameter of holes at points marked on the template.
    """

    page: PageSize
    printer: Printer = field(default_factory=Printer)
    units: str = "mm"
    denominator: int = 16
    point_mm: float = 5.0

    def length(self, length_mm: float) -> str:
        """A length in both units."""
        other = "mm" if self.units == "in" else "in"
        first, second = (format_length(length_mm, u, self.denominator) for u in (self.units, other))
        return f"{first} ({second})"

    @property
    def round_mm(self) -> float:
        """Distances that are multiples of this are easily measured."""
        return MM_PER_INCH / 2 if self.units == "in" else 10.0
