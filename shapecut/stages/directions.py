"""Comparing the directions that boards could run in: along each of the outline's straight edges."""

import math

from shapecut.layout.direction_trial import DirectionTrial
from shapecut.layout.layout import Layout
from shapecut.layout.rules import LayoutRules
from shapecut.layout.small_parts import small_parts
from shapecut.shape.curves import Line
from shapecut.shape.outline import Outline
from shapecut.stock.cutplan import CutPlan

__all__ = ["MOST_DIRECTIONS", "directions_along_edges", "trial_of"]

SAME_DIRECTION_RAD = math.radians(0.5)
"""Edges whose directions differ by less, either way round, are tried as one."""

MOST_DIRECTIONS = 6
"""Directions compared, those with the longest edges."""


def directions_along_edges(outline: Outline) -> tuple[tuple[str, float], ...]:
    """The directions of an outline's straight edges.

    Returns:
        (name of the longest edge that runs so, direction in radians), the longest edges first;
        at most `MOST_DIRECTIONS`; none twice, a direction and its opposite being one.
    """
    lines = [(edge.name, edge.curve) for edge in outline.edges if isinstance(edge.curve, Line)]
    found: list[tuple[str, float]] = []
    for name, line in sorted(lines, key=lambda edge: -edge[1].length):
        dx, dy = line.direction()
        turn = math.atan2(dy, dx)
        if all(_between(turn, other) >= SAME_DIRECTION_RAD for _, other in found):
            found.append((name, turn))
    return tuple(found[:MOST_DIRECTIONS])


def _between(first_rad: float, second_rad: float) -> float:
    """The angle between two undirected lines."""
    turn = (first_rad - second_rad) % math.pi
    return min(turn, math.pi - turn)


def trial_of(edge: str, layout: Layout, cut_plan: CutPlan, rules: LayoutRules) -> DirectionTrial:
    """What a direction costs, once laid out and planned.

    Args:
        edge: That the boards run along.
        layout: Of the boards in this direction.
        cut_plan: For its pieces.
        rules: Give the smallest rip and the smallest length.
    """
    width = layout.board.width_mm
    bought = cut_plan.bought_mm
    laid = sum(piece.region.area for piece in layout.pieces)
    of_rows = [piece for piece in layout.pieces if piece.row]
    return DirectionTrial(
        edge=edge,
        direction_rad=layout.frame.turn_rad,
        rows=len(layout.rows),
        pieces=len(layout.pieces),
        small_parts=len(small_parts(layout.rows, of_rows, rules)),
        joints=len(layout.joints),
        boards=len(tuple(cut_plan.bought)),
        bought_mm=bought,
        waste=max(0.0, 1 - laid / (bought * width)) if bought else 0.0,
        cost=cut_plan.cost,
    )
