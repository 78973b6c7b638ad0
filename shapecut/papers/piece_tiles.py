"""Full-scale pages of pieces, each only where it is cut or drilled."""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shapecut.layout.layout import Layout, Piece
from shapecut.papers.drawing import Drawing, Layer, Stroke, Text, drawing_of_layout
from shapecut.papers.drilling import DrillHole, drill_holes, hole_circle, hole_cross
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
    layout: Layout, title: str, settings: TileSettings, points: Sequence[SetPoint]
) -> TileSet | None:
    """Pages on which each piece is shown only where it is drilled; None if it is nowhere.

    Args:
        layout: The plan.
        title: The job's name.
        settings: Paper, printer and units.
        points: Marked on the template, in the plane of the plan.
    """
    works = _work(layout, _holes_of(settings, points))
    return _patched(layout, title, settings, works, "where to drill", LAY)


@dataclass(frozen=True)
class _Work:
    """What is done to a piece: what is drawn of it, and what of that must be on paper."""

    piece: Piece
    drawn: tuple[Stroke | Text, ...]
    worked: NDArray[np.float64]


def _cuts_of(piece: Piece, board_width_mm: float) -> _Work:
    cuts = [
        Stroke(run.curves, Layer.CUT, run.closed)
        for loop in piece.region.loops
        for run in saw_runs(loop, board_width_mm)
    ]
    return _Work(piece, (*piece_hatching(piece, board_width_mm), *cuts), segments_of(cuts))


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
        named = (_hole_name(hole, settings) for hole in holes)
        return _Work(piece, (*cuts, *rims, *hole_cross(holes), *named), segments_of(rims))

    return find


def _hole_name(hole: DrillHole, settings: TileSettings) -> Text:
    words = f"{hole.name}, ø {settings.length(hole.diameter_mm)}"
    beside = hole.at[1] + hole.diameter_mm / 2 + 3 * EDGE_TEXT_MM
    return _words(words, (hole.at[0], beside))


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
    width, margins = layout.board.width_mm, TileMargins()
    sheet, pages = _fewest(works, width, settings, margins)
    subjects = tuple(
        Subject(
            Drawing(work.piece.label, work.drawn),
            (TileLabel.of(work.piece, width, Placement()),),
            work.piece.placement,
        )
        for work in works
    )
    return TileSet(
        title=title,
        name=name,
        how_to=how_to,
        sheet=sheet,
        printer=settings.printer,
        margins=margins,
        subjects=subjects,
        pages=pages,
        overview=drawing_of_layout(layout, title),
    )


def _fewest(
    works: Sequence[_Work], width_mm: float, settings: TileSettings, margins: TileMargins
) -> tuple[Sheet, tuple[TilePage, ...]]:
    """Patches of all pieces on the sheets, upright or turned, whichever takes less paper."""
    ways: list[tuple[float, int, Sheet, list[list[Shelved]]]] = []
    for sheet in settings.page.sheets(*_roll_room(works, width_mm, margins)):
        window = margins.window_of(settings.printer.usable(sheet))
        patches = [
            patch
            for subject, work in enumerate(works)
            for patch in patches_over(subject, work.worked, width_mm, window)
        ]
        laid = shelved(patches, window)
        ways.append((len(laid) * sheet.area_mm2, len(ways), sheet, laid))
    _, _, sheet, laid = min(ways, key=lambda way: way[:2])
    corner = (margins.left, margins.bottom)
    pages = []
    for held in laid:
        windows = tuple(
            Window(
                one.patch.subject,
                one.patch.box,
                (corner[0] + one.corner[0], corner[1] + one.corner[1]),
                framed=True,
                own=tuple(_guides(one.patch, works[one.patch.subject], width_mm, settings)),
            )
            for one in held
        )
        pieces = dict.fromkeys(works[one.patch.subject].piece.label for one in held)
        pages.append(TilePage(windows, tuple(pieces)))
    return sheet, tuple(pages)


def _roll_room(
    works: Sequence[_Work], width_mm: float, margins: TileMargins
) -> tuple[float, float]:
    """How long a roll's page may be: as long as the longest piece needs, either way."""
    longest = max(float(np.ptp(work.worked[:, :, 0])) for work in works) + 40.0
    reach = max(longest, width_mm + 40.0)
    return (reach + margins.beside.width_mm, reach + margins.beside.height_mm)


def _guides(
    patch: Patch, work: _Work, width_mm: float, settings: TileSettings
) -> Iterator[Stroke | Text]:
    """The board's edges and the datum, with words; a datum along the board where no edge shows."""
    box = patch.box
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
    along = datum_along(box, work.worked, length_mm=work.piece.length_mm, step_mm=settings.round_mm)
    yield _reference((along, low), (along, high))
    beside = along - HALF_ROW_MM if along > middle else along + HALF_ROW_MM
    words = f"{work.piece.label}: {settings.length(along)} from the reference end"
    yield replace(_words(words, (beside, (low + high) / 2)), turn_rad=math.pi / 2)


def _words(words: str, at: Point) -> Text:
    return Text(words, at, EDGE_TEXT_MM, Layer.REFERENCE)


def _reference(start: Point, end: Point) -> Stroke:
    return Stroke((Line(start, end),), Layer.REFERENCE)
