"""A router's bit."""

from dataclasses import dataclass

__all__ = ["Tool"]


@dataclass(frozen=True)
class Tool:
    """A router's bit.

    Attributes:
        diameter_mm: Its width of cut.
        relieves: Whether it runs into inside corners to clear them.
    """

    diameter_mm: float
    relieves: bool = False

    @property
    def radius_mm(self) -> float:
        """Half its diameter."""
        return self.diameter_mm / 2
