"""Pieces that cannot be cut quite as drawn: what a saw does not reach, and what does not last.

Glossary:
    inside corner: where the contour turns towards the material; a saw blade runs on past it.
    point: an outer corner of less than the smallest angle.
    slot: an opening that a blade does not fit into.
    neck: what a piece hangs together by.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely

from shapecut.errors import LayoutError
from shapecut.findings import Finding, Level
from shapecut.layout.layout import Piece
from shapecut.shape.curves import Arc
from shapecut.shape.placement import Point
from shapecut.shape.polygons import GRID_MM, region_polygon
from shapecut.shape.region import Side
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["SawRules", "saw_findings"]

STRAIGHT_ON_RAD = math.radians(5.0)
"""Corners that turn less are none."""

TOLERANCE_MM = 0.02
"""Of the flattening."""

_SLOT_LENGTH = 2.0
"""A place a blade does not reach is a slot if it is this many blades long; else it is a corner."""


@dataclass(frozen=True)
class SawRules:
    """What can be cut, and what lasts.

    Attributes:
        blade_mm: Thickness of the blade that cuts openings.
        relief_radius_mm: Of a cutter or of relief holes at inside corners; nought for a saw whose
            corners are finished by hand.
        smallest_angle_rad: Sharper points break.
        smallest_point_mm: A sharp point breaks where it is narrower than this.
        lengths: How findings write lengths.

    Raises:
        LayoutError: If a figure is negative, or the angle is no angle of a point.
    """

    blade_mm: float = 3.0
    relief_radius_mm: float = 0.0
    smallest_angle_rad: float = math.radians(20.0)
    smallest_point_mm: float = 8.0
    lengths: LengthStyle = MILLIMETRES

    def __post_init__(self) -> None:
        if min(self.blade_mm, self.relief_radius_mm, self.smallest_point_mm) < 0:
            raise LayoutError("A blade, a radius or a point cannot be less than nothing wide.")
        if not 0 <= self.smallest_angle_rad < math.pi / 2:
            raise LayoutError(
                f"The smallest angle of a point is {math.degrees(self.smallest_angle_rad):.0f}°: "
                f"state one of 0 to 90°."
            )


def saw_findings(pieces: Sequence[Piece], rules: SawRules) -> tuple[Finding, ...]:
    """What of each piece cannot be cut as drawn, and what to do about it."""
    return tuple(finding for piece in pieces for finding in _findings(piece, rules))


def _findings(piece: Piece, rules: SawRules) -> Iterator[Finding]:
    corners = list(_corners(piece))
    inside = [corner.place for corner in corners if corner.turn_rad < -STRAIGHT_ON_RAD]
    if inside:
        yield _inside_corners(piece, inside, rules)
    for corner in corners:
        if math.pi - corner.turn_rad < rules.smallest_angle_rad:
            yield _point(piece, corner, rules)
    hollows = [
        side.curve
        for loop in piece.region.loops
        for side in loop
        if isinstance(side.curve, Arc) and not side.curve.ccw
    ]
    tight = [arc.radius for arc in hollows if arc.radius < rules.relief_radius_mm]
    if tight:
        yield Finding(
            Level.CHECK,
            f"piece {piece.label}",
            f"It has a hollow of radius {rules.lengths.fine(min(tight))}, and the cutter "
            f"leaves {rules.lengths.fine(rules.relief_radius_mm)}.",
            "Take a smaller cutter, or finish the place by hand.",
        )
    if (inside or hollows) and rules.blade_mm:
        yield from _slots_and_necks(piece, rules)


@dataclass(frozen=True)
class _Corner:
    """A corner of a piece, how far its contour turns there, and the shorter of its sides."""

    place: Point
    turn_rad: float
    side_mm: float


def _corners(piece: Piece) -> Iterator[_Corner]:
    for loop in piece.region.loops:
        for before, after in zip([loop[-1], *loop[:-1]], loop, strict=True):
            (ux, uy), (vx, vy) = before.curve.direction(1.0), after.curve.direction(0.0)
            turn = math.atan2(ux * vy - uy * vx, ux * vx + uy * vy)
            yield _Corner(after.curve.start, turn, _shorter(before, after))


def _shorter(before: Side, after: Side) -> float:
    return min(before.curve.length, after.curve.length)


def _at(place: Point, rules: SawRules) -> str:
    """A place on a piece, in words."""
    along, across = map(rules.lengths, place)
    return f"{along} along and {across} across"


def _inside_corners(piece: Piece, places: Sequence[Point], rules: SawRules) -> Finding:
    corners = "an inside corner" if len(places) == 1 else f"{len(places)} inside corners"
    listed = "; ".join(_at(place, rules) for place in places)
    if rules.relief_radius_mm:
        todo = (
            f"The cutter leaves a radius of {rules.lengths.fine(rules.relief_radius_mm)}: square "
            f"it by hand, or drill a relief hole into the corner."
        )
    else:
        it = "it" if len(places) == 1 else "them"
        todo = f"Stop the saw short of {it} and finish with a handsaw or a jigsaw."
    return Finding(
        Level.NOTE,
        f"piece {piece.label}",
        f"It has {corners}, at {listed}, as it is laid; its card says where on its board.",
        todo,
    )


def _point(piece: Piece, corner: _Corner, rules: SawRules) -> Finding:
    angle, least = math.pi - corner.turn_rad, rules.lengths(rules.smallest_point_mm)
    reach = corner.side_mm
    if angle > 0:
        reach = min(reach, rules.smallest_point_mm / 2 / math.tan(angle / 2))
    return Finding(
        Level.CHECK,
        f"piece {piece.label}",
        f"Its point at {_at(corner.place, rules)} has {math.degrees(angle):.0f}°, less than "
        f"{math.degrees(rules.smallest_angle_rad):.0f}°, and is narrower than {least} "
        f"over its last {rules.lengths(reach)}.",
        f"It will break: cut it off where it is {least} wide, or lay the "
        f"boards in another direction.",
    )


def _slots_and_necks(piece: Piece, rules: SawRules) -> Iterator[Finding]:
    """Where a blade does not fit in, and where no more than a blade's width holds a piece."""
    blade = rules.blade_mm
    shape = region_polygon(piece.region, tolerance_mm=TOLERANCE_MM)
    closed = shape.buffer(blade / 2).buffer(-blade / 2)
    filled = shapely.difference(closed, shape.buffer(TOLERANCE_MM), grid_size=GRID_MM)
    for slot in shapely.get_parts(filled):
        left, low, right, high = slot.bounds
        if max(right - left, high - low) >= _SLOT_LENGTH * blade:
            yield Finding(
                Level.CHECK,
                f"piece {piece.label}",
                f"Its opening at {_at(((left + right) / 2, (low + high) / 2), rules)} is narrower "
                f"than the blade of {rules.lengths.fine(blade)}.",
                "Leave it closed, or open it to a blade's width.",
            )
    lasting = [part for part in shapely.get_parts(shape.buffer(-blade / 2)) if part.area > blade**2]
    if len(lasting) > 1:
        neck = shapely.shortest_line(lasting[0], lasting[1]).centroid
        yield Finding(
            Level.SERIOUS,
            f"piece {piece.label}",
            f"It falls into {len(lasting)} parts: less than a blade's width of "
            f"{rules.lengths.fine(blade)} holds it together at {_at((neck.x, neck.y), rules)}.",
            "Cut the parts as pieces of their own, or start the rows elsewhere.",
        )
