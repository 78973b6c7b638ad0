"""What a person needs to know of a piece to mark and cut it, taken from its shape."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from shapecut.layout.layout import Piece
from shapecut.papers.saw_runs import BOARD_EDGE_TOLERANCE_MM, saw_runs
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point
from shapecut.shape.region import Loop, Side

__all__ = ["Corner", "EndCut", "PieceFacts", "piece_facts"]

SQUARE_WITHIN_DEG = 0.2
"""An end cut no farther than this off square is called square: a saw is hardly set finer."""

END_WITHIN_DEG = 80.0
"""A side farther than this off square runs along the board; nearer, it is part of an end."""

FLATTENING_MM = 0.01


@dataclass(frozen=True)
class EndCut:
    """How one end of a piece is cut.

    Attributes:
        off_square_deg: Angle of the saw cut off square; None when the end is not one
            straight cut.
        long_edge: Board edge (`lower` or `upper`) at which the piece is longer; empty when square
            or not straight.
    """

    off_square_deg: float | None
    long_edge: str = ""

    def __str__(self) -> str:
        if self.off_square_deg is None:
            return "shaped, see its corners"
        if not self.long_edge:
            return "square"
        return f"{self.off_square_deg:.1f}° off square, {self.long_edge} edge longer"


@dataclass(frozen=True)
class Corner:
    """A corner of a piece, to be marked on the board.

    Attributes:
        along_mm: From the reference end.
        across_mm: From the board's lower edge.
        radius_mm: Of the arc from here to the next corner; None for a straight cut or edge.
    """

    along_mm: float
    across_mm: float
    radius_mm: float | None

    def written(self, length: Callable[[float], str]) -> str:
        """Along / across, and the arc that follows, with lengths written by a function."""
        place = f"{length(self.along_mm)} / {length(self.across_mm)}"
        return (
            place if self.radius_mm is None else f"{place}, arc of radius {length(self.radius_mm)}"
        )


@dataclass(frozen=True)
class PieceFacts:
    """Marks and cuts of one piece; lengths in mm from its reference end.

    Attributes:
        length_mm: Of its blank.
        width_mm: Width of board that it needs.
        start: The cut at its reference end.
        end: The cut at its other end.
        lower: Where the piece begins and ends on the board's lower edge; None if it leaves it.
        upper: The same on the upper edge.
        along: Names of the outline's edges it is cut along, in their order round the piece.
        corners: Corners of each loop of its boundary, the outer one first: (along, across) from the
            reference end and the lower edge, each loop from its corner nearest to both.
    """

    length_mm: float
    width_mm: float
    start: EndCut
    end: EndCut
    lower: tuple[float, float] | None
    upper: tuple[float, float] | None
    along: tuple[str, ...]
    corners: tuple[tuple[Corner, ...], ...]

    @property
    def inside(self) -> int:
        """Number of openings in the piece."""
        return len(self.corners) - 1


def piece_facts(piece: Piece, board_width_mm: float) -> PieceFacts:
    """Take the marks and cuts from a piece's shape."""
    sides = piece.region.outer
    points = np.concatenate([side.curve.flattened(FLATTENING_MM) for side in sides])
    low, high = float(points[:, 1].min()), float(points[:, 1].max())
    runs = saw_runs(sides, board_width_mm)
    cut = {curve for run in runs for curve in run.curves}
    cut_sides = [side for side in sides if side.curve in cut]
    hole_sides = [side for hole in piece.region.holes for side in hole]
    ends = [curve for run in runs if not run.is_bite() for curve in run.curves]
    return PieceFacts(
        length_mm=piece.length_mm,
        width_mm=high - low,
        start=_end_cut(ends, at_reference=True),
        end=_end_cut(ends, at_reference=False),
        lower=_marks(sides, 0.0),
        upper=_marks(sides, board_width_mm),
        along=tuple(
            dict.fromkeys(side.source for side in (*cut_sides, *hole_sides) if side.source)
        ),
        corners=tuple(_corners(loop) for loop in piece.region.loops),
    )


def _corners(loop: Loop) -> tuple[Corner, ...]:
    """The corners of a loop in order, with the arc that leads on from each."""
    first = min(range(len(loop)), key=lambda k: sum(loop[k].curve.start))
    turned = (*loop[first:], *loop[:first])
    return tuple(
        Corner(
            *side.curve.start,
            radius_mm=side.curve.radius if isinstance(side.curve, Arc) else None,
        )
        for side in turned
    )


def _end_cut(cuts: Sequence[Curve], *, at_reference: bool) -> EndCut:
    """The cut at an end, when what faces that way is one straight cut to a saw.

    Material is on a cut's left, so the cut at the reference end runs down and the other one up.
    """
    turn = -1 if at_reference else 1
    facing = [c for c in cuts if abs(_lean_deg(c.start, c.end, turn)) <= END_WITHIN_DEG]
    if not facing or not _is_one_line(facing):
        return EndCut(None)
    lean = _lean_deg(facing[0].start, facing[-1].end, turn)
    if abs(lean) <= SQUARE_WITHIN_DEG:
        return EndCut(0.0)
    longer_below = (lean > 0) == at_reference
    return EndCut(abs(lean), "lower" if longer_below else "upper")


def _lean_deg(start: Point, end: Point, turn: int) -> float:
    """Off square, positive where the upper point lies farther along; turn is -1 for a cut down."""
    return math.degrees(math.atan2(turn * (end[0] - start[0]), turn * (end[1] - start[1])))


def _is_one_line(curves: Sequence[Curve]) -> bool:
    """Whether straight cuts follow on one another in a line, as far as a saw can tell."""
    if not all(isinstance(curve, Line) for curve in curves):
        return False
    if any(math.dist(a.end, b.start) > BOARD_EDGE_TOLERANCE_MM for a, b in pairwise(curves)):
        return False
    (x0, y0), (x1, y1) = curves[0].start, curves[-1].end
    length = math.dist((x0, y0), (x1, y1))
    corners = [point for a, b in pairwise(curves) for point in (a.end, b.start)]
    return all(
        abs((x - x0) * (y1 - y0) - (y - y0) * (x1 - x0)) <= BOARD_EDGE_TOLERANCE_MM * length
        for x, y in corners
    )


def _marks(sides: tuple[Side, ...], across: float) -> tuple[float, float] | None:
    along = [
        point[0]
        for side in sides
        for point in (side.curve.start, side.curve.end)
        if abs(point[1] - across) <= BOARD_EDGE_TOLERANCE_MM
    ]
    reaches = bool(along) and max(along) - min(along) > BOARD_EDGE_TOLERANCE_MM
    return (min(along), max(along)) if reaches else None
