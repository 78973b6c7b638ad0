"""How much room the ends of boards need as they grow with the temperature.

Length grows by ΔL = α L ΔT.  Wood hardly does; wood-plastic composite does, α along the board
roughly 3 to 6 · 10⁻⁵ per kelvin (from memory; makers state theirs, as ASTM D7032 asks).
"""

from shapecut.errors import LayoutError

__all__ = ["STEEPEST_PER_KELVIN", "end_gap", "growth"]

STEEPEST_PER_KELVIN = 2e-4
"""No board grows more; a greater figure is a slip of a power of ten."""


def growth(length_mm: float, per_kelvin: float, kelvin: float) -> float:
    """How much longer a board gets: α L ΔT, mm."""
    return per_kelvin * length_mm * kelvin


def end_gap(
    length_mm: float, per_kelvin: float, *, laid_at: float, hottest: float, closed_mm: float = 0.0
) -> float:
    """The gap to leave between the ends of two boards fixed in their middles.

    Each of the two grows by half of its growth towards the other.

    Args:
        length_mm: Of either board; of the longest, to be safe.
        per_kelvin: Coefficient of thermal expansion along the board, 1/K.
        laid_at: Temperature of the boards on the day, °C.
        hottest: Temperature the boards can reach, °C.
        closed_mm: What is to be left open even then.

    Raises:
        LayoutError: If the coefficient cannot be, or the boards are laid hotter than they get.
    """
    if not 0 <= per_kelvin <= STEEPEST_PER_KELVIN:
        raise LayoutError(
            f"A board does not grow by {per_kelvin:g} of its length per kelvin: state the maker's "
            f"figure, such as 0.00004."
        )
    if hottest < laid_at:
        raise LayoutError(
            f"The boards are laid at {laid_at:g} °C and are to get no hotter than {hottest:g} °C: "
            f"state the hottest they will be."
        )
    return closed_mm + growth(length_mm, per_kelvin, hottest - laid_at)
