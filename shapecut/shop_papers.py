"""What goes to the saw and to the machine: full-scale pages, cut cards and DXF files."""

from pathlib import Path

from shapecut.job.papers import Papers
from shapecut.papers.cut_cards import cut_cards_pdf
from shapecut.papers.drawing import Drawing
from shapecut.papers.dxf import drawing_dxf
from shapecut.papers.fascia_strips import fascia_strips
from shapecut.papers.fittings_drawing import with_fittings
from shapecut.papers.layout_drawing import drawing_of_layout, name_height
from shapecut.papers.machining import Machining, drawing_for_boards, drawing_for_piece
from shapecut.papers.setting_out import with_setting_out
from shapecut.papers.tile_settings import TileSettings
from shapecut.papers.tiles import tiles_pdf
from shapecut.shape.setting_out import SettingOut
from shapecut.stages.planning import Plan
from shapecut.stock.materials import Fittings

__all__ = ["write_shop_papers"]


def write_shop_papers(
    draft: Path,
    plan: Plan,
    papers: Papers,
    *,
    title: str,
    marked: SettingOut,
    fittings: Fittings,
) -> None:
    """Write the files.

    Args:
        draft: The folder to write into.
        plan: Pieces and boards.
        papers: What they are to look like.
        title: The job's name.
        marked: What was marked on the template.
        fittings: Fasteners and points are drawn, the fascia's boards drilled.
    """
    _write_dxf(draft, plan, papers, title=title, marked=marked, fittings=fittings)
    _write_tiles(draft, plan, papers, title=title, marked=marked, fittings=fittings)
    cards = cut_cards_pdf(
        plan.layout,
        plan.cut_plan,
        title=title,
        paper=papers.page.paper,
        units=papers.units,
        denominator=papers.fraction,
        edges=plan.outline.edges,
        allowances=plan.allowances,
        trims=plan.edging.trims,
    )
    (draft / "cut-cards.pdf").write_bytes(cards)


def _write_dxf(
    draft: Path,
    plan: Plan,
    papers: Papers,
    *,
    title: str,
    marked: SettingOut,
    fittings: Fittings,
) -> None:
    def write(name: str, drawing: Drawing) -> None:
        data = drawing_dxf(drawing, units=papers.units, release=papers.dxf)
        (draft / f"{name}.dxf").write_bytes(data)

    layout = plan.layout
    machining = Machining(papers.bit, papers.units, marked.points, papers.point_drill)
    name_mm = name_height(layout)
    whole = with_setting_out(drawing_of_layout(layout, title), marked, name_mm=name_mm)
    write("boards", with_fittings(whole, fittings, name_mm=name_mm))
    write("boards-as-cut", drawing_for_boards(layout, plan.cut_plan, machining))
    (draft / "pieces").mkdir()
    for piece in layout.pieces:
        drawing = drawing_for_piece(piece, layout.board.width_mm, machining)
        write(f"pieces/{piece.label}", drawing)


def _write_tiles(
    draft: Path,
    plan: Plan,
    papers: Papers,
    *,
    title: str,
    marked: SettingOut,
    fittings: Fittings,
) -> None:
    settings = TileSettings(
        papers.page, papers.printer, papers.units, papers.fraction, papers.point_drill
    )
    fascia = fittings.fascia
    strips = list(fascia_strips(fascia, fittings.rows, papers.point_drill)) if fascia else []
    for kind in papers.tiles:
        pages = tiles_pdf(
            kind,
            plan.layout,
            title=title,
            settings=settings,
            marked=marked,
            plan=plan.cut_plan,
            strips=strips,
            supports=plan.supports,
            fittings=fittings,
        )
        if pages:
            (draft / kind.file_name).write_bytes(pages)
