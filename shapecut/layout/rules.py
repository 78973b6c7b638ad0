"""What a fitter decides before laying out: direction, start of the rows, what counts as small."""

import math
from dataclasses import dataclass
from enum import StrEnum

from shapecut.errors import LayoutError
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Outline
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["LayoutRules", "RowStart", "StartSide", "direction_along"]


class StartSide(StrEnum):
    """The side of the field the rows are counted from, seen along the boards."""

    LOW = "low"
    """The right-hand side: the lower one when the boards run to the right."""
    HIGH = "high"
    """The left-hand side."""


class RowStart(StrEnum):
    """Where the rows start."""

    FULL_BOARD = "full board"
    """With a full board at an edge or a side, or a stated distance from it."""
    BALANCED = "balanced"
    """So that the first row and the last are of one width."""
    BEST = "best"
    """Where the fewest parts come out too small, then with the least board."""


@dataclass(frozen=True)
class LayoutRules:
    """How boards are laid.

    Attributes:
        direction_rad: Counter-clockwise turn of the boards from the plane's x axis.
        row_start: Where the rows start; what follows on edge and offset is for a full board.
        start_edge: Name of the edge along which the first full board lies; the rows are then
            counted from the side that this edge is on.  None to start from a side of the field.
        start_side: Where rows start when no edge is named.
        offset_mm: How far the first full board lies from its starting edge or side, into the
            field; what is left before it takes narrower rows.  Negative: its edge reaches past and
            is ripped off.
        smallest_rip_mm: A row or piece narrower than this is reported.
        smallest_length_mm: A piece shorter than this is reported.
        parallel_rad: A starting edge may be out of parallel with the boards by this much.
        lengths: How findings and refusals write lengths.

    Raises:
        LayoutError: If the direction or the offset is no finite number, or an edge is named where
            no full board is to start.
    """

    direction_rad: float = 0.0
    row_start: RowStart = RowStart.FULL_BOARD
    start_edge: str | None = None
    start_side: StartSide = StartSide.LOW
    offset_mm: float = 0.0
    smallest_rip_mm: float = 0.0
    smallest_length_mm: float = 0.0
    parallel_rad: float = math.radians(2.0)
    lengths: LengthStyle = MILLIMETRES

    def __post_init__(self) -> None:
        if not math.isfinite(self.direction_rad):
            raise LayoutError(
                f"The boards' direction is {self.direction_rad}, no angle: state it as a finite "
                f"number, or lay the boards along an edge."
            )
        if not math.isfinite(self.offset_mm):
            raise LayoutError(
                f"The first row is to start {self.offset_mm} mm from its edge: state a finite "
                f"number of mm."
            )
        if self.row_start is not RowStart.FULL_BOARD and (self.start_edge or self.offset_mm):
            raise LayoutError(
                f"The rows cannot start {self.row_start} and with a full board at "
                f"{self.start_edge or 'an offset'}: choose one of the two."
            )


def direction_along(outline: Outline, name: str) -> float:
    """The direction of boards that run along a named edge.

    Returns:
        The edge's direction in radians from the plane's x axis, in its own sense: the field is on
        the left of boards laid along it.

    Raises:
        LayoutError: If there is no such edge, or it is an arc.
    """
    edges = {edge.name: edge for edge in outline.edges}
    if name not in edges:
        raise LayoutError(
            f'The boards are to run along "{name}", but the outline has no such edge: '
            f"it has {', '.join(edges)}."
        )
    curve = edges[name].curve
    if isinstance(curve, Arc):
        lines = [edge.name for edge in outline.edges if not isinstance(edge.curve, Arc)]
        choice = f"choose a straight edge ({', '.join(lines)}) or" if lines else "state"
        raise LayoutError(f"The boards cannot run along {name}: it is an arc; {choice} an angle.")
    dx, dy = curve.direction()
    return math.atan2(dy, dx)
