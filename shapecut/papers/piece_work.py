"""What is done to a piece, or to another board: where it is cut, where it is drilled."""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.papers.drawing import Drawing, Layer, Stroke, Text, rectangle
from shapecut.papers.drilling import (
    DrilledStrip,
    DrillHole,
    StripMark,
    drill_holes,
    hole_circle,
    hole_cross,
)
from shapecut.papers.on_board import OnBoard
from shapecut.papers.saw_runs import saw_runs
from shapecut.papers.spans import segments_of
from shapecut.papers.tile_labels import TileLabel
from shapecut.papers.tile_set import Subject
from shapecut.papers.tile_settings import SMALL_TEXT_MM, TileSettings
from shapecut.papers.waste import piece_hatching
from shapecut.shape.curves import Line
from shapecut.shape.placement import Placement, Point
from shapecut.shape.setting_out import SetPoint
from shapecut.stock.turns import Turn

__all__ = ["Work", "cutting", "drilling", "strip_drilling"]


@dataclass(frozen=True)
class Work:
    """What is done to a board.

    Attributes:
        name: Of the piece.
        length_mm: Of the piece.
        width_mm: Of its board.
        drawn: In the frame of the piece on its board.
        worked: (N, 2, 2) segments of what must be on paper.
        lying: The piece; None for a board that is no piece of the plan.
        label: Of the piece, to be written large.
    """

    name: str
    length_mm: float
    width_mm: float
    drawn: tuple[Stroke | Text, ...]
    worked: NDArray[np.float64]
    lying: OnBoard | None = None
    label: TileLabel | None = None

    @property
    def measured_from(self) -> str:
        """What distances along it are stated from."""
        if self.lying is None:
            return "from the left end of its face"
        turn = self.lying.turn
        how = "" if turn is Turn.AS_LAID else f", {turn}"
        return f"from the reference end{how}"

    @property
    def subject(self) -> Subject:
        """What pages show parts of."""
        return Subject(
            Drawing(self.name, self.drawn), (self.label,) if self.label else (), self.lying
        )


def cutting(lying: OnBoard) -> Work:
    """A piece with its cuts, and its waste hatched."""
    cuts = _cuts(lying, Layer.CUT)
    hatching = piece_hatching(lying.piece, lying.width_mm, [piece.region for piece in lying.beside])
    return _of_piece(lying, (*hatching, *cuts), cuts)


def drilling(lying: OnBoard, points: Sequence[SetPoint], settings: TileSettings) -> Work:
    """A piece with its holes.

    Args:
        lying: The piece on its board.
        points: Marked on the template, in the plane of the plan.
        settings: How holes are written beside.
    """
    holes = drill_holes(lying, points, point_mm=settings.point_mm)
    rims = [hole_circle(hole) for hole in holes]
    named = (words for hole in holes for words in _hole_words(hole, settings))
    cuts = _cuts(lying, Layer.ROW)
    return _of_piece(lying, (*cuts, *rims, *hole_cross(holes), *named), rims)


def strip_drilling(strip: DrilledStrip, settings: TileSettings) -> Work:
    """Another board with its holes."""
    rims = [hole_circle(hole) for hole in strip.holes]
    names = [words for hole in strip.holes for words in _hole_words(hole, settings)]
    ends = rectangle((0.0, strip.length_mm), (0.0, strip.width_mm))
    across = [_across(mark.along_mm, strip.width_mm) for mark in strip.marks]
    sizes = [words for mark in strip.marks for words in _mark_words(mark, strip, settings)]
    drawn: tuple[Stroke | Text, ...] = (
        ends, *rims, *hole_cross(strip.holes), *across, *names, *sizes
    )  # fmt: skip
    worked = segments_of([*rims, *across])
    return Work(strip.label, strip.length_mm, strip.width_mm, drawn, worked)


def _of_piece(lying: OnBoard, drawn: Iterable[Stroke | Text], worked: Iterable[Stroke]) -> Work:
    piece, width = lying.piece, lying.width_mm
    label = TileLabel.of(piece, width, Placement())
    segments = segments_of(worked)
    return Work(piece.label, piece.length_mm, width, tuple(drawn), segments, lying, label)


def _cuts(lying: OnBoard, layer: Layer) -> list[Stroke]:
    return [
        Stroke(run.curves, layer, run.closed)
        for loop in lying.piece.region.loops
        for run in saw_runs(loop, lying.width_mm)
    ]


def _hole_words(hole: DrillHole, settings: TileSettings) -> Iterator[Text]:
    """The name above a hole, its diameter below."""
    away = hole.diameter_mm / 2 + 3 * SMALL_TEXT_MM
    x, y = hole.at
    yield _words(hole.name, (x, y + away))
    yield _words(f"ø {settings.length(hole.diameter_mm)}", (x, y - away))


def _across(along_mm: float, width_mm: float) -> Stroke:
    """A line square across a board."""
    return Stroke((Line((along_mm, 0.0), (along_mm, width_mm)),), Layer.DRILL)


def _mark_words(mark: StripMark, strip: DrilledStrip, settings: TileSettings) -> Iterator[Text]:
    """The name of a point beside its line, and how wide the thing is."""
    size = f", {settings.length(mark.size_mm)} wide" if mark.size_mm else ""
    beside = (mark.along_mm + 1.5 * SMALL_TEXT_MM, strip.width_mm / 2)
    yield replace(_words(f"{mark.name}{size}", beside), turn_rad=math.pi / 2)


def _words(words: str, at: Point) -> Text:
    return Text(words, at, SMALL_TEXT_MM, Layer.REFERENCE)
