"""What border boards and their gaps leave of a field for its rows."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from shapecut.errors import LayoutError
from shapecut.layout.border_bands import band, free_end, mitre
from shapecut.layout.border_rules import BorderRules, behind
from shapecut.layout.field_sides import SAME_WAY_RAD, FieldSide, Neighbour
from shapecut.layout.layout import Board
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement
from shapecut.shape.region import Loop, Region
from shapecut.shape.zones import mean_width, without

__all__ = ["left_inside"]

THINNEST_FIELD_MM = 10.0
"""What the border leaves over that is thinner than this, at steps and in corners, stays bare."""


def left_inside(
    field: Region, sides: Sequence[FieldSide], board: Board, rules: BorderRules
) -> Region:
    """The field for the rows.

    Raises:
        LayoutError: If nothing is left, or more than one field.
    """
    depth, written = rules.depth_mm(board), rules.lengths
    zones = [zone for side in sides for zone in _zones(field, side, depth, board.gap_mm)]
    found = without(field, zones)
    left = [part for part in found if mean_width(part) > THINNEST_FIELD_MM]
    if not left:
        x0, y0, x1, y1 = bounds(side.curve for side in field.outer)
        raise LayoutError(
            f"The border is wider than the place: along {', '.join(rules.edges)} it takes "
            f"{written(depth)} ({rules.courses} × {written(board.width_mm)} and a gap each) of a "
            f"place {written(x1 - x0)} by {written(y1 - y0)} and leaves nothing for "
            f"rows; take fewer courses, narrower boards or fewer edges."
        )
    if len(left) > 1:
        raise LayoutError(
            f"The border along {', '.join(rules.edges)}, {written(depth)} with its gaps, parts the "
            f"place into {len(left)} fields: take fewer courses, or leave out an edge at the "
            f"narrow place."
        )
    return left[0]


def _zones(field: Region, side: FieldSide, depth_mm: float, gap_mm: float) -> Iterator[Region]:
    """What the courses along a side and the gaps about them take of the field.

    At corners with other courses it reaches to the bisector, however the boards meet; where the
    others go straight on, a gap farther, since they may lie a step farther out. Before the side it
    takes what of the field lies there within a gap, past a notch narrower than one.
    """

    def limit(neighbour: Neighbour, *, at_end: bool) -> Placement | None:
        if not neighbour.is_chosen:
            return free_end(neighbour, side, depth_mm, 0.0, at_end=at_end)
        past_mm = gap_mm if abs(neighbour.turn_rad) < SAME_WAY_RAD else 0.0
        return mitre(neighbour, side, -2 * past_mm, at_end=at_end)

    limits = [limit(side.before, at_end=False), limit(side.after, at_end=True)]

    def renamed(loop: Loop) -> Loop:
        return tuple(replace(s, source=s.source or behind(side.edge)) for s in loop)

    for part in band(field, side, limits, (-gap_mm, depth_mm)):
        outer, *holes = map(renamed, part.placed(side.frame).loops)
        yield Region(outer, tuple(holes))
