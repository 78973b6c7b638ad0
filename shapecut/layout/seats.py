"""Where pieces lie on joists, which grooves they have there, and where screws go.

Glossary:
    seat: where a piece lies on a joist.
    groove: in both long edges of a board; sawing along an edge takes it away there.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum

from shapecut.layout.cross_section import Stretch, stretches_at
from shapecut.layout.joists import LEAST_BEARING_MM, Crossings, Joists
from shapecut.layout.layout import Piece
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Point

__all__ = ["LongEdge", "ScrewPlace", "Seat", "screw_places", "seats_of"]

OWN_EDGE_MM = 0.01
"""A piece this near to its board's edge still has it, and the groove in it."""

PROBE_MM = 1.0
"""How far inside its edges a piece is looked at."""


class LongEdge(IntEnum):
    """The two long edges of a board as it is laid."""

    LOWER = 0
    UPPER = 1


@dataclass(frozen=True)
class Seat:
    """Where a piece lies on a joist.

    Attributes:
        piece: The piece.
        crossings: Of all joists under it.
        place: Of this joist among the crossings.
        edges: What the piece covers of the joist just inside its lower and its upper edge, along
            it; None where it does not cover it there.
        grooved: Whether it has the board's own lower and upper edge there.
        across_mm: Of its lower and its upper edge.
    """

    piece: Piece
    crossings: Crossings
    place: int
    edges: tuple[Stretch | None, Stretch | None]
    grooved: tuple[bool, bool]
    across_mm: Stretch

    @property
    def joist(self) -> int:
        """Index of the joist among the joists' lines."""
        return self.crossings.numbers[self.place]

    def beside(self, edge: LongEdge, out_mm: float) -> Point:
        """The point beside an edge over the middle of what the seat covers, in the plane."""
        covered = self.edges[edge]
        low, high = self.across_mm
        across = high + out_mm if edge is LongEdge.UPPER else low - out_mm
        line = self.crossings.at(across)[self.place]
        along = sum(covered) / 2 if covered else line
        return self.piece.placement.to_plane((along, across))


def seats_of(piece: Piece, joists: Joists, board_width_mm: float) -> Iterator[Seat]:
    """The seats of a piece that lies across the joists, along it."""
    _, low, _, high = bounds(side.curve for side in piece.region.outer)
    probe = min(PROBE_MM, (high - low) / 4)
    heights = (low + probe, (low + high) / 2, high - probe)
    sections = [stretches_at(piece.region, y) for y in heights]
    crossings = joists.crossings(piece.placement)
    lines = [crossings.at(y) for y in heights]
    own = (low <= OWN_EDGE_MM, high >= board_width_mm - OWN_EDGE_MM)
    for place in range(len(crossings.numbers)):
        lower, middle, upper = (
            _covered(section, at[place], crossings.half_mm)
            for section, at in zip(sections, lines, strict=True)
        )
        if lower or middle or upper:
            grooved = (own[0] and lower is not None, own[1] and upper is not None)
            yield Seat(piece, crossings, place, (lower, upper), grooved, (low, high))


def _covered(section: Sequence[Stretch], line: float, half: float) -> Stretch | None:
    """What a section covers of a joist along the board, if that is enough to bear."""
    overlaps = ((max(a, line - half), min(b, line + half)) for a, b in section)
    best = max(overlaps, key=lambda overlap: overlap[1] - overlap[0], default=(0.0, 0.0))
    return best if best[1] - best[0] >= LEAST_BEARING_MM else None


@dataclass(frozen=True)
class ScrewPlace:
    """A screw through the face.

    Attributes:
        place: In the plane.
        to_end_mm: How near the end of its piece it comes, along the board.
    """

    place: Point
    to_end_mm: float


def screw_places(seat: Seat, across_mm: Sequence[float], end_mm: float) -> Iterator[ScrewPlace]:
    """Screws into the joist under a seat.

    Args:
        seat: What is screwed down.
        across_mm: Where they go across the piece; left out where it does not cover the joist.
        end_mm: From the piece's ends, if the joist is wide enough; if not, the screw goes into the
            middle of what the piece covers of the joist.
    """
    for y in across_mm:
        line = seat.crossings.at(y)[seat.place]
        section = stretches_at(seat.piece.region, y)
        covered = _covered(section, line, seat.crossings.half_mm)
        if covered is None:
            continue
        middle = sum(covered) / 2
        left, right = next((a, b) for a, b in section if a <= middle <= b)
        along = min(max(line, left + end_mm), right - end_mm)
        if not covered[0] < along < covered[1]:
            along = middle
        to_end = min(along - left, right - along)
        yield ScrewPlace(seat.piece.placement.to_plane((along, y)), to_end)
