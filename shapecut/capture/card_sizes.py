"""Our own printed cards: three sizes, four AprilTag 36h11 marks each, told apart by number alone.

Card n carries the marks 4(n − 1) … 4(n − 1) + 3, in the order top-left, top-right, bottom-right,
bottom-left as printed upright.  The card's number tells its size:

    half    cards   1 to  50    marks   0 to 199
    full    cards  51 to 100    marks 200 to 399
    small   cards 101 to 146    marks 400 to 583

The remaining marks 584 to 586 of the dictionary's 587 are not used.  All dimensions suit both A4
and Letter (portrait), so a card is the same on either paper.

Glossary:
    across: the sheet's short direction, a card's x.
    along: the sheet's long direction, a card's y.
    quiet zone: white that a mark needs round it, at least about one of its cells wide.
"""

from dataclasses import dataclass

from shapecut.shape.placement import Point

__all__ = ["CARD_SIZES", "OWN_DICTIONARY", "CardSize"]

OWN_DICTIONARY = "AprilTag 36h11"


@dataclass(frozen=True)
class CardSize:
    """One size of our cards, as designed.

    Attributes:
        name: As the user asks for it.
        numbers: The card numbers that are of this size.
        width_mm: Of the cut-out card, across the sheet.
        height_mm: Of the cut-out card, along the sheet.
        mark_mm: Side of a mark's black square.
        reach_mm: Centre of the top-right mark from the card's centre; the other three mirror it.
        grid: Cards (across, along) on one sheet.
    """

    name: str
    numbers: range
    width_mm: float
    height_mm: float
    mark_mm: float
    reach_mm: Point
    grid: tuple[int, int]

    def marks(self, card: int) -> tuple[tuple[int, Point], ...]:
        """Number and centre (card frame, mm) of the four marks of one card."""
        x, y = self.reach_mm
        first = 4 * (card - 1)
        return tuple(
            zip(range(first, first + 4), ((-x, y), (x, y), (x, -y), (-x, -y)), strict=True)
        )


CARD_SIZES = {
    size.name: size
    for size in (
        CardSize("small", range(101, 147), 88.0, 60.0, 24.0, (29.0, 15.0), (2, 4)),
        CardSize("half", range(1, 51), 190.0, 129.0, 48.0, (64.5, 34.0), (1, 2)),
        CardSize("full", range(51, 101), 190.0, 258.0, 70.0, (51.0, 85.0), (1, 1)),
    )
}
"""By name.  Large marks serve large templates, where the camera stands farther off."""
