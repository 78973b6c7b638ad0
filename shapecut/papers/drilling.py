"""Where a piece is drilled: points marked on the template, small round openings, relief holes."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.papers.drawing import Layer, Stroke, circle, printable
from shapecut.papers.marking_out import cut_card
from shapecut.papers.on_board import OnBoard
from shapecut.papers.round_openings import round_opening
from shapecut.shape.curves import Line
from shapecut.shape.placement import Point
from shapecut.shape.polygons import region_contains
from shapecut.shape.region import Region
from shapecut.shape.setting_out import SetPoint

__all__ = [
    "DrillHole",
    "DrilledStrip",
    "StripMark",
    "drill_holes",
    "hole_circle",
    "hole_cross",
    "opening_holes",
    "point_holes",
]

LARGEST_DRILL_MM = 35.0
"""Round openings no wider than this are drilled, wider ones are cut."""

CROSS_BEYOND_MM = 4.0
"""How far the cross at a hole's middle reaches past its circle."""


@dataclass(frozen=True)
class DrillHole:
    """A hole to drill, in the frame of the piece on its board.

    Attributes:
        name: `P3` for a point marked on the template, `D1`, `D2` … for round openings, `R` and the
            number of its mark on the cut card for a relief hole.
        at: Its middle, mm.
        diameter_mm: Of the drill.
        loop: Which of its region's openings it makes; None where it makes none.
    """

    name: str
    at: Point
    diameter_mm: float
    loop: int | None = None


@dataclass(frozen=True)
class StripMark:
    """Where something stands along a board, however high.

    Attributes:
        name: Of the point.
        along_mm: From the board's left end.
        size_mm: Of what stands there, along the board; nought if that is not known.
    """

    name: str
    along_mm: float
    size_mm: float


@dataclass(frozen=True)
class DrilledStrip:
    """A board that is no piece of the plan, as a fascia's.

    Attributes:
        label: Its name.
        length_mm: Along it.
        width_mm: Across it.
        holes: From its left end and its lower edge.
        marks: Of points along it.
    """

    label: str
    length_mm: float
    width_mm: float
    holes: tuple[DrillHole, ...]
    marks: tuple[StripMark, ...] = ()


def drill_holes(
    lying: OnBoard, points: Sequence[SetPoint] = (), *, point_mm: float = 5.0
) -> tuple[DrillHole, ...]:
    """All holes of a piece.

    Args:
        lying: The piece on its board.
        points: Marked on the template, in the plane of the plan.
        point_mm: Diameter of the holes at those points.
    """
    relief = cut_card(lying.piece, lying.width_mm, beside=lying.beside).relief
    return (
        *point_holes(lying, points, point_mm),
        *opening_holes(lying.piece.region),
        *(
            DrillHole(f"R{hole.mark}", (hole.along_mm, hole.across_mm), hole.diameter_mm)
            for hole in relief
        ),
    )


def opening_holes(region: Region) -> Iterator[DrillHole]:
    """The openings of a piece that one drill makes."""
    count = 0
    for place, loop in enumerate(region.holes):
        opening = round_opening(loop)
        if opening and opening[1] <= LARGEST_DRILL_MM:
            count += 1
            yield DrillHole(f"D{count}", *opening, place)


def point_holes(
    lying: OnBoard, points: Sequence[SetPoint], diameter_mm: float
) -> Iterator[DrillHole]:
    """Holes at the points, given in the plane of the plan, that lie on a piece."""
    if not points:
        return
    places = [lying.to_local(point.at) for point in points]
    inside = region_contains(lying.piece.region, np.array(places))
    for point, place, is_inside in zip(points, places, inside, strict=True):
        if is_inside:
            yield DrillHole(printable(point.name), place, diameter_mm)


def hole_circle(hole: DrillHole) -> Stroke:
    """A hole's rim."""
    return circle(hole.at, hole.diameter_mm / 2, Layer.DRILL)


def hole_cross(holes: Iterable[DrillHole]) -> Iterator[Stroke]:
    """Crosses over holes, to centre-punch by."""
    for hole in holes:
        (x, y), reach = hole.at, hole.diameter_mm / 2 + CROSS_BEYOND_MM
        yield Stroke((Line((x - reach, y), (x + reach, y)),), Layer.DRILL)
        yield Stroke((Line((x, y - reach), (x, y + reach)),), Layer.DRILL)
