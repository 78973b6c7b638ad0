"""One direction of the boards, laid out and planned, to be compared with others."""

from dataclasses import dataclass
from decimal import Decimal

__all__ = ["DirectionTrial"]


@dataclass(frozen=True)
class DirectionTrial:
    """What a direction costs.

    Attributes:
        edge: The outline edge the boards run along.
        direction_rad: Theirs, in the plane.
        rows: How many.
        pieces: How many.
        small_parts: Findings of parts too narrow or too short.
        joints: How many.
        boards: To buy.
        bought_mm: Their length together.
        waste: The part of the area bought that is not laid, 0 to 1.
        cost: Of the boards; None without prices.
        refused: Why it cannot be laid or cut so; all counts are nought then.
    """

    edge: str
    direction_rad: float
    rows: int = 0
    pieces: int = 0
    small_parts: int = 0
    joints: int = 0
    boards: int = 0
    bought_mm: float = 0.0
    waste: float = 0.0
    cost: Decimal | None = None
    refused: str = ""

    @property
    def rank(self) -> tuple[float, ...]:
        """Of two trials the one with the lesser rank is the better.

        Those that can be laid come first, then those with few parts too small, then the cheaper
        ones, then those with few joints and rows.
        """
        price = self.bought_mm if self.cost is None else float(self.cost)
        return (bool(self.refused), self.small_parts, price, self.joints, self.rows)
