"""How boards shrink and swell across their width as their moisture changes.

Source: Wood Handbook, General Technical Report FPL-GTR-190, chapter 13: equation 13-2 with the
coefficients of Table 13-5 while the moisture stays within 6 to 14 %, and equation 13-3 with the
shrinkages of Table 4-3 beyond.  The handbook calls both approximate: commercial boards are seldom
wholly flat-sawn or quarter-sawn.
"""

from dataclasses import dataclass
from enum import StrEnum

from shapecut.errors import LayoutError
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["SPECIES", "Grain", "Species", "gap_at_laying", "width_change"]

COEFFICIENTS_HOLD = (6.0, 14.0)
"""Moisture content, %, within which equation 13-2 holds."""


class Grain(StrEnum):
    """How the growth rings lie in a board."""

    FLAT = "flat"
    """Flat-sawn: the width moves tangentially."""
    VERTICAL = "vertical"
    """Quarter-sawn: the width moves radially."""


@dataclass(frozen=True)
class Species:
    """How much a wood moves.

    Attributes:
        coefficients: Radial and tangential change of a dimension per % of moisture, as a fraction
            (Table 13-5).
        shrinkage: Radial and tangential, green to oven-dry, % (Table 4-3).
        saturation: Moisture content, %, at which it begins to shrink: 30 for most species in the
            handbook; at 22 the coefficients of western redcedar and redwood follow from their
            shrinkages, as those of the others do at 30.
    """

    coefficients: tuple[float, float]
    shrinkage: tuple[float, float]
    saturation: float = 30.0

    def coefficient(self, grain: Grain) -> float:
        """Of the width."""
        return self.coefficients[grain is Grain.FLAT]

    def shrinkage_of(self, grain: Grain) -> float:
        """Of the width, %."""
        return self.shrinkage[grain is Grain.FLAT]


SPECIES = {
    "black walnut": Species((0.00190, 0.00274), (5.5, 7.8)),
    "red alder": Species((0.00151, 0.00256), (4.4, 7.3)),
    # Shrinkages as read; of the coefficients that of white fir across the rings is read, and the
    # others of these softwoods are from memory.
    "white fir": Species((0.00112, 0.00245), (3.3, 7.0)),
    "douglas-fir": Species((0.00165, 0.00267), (4.8, 7.6)),
    "western redcedar": Species((0.00111, 0.00234), (2.4, 5.0), 22.0),
    # From memory altogether.
    "loblolly pine": Species((0.00165, 0.00259), (4.8, 7.4)),
    "redwood": Species((0.00101, 0.00229), (2.2, 4.9), 22.0),
}
"""By name; Douglas-fir is the coast type, redwood young growth."""


def width_change(
    width_mm: float, species: Species, grain: Grain, *, at_first: float, at_last: float
) -> float:
    """How much wider a board gets, negative when it shrinks.

    Within 6 to 14 % the change is width x coefficient x change of moisture (equation 13-2); beyond,
    width x change / (saturation x 100 / shrinkage - saturation + moisture at first), which is
    equation 13-3 with 30 for the saturation.

    Args:
        width_mm: At first.
        species: Of the wood.
        grain: Decides which way the width moves.
        at_first: Moisture content, %.
        at_last: Moisture content, %.
    """
    saturation = species.saturation
    first, last = min(at_first, saturation), min(at_last, saturation)
    low, high = COEFFICIENTS_HOLD
    if low <= min(first, last) and max(first, last) <= high:
        return width_mm * species.coefficient(grain) * (last - first)
    scale = saturation * 100 / species.shrinkage_of(grain) - saturation + first
    return width_mm * (last - first) / scale


def gap_at_laying(
    gap_in_service_mm: float, change_mm: float, *, lengths: LengthStyle = MILLIMETRES
) -> float:
    """The gap to leave so that the stated one is there once the boards have moved.

    Args:
        gap_in_service_mm: Wanted in service.
        change_mm: Of the boards' width from laying to service, see `width_change`.
        lengths: How the refusal writes lengths.

    Raises:
        LayoutError: If boards laid tight would still leave more.
    """
    gap = gap_in_service_mm + change_mm
    if gap < 0:
        raise LayoutError(
            f"Boards that shrink by {lengths.fine(-change_mm)} after laying leave that much even "
            f"if laid tight, more than the gap of {lengths.fine(gap_in_service_mm)} wanted in "
            f"service: dry them first, or state a wider gap."
        )
    return gap
