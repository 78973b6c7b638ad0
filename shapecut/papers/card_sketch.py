"""The sketch on a cut card: the whole piece in little, plain stretches shortened, waste hatched."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from shapecut.papers.cut_card import CutCard
from shapecut.papers.on_board import OnBoard
from shapecut.shape.placement import Point
from shapecut.shape.polygons import GRID_MM, areas_of, flattened, region_polygon
from shapecut.shape.region import Loop

__all__ = ["CardSketch", "OtherPart", "card_sketch"]

Chain = NDArray[np.float64]
"""(N, 2) points joined by straight strokes, in the sketch's frame."""

PLAIN_SHARE = 2.0
"""A stretch of board without a mark is drawn no longer than this many board widths."""

HATCH_SHARE = 0.045
"""Distance of the waste's hatching lines as a share of the board's width."""

FLATTENING_MM = 0.2


@dataclass(frozen=True)
class OtherPart:
    """A part of another piece: its label, where that has room, and its contour, closed."""

    label: str
    at: Point
    contour: Chain


@dataclass(frozen=True)
class CardSketch:
    """A sketch of a piece on its board, to scale except that plain stretches are shortened.

    Frame: x along the board from the reference end, y across from its lower edge, mm of the board.

    Attributes:
        length: Of the shortened board.
        width: Of the board.
        contour: The piece's loops, closed.
        hatching: Over what is cut off, (2, 2) each.
        others: Parts of other pieces on the same length of board.
        marks: The place of every mark of the card, in order.
        breaks: Where along the board it is shortened.
    """

    length: float
    width: float
    contour: tuple[Chain, ...]
    hatching: tuple[Chain, ...]
    others: tuple[OtherPart, ...]
    marks: tuple[Point, ...]
    breaks: tuple[float, ...]


def card_sketch(lying: OnBoard, card: CutCard) -> CardSketch:
    """Draw the sketch of a card's piece; what lies abreast of it is no waste."""
    shortened = _Shortened.about(card, lying.piece.length_mm)
    loops = [shortened.loop(loop) for loop in lying.piece.region.loops]
    blank = shapely.box(0.0, 0.0, lying.piece.length_mm, card.width_mm)
    kept = {
        piece.label: shortened.areas(
            _within(blank, region_polygon(piece.region, tolerance_mm=FLATTENING_MM))
        )
        for piece in (lying.piece, *lying.beside)
    }
    marks = shortened.points(np.array([(mark.along_mm, mark.across_mm) for mark in card.marks]))
    length = float(shortened.drawn[-1])
    return CardSketch(
        length,
        card.width_mm,
        tuple(loops),
        _hatching(list(kept.values()), length, card.width_mm),
        tuple(_others(kept, card.label)),
        tuple((float(x), float(y)) for x, y in marks),
        shortened.breaks(),
    )


@dataclass(frozen=True)
class _Shortened:
    """Distances along the board as they are, and as they are drawn: (N,) each, rising."""

    true: Chain
    drawn: Chain

    @classmethod
    def about(cls, card: CutCard, length_mm: float) -> "_Shortened":
        """Every stretch between neighbouring marks, its length limited."""
        along = {0.0, length_mm, *(min(mark.along_mm, length_mm) for mark in card.marks)}
        true = np.array(sorted(along))
        steps = np.minimum(np.diff(true), PLAIN_SHARE * card.width_mm)
        return cls(true, np.concatenate([[0.0], np.cumsum(steps)]))

    def points(self, points: Chain) -> Chain:
        """(N, 2) points of the board as they are drawn."""
        return np.column_stack([np.interp(points[:, 0], self.true, self.drawn), points[:, 1]])

    def loop(self, loop: Loop) -> Chain:
        """A loop of the board as it is drawn, closed."""
        points = flattened(loop, tolerance_mm=FLATTENING_MM)
        return self.points(np.vstack([points, points[:1]]))

    def areas(self, shape: shapely.MultiPolygon) -> shapely.MultiPolygon:
        """A shape on the board as it is drawn; where it is thin, its sides may come to cross."""
        return areas_of(shapely.make_valid(shapely.transform(shape, self.points)))

    def breaks(self) -> tuple[float, ...]:
        """The middles of the shortened stretches."""
        shorter = np.flatnonzero(np.diff(self.true) > np.diff(self.drawn) + 1e-9)
        return tuple(float(self.drawn[k] + self.drawn[k + 1]) / 2 for k in shorter)


def _within(blank: shapely.Polygon, piece: shapely.Polygon) -> shapely.MultiPolygon:
    return areas_of(shapely.intersection(piece, blank, grid_size=GRID_MM))


def _others(kept: Mapping[str, shapely.Geometry], own: str) -> Iterator[OtherPart]:
    for label, shape in kept.items():
        parts = shapely.get_parts(shape) if label != own else ()
        for part in (part for part in parts if part.area > 0):
            at = part.representative_point()
            yield OtherPart(label, (at.x, at.y), shapely.get_coordinates(part.exterior))


def _hatching(kept: Sequence[shapely.Geometry], length: float, width: float) -> tuple[Chain, ...]:
    """Strokes at 45° over the board where none of the pieces is that are kept."""
    pieces = shapely.union_all(kept, grid_size=GRID_MM)
    board = shapely.box(0.0, 0.0, length, width)
    waste = areas_of(shapely.difference(board, pieces, grid_size=GRID_MM))
    starts = np.arange(-width, length, HATCH_SHARE * width)
    lines = shapely.MultiLineString([[(x, 0.0), (x + width, width)] for x in starts])
    parts = shapely.get_parts(waste.intersection(lines))
    return tuple(np.asarray(part.coords) for part in parts if part.length > 0)
