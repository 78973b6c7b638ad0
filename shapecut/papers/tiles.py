"""Full-scale pages: the whole plan, a placing guide, or only where each piece is cut or drilled."""

from collections.abc import Sequence

from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.papers.drawing import Drawing, Layer
from shapecut.papers.drilling import DrilledStrip
from shapecut.papers.fittings_drawing import with_fittings
from shapecut.papers.layout_drawing import drawing_of_layout
from shapecut.papers.piece_tiles import cut_templates, drilling_templates
from shapecut.papers.setting_out import with_setting_out
from shapecut.papers.supports_drawing import joist_items
from shapecut.papers.tile_kind import TileKind
from shapecut.papers.tile_labels import TileLabel
from shapecut.papers.tile_press import tile_set_pdf
from shapecut.papers.tile_set import Subject, TileSet, joined_pages
from shapecut.papers.tile_settings import SIDES, TileSettings
from shapecut.papers.tiling import tile_drawing
from shapecut.papers.waste import layout_hatching
from shapecut.shape.setting_out import SettingOut
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.materials import Fittings

__all__ = ["tile_set", "tiles_pdf"]


POINT_NAME_MM = 7.0
"""Height of the names of points on the placing guide."""

FASTENERS = "Squares are clips, triangles starter fixings, circles screws through the face."

JOIN = (
    "Every joint has a number of its own, and two crosses, a and b: lay the page with the same "
    "number so that crosses of the same name lie exactly on one another, against the light if need "
    "be. Trim along the dotted line and tape.",
    "Check one long dimension of the taped sheet with a tape measure before the first cut.",
)


def tiles_pdf(
    kind: TileKind,
    layout: Layout,
    *,
    title: str,
    settings: TileSettings,
    marked: SettingOut | None = None,
    plan: CutPlan | None = None,
    strips: Sequence[DrilledStrip] = (),
    supports: Supports | None = None,
    fittings: Fittings | None = None,
) -> bytes | None:
    """Print full-scale pages.

    Args:
        kind: What they show.
        layout: The plan.
        title: The job's name, written on every page.
        settings: Paper, printer and units.
        marked: What was marked on the template.
        plan: How pieces lie on their boards, where they are shown one by one.
        strips: Boards that are no pieces of the plan, to be drilled as well.
        supports: The joists, which the placing guide shows where they are known.
        fittings: Fasteners and points, which it shows as well.

    Returns:
        A PDF: the page map, then the pages; None where there is nothing to show, as without a hole
        to drill.  Equal input gives equal bytes.
    """
    pages = tile_set(
        kind,
        layout,
        title=title,
        settings=settings,
        marked=marked,
        plan=plan,
        strips=strips,
        supports=supports,
        fittings=fittings,
    )
    return tile_set_pdf(pages) if pages else None


def tile_set(
    kind: TileKind,
    layout: Layout,
    *,
    title: str,
    settings: TileSettings,
    marked: SettingOut | None = None,
    plan: CutPlan | None = None,
    strips: Sequence[DrilledStrip] = (),
    supports: Supports | None = None,
    fittings: Fittings | None = None,
) -> TileSet | None:
    """The pages of `tiles_pdf` as a value."""
    if kind is TileKind.PLAN:
        return _plan(layout, title, settings)
    if kind is TileKind.PLACING:
        return _placing(
            layout, title, settings, marked or SettingOut(), supports, fittings or Fittings()
        )
    if kind is TileKind.CUTS:
        return cut_templates(layout, title, settings, plan=plan)
    points = marked.points if marked else ()
    return drilling_templates(layout, title, settings, plan=plan, points=points, strips=strips)


# --- the plan as one sheet, joined from pages -----------------------------------------------------


def _plan(layout: Layout, title: str, settings: TileSettings) -> TileSet:
    drawing = drawing_of_layout(layout, title).on(Layer.ROW, Layer.BOARD_EDGE, Layer.CUT)
    whole = Drawing(drawing.title, (*layout_hatching(layout), *drawing.items))
    needed = drawing.on(Layer.BOARD_EDGE, Layer.CUT)
    how_to = (SIDES, "Grey lines are the boards' own edges: lay them on the real ones.", *JOIN)
    return _joined("plan", whole, needed, layout, settings, how_to)


def _placing(
    layout: Layout,
    title: str,
    settings: TileSettings,
    marked: SettingOut,
    supports: Supports | None,
    fittings: Fittings,
) -> TileSet:
    needed = drawing_of_layout(layout, title).on(Layer.FIELD, Layer.BOARD_EDGE, Layer.CUT)
    joists = joist_items(layout, supports) if supports else ()
    whole = with_setting_out(
        Drawing(needed.title, (*joists, *needed.items)), marked, name_mm=POINT_NAME_MM
    )
    whole = with_fittings(whole, fittings, name_mm=POINT_NAME_MM)
    how_to = (
        "Tape the pages to the floor or the frame: the dashed line is the edge of the field with "
        "its allowances. Lay every piece on its place; the gaps are the spaces between them.",
        *(("Lines of long dashes are the joists' sides.",) if supports else ()),
        *((FASTENERS,) if fittings.fasteners else ()),
        *JOIN,
    )
    return _joined("placing guide", whole, needed, layout, settings, how_to)


def _joined(
    name: str,
    whole: Drawing,
    needed: Drawing,
    layout: Layout,
    settings: TileSettings,
    how_to: tuple[str, ...],
) -> TileSet:
    tiling = tile_drawing(needed, settings.page, printer=settings.printer)
    labels = tuple(
        TileLabel.of(piece, layout.board.width_mm, tiling.turned.after(piece.placement))
        for piece in layout.pieces
    )
    return TileSet(
        title=whole.title,
        name=name,
        how_to=how_to,
        sheet=tiling.sheet,
        printer=settings.printer,
        margins=tiling.margins,
        subjects=(Subject(whole.placed(tiling.turned), labels, tiling.turned.inverse()),),
        pages=joined_pages(tiling, labels),
        overview=drawing_of_layout(layout, whole.title),
    )
