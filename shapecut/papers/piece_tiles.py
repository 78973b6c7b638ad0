"""Full-scale pages of pieces, each only where it is cut or drilled."""

import math
from collections.abc import Sequence
from dataclasses import replace

from shapecut.layout.layout import Layout
from shapecut.papers.drilling import DrilledStrip
from shapecut.papers.guides import guides
from shapecut.papers.layout_drawing import drawing_of_layout
from shapecut.papers.on_board import OnBoard, as_laid, on_their_boards
from shapecut.papers.paper import Sheet
from shapecut.papers.patches import Shelved, patches_over, shelved
from shapecut.papers.piece_work import Work, cutting, drilling, strip_drilling
from shapecut.papers.tile_set import TilePage, TileSet, Window
from shapecut.papers.tile_settings import SIDES, TileSettings
from shapecut.papers.tiling import TileMargins
from shapecut.shape.setting_out import SetPoint
from shapecut.stock.cutplan import CutPlan

__all__ = ["cut_templates", "drilling_templates"]

LAY = (
    "Each window is a part of one piece as it lies on its board, the same way round as on its cut "
    "card. Lay its dashed board edges on the real edges of the board (fold along one of them), and "
    "its datum line on a line that you have squared across at the stated distance from the "
    "reference end, where the piece begins on its board.",
)


def cut_templates(
    layout: Layout, title: str, settings: TileSettings, *, plan: CutPlan | None = None
) -> TileSet | None:
    """Pages on which each piece is shown only where the saw goes; None if it goes nowhere.

    Args:
        layout: The plan.
        title: The job's name.
        settings: Paper, printer and units.
        plan: How pieces lie on their boards; as they are laid if left out.
    """
    works = [cutting(lying) for lying in _lying(layout, plan)]
    return _patched(layout, title, settings, works, "where to cut", (*LAY, SIDES))


def drilling_templates(
    layout: Layout,
    title: str,
    settings: TileSettings,
    *,
    plan: CutPlan | None = None,
    points: Sequence[SetPoint] = (),
    strips: Sequence[DrilledStrip] = (),
) -> TileSet | None:
    """Pages on which each piece is shown only where it is drilled; None if it is nowhere.

    Args:
        layout: The plan.
        title: The job's name.
        settings: Paper, printer and units.
        plan: How pieces lie on their boards; as they are laid if left out.
        points: To be drilled, in the plane of the plan.
        strips: Boards that are no pieces of the plan, to be drilled as well.
    """
    works = [drilling(lying, points, settings) for lying in _lying(layout, plan)]
    works += [strip_drilling(strip, settings) for strip in strips]
    return _patched(layout, title, settings, works, "where to drill", LAY)


def _lying(layout: Layout, plan: CutPlan | None) -> list[OnBoard]:
    if plan:
        return list(on_their_boards(layout, plan))
    return [as_laid(piece, layout.board.width_mm) for piece in layout.pieces]


def _patched(
    layout: Layout,
    title: str,
    settings: TileSettings,
    works: Sequence[Work],
    name: str,
    how_to: tuple[str, ...],
) -> TileSet | None:
    works = [work for work in works if len(work.worked)]
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
    works: Sequence[Work], settings: TileSettings, margins: TileMargins
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
    if sheet.fed_level:
        spare = spare_x - TileMargins().beside.width_mm
        return replace(sheet, width_mm=sheet.width_mm - spare / min(1.0, x)), laid
    lowered = [
        [replace(one, corner=(one.corner[0], one.corner[1] - spare_y)) for one in held]
        for held in laid
    ]
    return replace(sheet, height_mm=sheet.height_mm - spare_y / min(1.0, y)), lowered


def _page(
    held: Sequence[Shelved],
    works: Sequence[Work],
    settings: TileSettings,
    margins: TileMargins,
) -> TilePage:
    windows = tuple(
        Window(
            one.patch.subject,
            one.patch.box,
            (margins.left + one.corner[0], margins.bottom + one.corner[1]),
            framed=True,
            own=tuple(guides(one.patch.box, works[one.patch.subject], settings)),
        )
        for one in held
    )
    return TilePage(windows, tuple(dict.fromkeys(works[w.subject].name for w in windows)))
