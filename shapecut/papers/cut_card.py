"""One piece as it is marked and cut at the saw, in numbers that alone reproduce it.

Glossary:
    mark: a place on the board, by its distances along it from the reference end and across it from
        its lower edge; a number where the contour turns, `3.1`, `3.2` … along a wide curve after 3.
    compass: what draws a curve that is not wide, from its centre.
    cut: a stretch of the contour that the saw makes, from one mark to another.
    inside corner: where the contour turns into the piece, so that no saw may run through.
    relief hole: drilled in the waste of an inside corner, so that a blade can turn there.

Lengths are rounded as they are printed: what is read off a card is what these values hold.
"""

from dataclasses import dataclass

from shapecut.shape.placement import Point

__all__ = ["CardCut", "CardMark", "Compass", "CutCard", "ReliefHole", "RoundHole"]


@dataclass(frozen=True)
class CardMark:
    """A place to mark on the board.

    Attributes:
        name: Its number, see the module's glossary.
        along_mm: From the reference end, rounded.
        across_mm: From the board's lower edge, rounded; the board's width itself on its upper edge.
        edge: `lower` or `upper` where the mark lies on that edge of the board, else empty.
        exact: (along, across) before rounding.
    """

    name: str
    along_mm: float
    across_mm: float
    edge: str
    exact: Point


@dataclass(frozen=True)
class Compass:
    """How a curve is drawn.

    Attributes:
        along_mm: Of its centre, rounded; before the reference end if negative.
        across_mm: Of its centre, rounded; outside the board if negative or above its width.
        radius_mm: To a tenth of a mm.
        ccw: Whether it runs counter-clockwise, the piece being inside.
    """

    along_mm: float
    across_mm: float
    radius_mm: float
    ccw: bool


@dataclass(frozen=True)
class CardCut:
    """A cut from one mark to the next.

    Attributes:
        first: Name of the mark where it begins, the piece lying on its left.
        last: Name of the mark where it ends.
        angle: How the saw is set, in words.
        keep: The side of the cut that is kept, in words.
        edge: Name of the outline's edge it follows; empty for none.
        compass: Of a curve that is not wide.
    """

    first: str
    last: str
    angle: str
    keep: str
    edge: str = ""
    compass: Compass | None = None


@dataclass(frozen=True)
class RoundHole:
    """An opening that one drill or hole saw makes.

    Attributes:
        along_mm: Of its middle, rounded.
        across_mm: Of its middle, rounded.
        diameter_mm: To a tenth of a mm.
    """

    along_mm: float
    across_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class ReliefHole:
    """Where to drill at an inside corner.

    Attributes:
        mark: Name of the corner's mark.
        along_mm: Of the hole's middle, rounded.
        across_mm: Of the hole's middle, rounded.
        diameter_mm: Of the drill.
    """

    mark: str
    along_mm: float
    across_mm: float
    diameter_mm: float


@dataclass(frozen=True)
class CutCard:
    """What a person needs at the saw to cut one piece.

    Attributes:
        label: The piece's.
        row: Its row's number.
        length_mm: Of its blank.
        width_mm: Of the board.
        loops: The marks of each loop of the contour in order, material on the left; none of the
            loops that are round holes.
        cuts: In the order of the marks.
        inside: Names of the marks that are inside corners.
        relief: A hole for each inside corner that has room for one.
        round_holes: Openings that are whole circles.
    """

    label: str
    row: int
    length_mm: float
    width_mm: float
    loops: tuple[tuple[CardMark, ...], ...]
    cuts: tuple[CardCut, ...]
    inside: tuple[str, ...]
    relief: tuple[ReliefHole, ...]
    round_holes: tuple[RoundHole, ...] = ()

    @property
    def marks(self) -> tuple[CardMark, ...]:
        """All marks, in order."""
        return tuple(mark for loop in self.loops for mark in loop)
