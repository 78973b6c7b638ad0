"""How a piece may lie on its board: end for end, and over if both faces are good."""

from dataclasses import dataclass, replace
from enum import Enum

from shapecut.shape.curves import Arc, Curve
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop, Region, Side
from shapecut.stock.ends import End, across_flipped

__all__ = ["Turn", "allowed_turns", "turned", "turned_ends", "turned_point"]


@dataclass(frozen=True)
class _Way:
    """What a turn does: `reversed` along the board, `flipped` across it."""

    words: str
    reversed: bool
    flipped: bool


class Turn(Enum):
    """How a piece lies on its board, compared with how it lies in its row.

    The grain runs along the board in all of them.
    """

    AS_LAID = _Way("as laid", False, False)
    END_FOR_END = _Way("end for end", True, True)
    """Half a turn in the board's plane: same face up, its edges changed over."""
    OVER_ITS_EDGE = _Way("face down, over its edge", False, True)
    """About the board's length: other face up, its edges changed over."""
    OVER_ITS_END = _Way("face down, over its end", True, False)
    """About the board's width: other face up, its edges where they were."""

    def __str__(self) -> str:
        return self.value.words

    @property
    def face_down(self) -> bool:
        """Whether the piece is marked and cut on its other face, as its mirror image."""
        return self.value.reversed != self.value.flipped

    @property
    def edges_changed(self) -> bool:
        """Whether the piece's lower edge lies on the board's upper edge."""
        return self.value.flipped

    @property
    def ends_changed(self) -> bool:
        """Whether the piece's start lies towards the board's end."""
        return self.value.reversed


def allowed_turns(*, two_good_faces: bool, edges_alike: bool) -> tuple[Turn, ...]:
    """The turns that leave face and edges as the row needs them.

    Args:
        two_good_faces: Either face of the board may lie up.
        edges_alike: The board has the same edge on both sides (two square edges, or two grooves at
            the same height), so that they may be exchanged; false for tongue and groove.
    """
    return tuple(
        turn
        for turn in Turn
        if (two_good_faces or not turn.face_down) and (edges_alike or not turn.edges_changed)
    )


def turned_ends(start: End, end: End, turn: Turn) -> tuple[End, End]:
    """The ends of a piece towards the board's reference end and away from it."""
    if turn.ends_changed:
        start, end = end, start
    return (across_flipped(start), across_flipped(end)) if turn.edges_changed else (start, end)


def turned_point(point: Point, turn: Turn, *, length_mm: float, width_mm: float) -> Point:
    """A point of a piece's frame as the piece lies on its board; see `turned`."""
    x, y = point
    return (
        length_mm - x if turn.ends_changed else x,
        width_mm - y if turn.edges_changed else y,
    )


def turned(region: Region, turn: Turn, *, length_mm: float, width_mm: float) -> Region:
    """A piece as it lies on its board, x from its extreme nearest to the board's reference end.

    Args:
        region: In the piece's frame.
        turn: How it lies.
        length_mm: Of its blank.
        width_mm: Of the board.

    Returns:
        The region with material on the left of its sides, also where it is a mirror image.
    """
    if turn is Turn.AS_LAID:
        return region

    def moved(point: Point) -> Point:
        return turned_point(point, turn, length_mm=length_mm, width_mm=width_mm)

    def curve(of: Curve) -> Curve:
        image = replace(of, start=moved(of.start), end=moved(of.end))
        if isinstance(image, Arc):
            # A mirror image runs the other way round; reversed below, the arc keeps its sense.
            image = replace(image, centre=moved(image.centre), ccw=image.ccw != turn.face_down)
        return image.reversed() if turn.face_down else image

    def loop(of: Loop) -> Loop:
        sides = tuple(Side(curve(side.curve), side.source) for side in of)
        return sides[::-1] if turn.face_down else sides

    return Region(loop(region.outer), tuple(map(loop, region.holes)))
