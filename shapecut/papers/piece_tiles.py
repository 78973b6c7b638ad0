"""Full-scale pages of pieces, each only where it is cut or drilled."""

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.layout.layout import Layout, Piece
from shapecut.papers.drawing import Drawing, Layer, Stroke, Text, drawing_of_layout, rectangle
from shapecut.papers.drilling import DrilledStrip, DrillHole, drill_holes, hole_circle, hole_cross
from shapecut.papers.paper import Sheet
from shapecut.papers.patches import Patch, Shelved, datum_along, patches_over, shelved
from shapecut.papers.saw_runs import saw_runs
from shapecut.papers.spans import segments_of
from shapecut.papers.tile_labels import TileLabel
from shapecut.papers.tile_set import Subject, TilePage, TileSet, Window
from shapecut.papers.tile_settings import SIDES, TileSettings
from shapecut.papers.tiling import TileMargins
from shapecut.papers.waste import piece_hatching
from shapecut.shape.curves import Line
from shapecut.shape.placement import Placement, Point
from shapecut.shape.setting_out import SetPoint

__all__ = ["cut_templates", "drilling_templates"]

LAY = (
    "Each window is a part of one piece, lying face up as in the plan. Lay its dashed board edges "
    "on the real edges of the board (fold along one of them), and its datum line on a line that "
    "you have squared across at the stated distance from the reference end.",
)

EDGE_TEXT_MM = 2.2
"""Height of what is written along board edges and datum lines."""

HALF_ROW_MM = 3.2


def cut_templates(layout: Layout, title: str, settings: TileSettings) -> TileSet | None:
    """Pages on which each piece is shown only where the saw goes; None if it goes nowhere."""
    how_to = (*LAY, SIDES)
    works = _work(layout, _cuts_of)
    return _patched(layout, title, settings, works, "where to cut", how_to)


def drilling_templates(
    layout: Layout,
    title: str,
    settings: TileSettings,
    *,
    points: Sequence[SetPoint] = (),
    strips: Sequence[DrilledStrip] = (),
) -> TileSet | None:
    """Pages on which each piece is shown only where it is drilled; None if it is nowhere.

    Args:
        layout: The plan.
        title: The job's name.
        settings: Paper, printer and units.
        points: Marked on the template, in the plane of the plan.
        strips: Boards that are no pieces of the plan, to be drilled as well.
    """
    works = _work(layout, _holes_of(settings, points)) + [_strip(s, settings) for s in strips]
    return _patched(layout, title, settings, works, "where to drill", LAY)


@dataclass(frozen=True)
class _Work:
    """What is done to a board.

    Attributes:
        label: Of the piece.
        length_mm: Of the piece.
        width_mm: Of its board.
        drawn: In its own frame.
        worked: (N, 2, 2) segments of what must be on paper.
        piece: Whose label is written large, and whose place the map shows; None for a board that
            is no piece of the plan.
    """

    label: str
    length_mm: float
    width_mm: float
    drawn: tuple[Stroke | Text, ...]
    worked: NDArray[np.float64]
    piece: Piece | None = None

    @property
    def measured_from(self) -> str:
        """What distances along it are stated from."""
        return "the reference end" if self.piece else "the left end of its face"

    @property
    def subject(self) -> Subject:
        """What pages show parts of."""
        drawing = Drawing(self.label, self.drawn)
        if self.piece is None:
            return Subject(drawing, (), None)
        label = TileLabel.of(self.piece, self.width_mm, Placement())
        return Subject(drawing, (label,), self.piece.placement)


def _of_piece(
    piece: Piece, width_mm: float, drawn: Iterable[Stroke | Text], worked: Iterable[Stroke]
) -> _Work:
    worked = segments_of(worked)
    return _Work(piece.label, piece.length_mm, width_mm, tuple(drawn), worked, piece)


def _strip(strip: DrilledStrip, settings: TileSettings) -> _Work:
    rims = [hole_circle(hole) for hole in strip.holes]
    names = (words for hole in strip.holes for words in _hole_words(hole, settings))
    ends = rectangle((0.0, strip.length_mm), (0.0, strip.width_mm))
    drawn: tuple[Stroke | Text, ...] = (ends, *rims, *hole_cross(strip.holes), *names)
    return _Work(strip.label, strip.length_mm, strip.width_mm, drawn, segments_of(rims))


def _cuts_of(piece: Piece, board_width_mm: float) -> _Work:
    cuts = [
        Stroke(run.curves, Layer.CUT, run.closed)
        for loop in piece.region.loops
        for run in saw_runs(loop, board_width_mm)
    ]
    return _of_piece(piece, board_width_mm, (*piece_hatching(piece, board_width_mm), *cuts), cuts)


def _holes_of(
    settings: TileSettings, points: Sequence[SetPoint]
) -> Callable[[Piece, float], _Work]:
    def find(piece: Piece, board_width_mm: float) -> _Work:
        holes = drill_holes(piece, board_width_mm, points, point_mm=settings.point_mm)
        rims = [hole_circle(hole) for hole in holes]
        cuts = [
            Stroke(run.curves, Layer.ROW, run.closed)
            for loop in piece.region.loops
            for run in saw_runs(loop, board_width_mm)
        ]
        named = (words for hole in holes for words in _hole_words(hole, settings))
        return _of_piece(piece, board_width_mm, (*cuts, *rims, *hole_cross(holes), *named), rims)

    return find


def _hole_words(hole: DrillHole, settings: TileSettings) -> Iterator[Text]:
    """The name above a hole, its diameter below."""
    away = hole.diameter_mm / 2 + 3 * EDGE_TEXT_MM
    x, y = hole.at
    yield _words(hole.name, (x, y + away))
    yield _words(f"ø {settings.length(hole.diameter_mm)}", (x, y - away))


def _work(layout: Layout, find: Callable[[Piece, float], _Work]) -> list[_Work]:
    works = (find(piece, layout.board.width_mm) for piece in layout.pieces)
    return [work for work in works if len(work.worked)]


def _patched(
    layout: Layout,
    title: str,
    settings: TileSettings,
    works: Sequence[_Work],
    name: str,
    how_to: tuple[str, ...],
) -> TileSet | None:
    if not works:
        return None
    margins = TileMargins()
    sheet, pages = _fewest(works, settings, margins)
    return TileSet(
        title=title,
        name=name,
        how_to=how_to,
        sheet=sheet,
        printer=settings.printer,
        margins=margins,
        subjects=tuple(work.subject for work in works),
        pages=pages,
        overview=drawing_of_layout(layout, title),
    )


def _fewest(
    works: Sequence[_Work], settings: TileSettings, margins: TileMargins
) -> tuple[Sheet, tuple[TilePage, ...]]:
    """Patches of all pieces on the sheets, upright or turned, whichever takes less paper."""
    ways: list[tuple[float, int, Sheet, list[list[Shelved]]]] = []
    for sheet in settings.page.sheets(math.inf, math.inf):
        window = margins.window_of(settings.printer.usable(sheet))
        patches = [
            patch
            for subject, work in enumerate(works)
            for patch in patches_over(subject, work.worked, work.width_mm, window)
        ]
        laid = shelved(patches, window)
        if settings.page.height_mm is None:
            sheet, laid = _cut_to_length(sheet, laid, settings)
        ways.append((len(laid) * sheet.area_mm2, len(ways), sheet, laid))
    _, _, sheet, laid = min(ways, key=lambda way: way[:2])
    return sheet, tuple(_page(held, works, settings, margins) for held in laid)


def _cut_to_length(
    sheet: Sheet, laid: list[list[Shelved]], settings: TileSettings
) -> tuple[Sheet, list[list[Shelved]]]:
    """A roll's page no longer than what lies on it; patches lie from its top and its left."""
    spare_x = min(
        settings.printer.usable(sheet).width_mm - one.corner[0] - one.patch.box.width
        for held in laid
        for one in held
    )
    spare_y = min(one.corner[1] for held in laid for one in held)
    x, y = settings.printer.scales(sheet)
    if sheet.width_mm > sheet.height_mm:
        spare = spare_x - TileMargins().beside.width_mm
        return Sheet(sheet.width_mm - spare / min(1.0, x), sheet.height_mm), laid
    lowered = [
        [replace(one, corner=(one.corner[0], one.corner[1] - spare_y)) for one in held]
        for held in laid
    ]
    return Sheet(sheet.width_mm, sheet.height_mm - spare_y / min(1.0, y)), lowered


def _page(
    held: Sequence[Shelved],
    works: Sequence[_Work],
    settings: TileSettings,
    margins: TileMargins,
) -> TilePage:
    windows = tuple(
        Window(
            one.patch.subject,
            one.patch.box,
            (margins.left + one.corner[0], margins.bottom + one.corner[1]),
            framed=True,
            own=tuple(_guides(one.patch, works[one.patch.subject], settings)),
        )
        for one in held
    )
    return TilePage(windows, tuple(dict.fromkeys(works[w.subject].label for w in windows)))


def _guides(patch: Patch, work: _Work, settings: TileSettings) -> Iterator[Stroke | Text]:
    """The board's edges and the datum, with words; a datum along the board where no edge shows."""
    box, width_mm = patch.box, work.width_mm
    middle = (box.x0 + box.x1) / 2
    edges = [edge for edge in (0.0, width_mm) if box.y0 < edge < box.y1]
    for edge in edges:
        yield _reference((box.x0, edge), (box.x1, edge))
        away = -HALF_ROW_MM if edge == 0.0 else HALF_ROW_MM
        yield _words("edge of the board", (middle, edge + away))
    if not edges:
        level = round((box.y0 + box.y1) / 2 / settings.round_mm) * settings.round_mm
        yield _reference((box.x0, level), (box.x1, level))
        above = f"{settings.length(level)} above the board's lower edge"
        yield _words(above, (middle, level + HALF_ROW_MM))
    low, high = max(box.y0, 0.0), min(box.y1, width_mm)
    along = datum_along(box, work.worked, length_mm=work.length_mm, step_mm=settings.round_mm)
    yield _reference((along, low), (along, high))
    beside = along + HALF_ROW_MM if along > middle else along - HALF_ROW_MM
    words = f"{work.label}: {settings.length(along)} from {work.measured_from}"
    yield replace(_words(words, (beside, (low + high) / 2)), turn_rad=math.pi / 2)


def _words(words: str, at: Point) -> Text:
    return Text(words, at, EDGE_TEXT_MM, Layer.REFERENCE)


def _reference(start: Point, end: Point) -> Stroke:
    return Stroke((Line(start, end),), Layer.REFERENCE)
