"""Reference cards: marks at known places on one rigid sheet.

Glossary:
    card: a sheet or plate with one or more marks; its frame has the origin at the card's centre,
        x right and y up as printed upright, mm.
    mark: a printed square pattern with a number in a dictionary (see `dictionaries`).
    check bar: a printed bar of stated length; measuring it tells the print's true scale.
    print scale: true length over designed length; along and across the sheet may differ.
"""

import math
from dataclasses import dataclass
from functools import cached_property

from shapecut.capture.card_sizes import CARD_SIZES, OWN_DICTIONARY
from shapecut.capture.dictionaries import find_dictionary
from shapecut.errors import CaptureError
from shapecut.shape.placement import Placement, Point

__all__ = [
    "CHECK_BAR_MM",
    "PRINTER_RELATIVE_U",
    "READING_U_MM",
    "WORST_PRINT_ERROR",
    "Card",
    "CardSet",
    "Mark",
    "our_cards",
    "single_mark_cards",
    "square_mark",
]

CHECK_BAR_MM = 100.0
"""Designed length of the metric check bars on our cards."""

READING_U_MM = 0.1
"""Standard uncertainty of a length of about 100 mm read off a good rule by eye."""

PRINTER_RELATIVE_U = 0.003
"""Standard uncertainty of an unmeasured print's scale: common office and home printers."""

LARGEST_MARK_MM = 1000.0
"""A mark stated wider than this is a slip of the pen or of the unit."""

WORST_PRINT_ERROR = 0.05
"""Greatest |measured / designed − 1| of a check bar that is believed to be the bar at all."""


@dataclass(frozen=True)
class Mark:
    """One mark on a card.

    Attributes:
        dictionary: Plain name of its dictionary.
        number: Its number there.
        corners_mm: Corners of its black square in the card's frame, in the order of OpenCV's
            detection: top-left, top-right, bottom-right, bottom-left of the upright pattern.
    """

    dictionary: str
    number: int
    corners_mm: tuple[Point, Point, Point, Point]


@dataclass(frozen=True)
class Card:
    """A card by its name, as a person would point at it, and its marks."""

    name: str
    marks: tuple[Mark, ...]


@dataclass(frozen=True)
class CardSet:
    """All the cards that a job may show.

    Attributes:
        cards: Each mark (dictionary and number) and each name occurs once.
        relative_u: Standard uncertainty of the cards' common scale, as a fraction.

    Raises:
        CaptureError: If a mark or a name occurs twice.
    """

    cards: tuple[Card, ...]
    relative_u: float

    def __post_init__(self) -> None:
        """Refuse what cannot be told apart in a picture."""
        names: set[str] = set()
        owners: dict[tuple[str, int], str] = {}
        for card in self.cards:
            if card.name in names:
                raise CaptureError(f"Two cards are called {card.name}: give each its own name.")
            names.add(card.name)
            for mark in card.marks:
                key = (mark.dictionary, mark.number)
                if key in owners:
                    raise CaptureError(
                        f"{mark.dictionary} mark {mark.number} is on {owners[key]} and again on "
                        f"{card.name}: a mark may be printed once only; correct its number."
                    )
                owners[key] = card.name

    @cached_property
    def dictionaries(self) -> tuple[str, ...]:
        """Plain names of the dictionaries in use."""
        return tuple(dict.fromkeys(mark.dictionary for card in self.cards for mark in card.marks))

    @cached_property
    def _by_mark(self) -> dict[tuple[str, int], tuple[Card, Mark]]:
        return {
            (mark.dictionary, mark.number): (card, mark)
            for card in self.cards
            for mark in card.marks
        }

    def find(self, dictionary: str, number: int) -> tuple[Card, Mark] | None:
        """The card and mark of a number in a dictionary (plain name); None if on no card."""
        return self._by_mark.get((dictionary, number))


def square_mark(
    dictionary: str,
    number: int,
    *,
    side_mm: float,
    centre_mm: Point = (0.0, 0.0),
    turn_deg: float = 0.0,
) -> Mark:
    """A square mark at a stated place on its card.

    Args:
        dictionary: Name of its dictionary, in any spelling that `find_dictionary` takes.
        number: Its number there.
        side_mm: Side of the black square.
        centre_mm: Its centre in the card's frame.
        turn_deg: Counter-clockwise turn of the mark on its card.

    Raises:
        CaptureError: If the dictionary has no such mark, or the side is not positive or larger than
            `LARGEST_MARK_MM`.
    """
    known = find_dictionary(dictionary)
    if not 0 <= number < known.count:
        raise CaptureError(
            f"{known.name} has no mark {number}: its marks are numbered 0 to {known.count - 1}."
        )
    if not (side_mm > 0 and math.isfinite(side_mm)):
        raise CaptureError(
            f"{known.name} mark {number} cannot have a side of {side_mm:g} mm: "
            "state the side of its black square."
        )
    if side_mm > LARGEST_MARK_MM:
        raise CaptureError(
            f"{known.name} mark {number} is stated to be {side_mm:g} mm wide, more than"
            f" {LARGEST_MARK_MM:g} mm: measure the side of its black square, and state its unit."
        )
    half, place = side_mm / 2, Placement(centre_mm, math.radians(turn_deg)).to_plane
    corners = (
        place((-half, half)), place((half, half)), place((half, -half)), place((-half, -half))
    )  # fmt: skip
    return Mark(known.name, number, corners)


def single_mark_cards(
    dictionary: str, side_mm: float, *, side_u_mm: float = READING_U_MM
) -> CardSet:
    """Cards of one mark each: every mark of the dictionary is a card, named e.g. `mark 7`.

    Args:
        dictionary: Name of the dictionary, in any spelling that `find_dictionary` takes.
        side_mm: Side of every mark's black square as printed.
        side_u_mm: Standard uncertainty of that side.

    Raises:
        CaptureError: If there is no such dictionary, or the side is not positive.
    """
    marks = (
        square_mark(dictionary, number, side_mm=side_mm)
        for number in range(find_dictionary(dictionary).count)
    )
    cards = tuple(Card(f"mark {mark.number}", (mark,)) for mark in marks)
    return CardSet(cards, relative_u=side_u_mm / side_mm)


def our_cards(
    *, along_mm: float | None = None, across_mm: float | None = None, bar_mm: float = CHECK_BAR_MM
) -> CardSet:
    """Our own printed cards of all sizes, `card 1` to `card 146` (see `card_sizes`).

    Args:
        along_mm: The check bar along the sheet as measured on the print; None: not measured, and
            the print is taken to be true to within `PRINTER_RELATIVE_U`.
        across_mm: The same across the sheet.
        bar_mm: Designed length of the bars that were measured (100 mm, or 4 in).

    Raises:
        CaptureError: If a measured bar is more than `WORST_PRINT_ERROR` off.
    """
    scale_x = _print_scale(across_mm, bar_mm, "across")
    scale_y = _print_scale(along_mm, bar_mm, "along")

    def printed(mark: Mark) -> Mark:
        a, b, c, d = ((scale_x * x, scale_y * y) for x, y in mark.corners_mm)
        return Mark(mark.dictionary, mark.number, (a, b, c, d))

    cards = tuple(
        Card(
            f"card {card}",
            tuple(
                printed(square_mark(OWN_DICTIONARY, number, side_mm=size.mark_mm, centre_mm=centre))
                for number, centre in size.marks(card)
            ),
        )
        for size in CARD_SIZES.values()
        for card in size.numbers
    )
    measured = along_mm is not None and across_mm is not None
    return CardSet(cards, relative_u=READING_U_MM / bar_mm if measured else PRINTER_RELATIVE_U)


def _print_scale(measured_mm: float | None, bar_mm: float, direction: str) -> float:
    """True over designed length in one direction of the sheet; 1 if nobody measured."""
    if measured_mm is None:
        return 1.0
    scale = measured_mm / bar_mm
    if not abs(scale - 1) <= WORST_PRINT_ERROR:
        raise CaptureError(
            f"The check bar {direction} the sheet cannot measure {measured_mm:g} mm where "
            f"{bar_mm:g} mm was printed: measure that bar again, or print the cards at 100 % "
            "(not fitted to the page)."
        )
    return scale
