"""Where the rows start: a full board along an edge or at a side, or both outer rows alike."""

import math
from dataclasses import dataclass

from shapecut.errors import LayoutError
from shapecut.layout.layout import Board
from shapecut.layout.rules import LayoutRules, StartSide
from shapecut.shape.clip import ON_BORDER_MM
from shapecut.shape.curves import Arc, Line
from shapecut.shape.region import Region

__all__ = ["FirstBoard", "balanced_start", "first_board"]


def balanced_start(across_mm: tuple[float, float], board: Board) -> float:
    """Where the lower edge of the first board lies if the first and the last row are equal.

    As few rows as cover the field, so that both are as wide as they can be: never less than half a
    board less half a gap.

    Args:
        across_mm: Low and high end of the field across the boards, row frame.
        board: Gives width and gap.
    """
    low, high = across_mm
    pitch = board.width_mm + board.gap_mm
    count = max(1, math.ceil((high - low - ON_BORDER_MM + board.gap_mm) / pitch))
    return (low + high - count * pitch + board.gap_mm) / 2


@dataclass(frozen=True)
class FirstBoard:
    """Where the lower edge of one full board lies, and from which side rows are counted."""

    edge_mm: float
    side: StartSide


def first_board(
    field: Region, board: Board, rules: LayoutRules, across_mm: tuple[float, float]
) -> FirstBoard:
    """Turn the rules into the place of one board; the field is in the row frame."""
    side, (low, high) = rules.start_side, across_mm
    if rules.start_edge is not None:
        edge = _starting_edge(field, rules)
        # Material is on the left of the edge: above it when it runs the way of the boards.
        side = StartSide.LOW if edge.end[0] > edge.start[0] else StartSide.HIGH
        # The outermost end of an edge a little out of parallel, so that the board covers it all.
        low, high = sorted((edge.start[1], edge.end[1]))
    if side is StartSide.LOW:
        return FirstBoard(low + rules.offset_mm, side)
    return FirstBoard(high - rules.offset_mm - board.width_mm, side)


def _starting_edge(field: Region, rules: LayoutRules) -> Line:
    """The longest side that follows the starting edge."""
    name = rules.start_edge
    sides = [side for loop in field.loops for side in loop if side.source == name]
    if not sides:
        names = dict.fromkeys(s.source for loop in field.loops for s in loop if s.source)
        raise LayoutError(
            f'The first row is to start at "{name}", but there is no such edge to lay boards '
            f"along: there are {', '.join(names)}."
        )
    curve = max(sides, key=lambda side: side.curve.length).curve
    if isinstance(curve, Arc):
        raise LayoutError(
            f"The first row cannot start along {name}: it is an arc of radius "
            f"{rules.lengths(curve.radius)}; choose a straight edge, or leave the start out."
        )
    dx, dy = curve.direction()
    off = math.atan2(abs(dy), abs(dx))
    if off > rules.parallel_rad:
        raise LayoutError(
            f"The first row cannot start along {name}: it is {math.degrees(off):.1f}° off the "
            f"boards' direction; choose an edge parallel to the boards, or lay them along {name}."
        )
    return curve
