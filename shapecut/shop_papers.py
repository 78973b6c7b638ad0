"""What goes to the saw and to the machine: full-scale pages, cut cards and DXF files."""

from collections.abc import Sequence
from pathlib import Path

from shapecut.job_papers import Papers
from shapecut.layout.fascia import Fascia
from shapecut.papers.cut_cards import cut_cards_pdf
from shapecut.papers.drawing import Drawing
from shapecut.papers.drilling import DrilledStrip, DrillHole
from shapecut.papers.dxf import drawing_dxf
from shapecut.papers.layout_drawing import drawing_of_layout
from shapecut.papers.machining import Machining, drawing_for_boards, drawing_for_piece
from shapecut.papers.setting_out import with_setting_out
from shapecut.papers.tile_settings import TileSettings
from shapecut.papers.tiles import tiles_pdf
from shapecut.planning import Plan
from shapecut.shape.setting_out import SettingOut

__all__ = ["write_shop_papers"]


def write_shop_papers(
    draft: Path,
    plan: Plan,
    papers: Papers,
    *,
    title: str,
    marked: SettingOut,
    fascia: Fascia | None = None,
) -> None:
    """Write the files.

    Args:
        draft: The folder to write into.
        plan: Pieces and boards.
        papers: What they are to look like.
        title: The job's name.
        marked: What was marked on the template.
        fascia: Its boards are drilled as well.
    """
    _write_dxf(draft, plan, papers, title=title, marked=marked)
    strips = _drilled(fascia, papers.point_drill) if fascia else ()
    _write_tiles(draft, plan, papers, title=title, marked=marked, strips=strips)
    cards = cut_cards_pdf(
        plan.layout,
        plan.cut_plan,
        title=title,
        paper=papers.page.paper,
        units=papers.units,
        denominator=papers.fraction,
        edges=plan.outline.edges,
        allowances=plan.allowances,
    )
    (draft / "cut-cards.pdf").write_bytes(cards)


def _write_dxf(draft: Path, plan: Plan, papers: Papers, *, title: str, marked: SettingOut) -> None:
    def write(name: str, drawing: Drawing) -> None:
        data = drawing_dxf(drawing, units=papers.units, release=papers.dxf)
        (draft / f"{name}.dxf").write_bytes(data)

    layout = plan.layout
    machining = Machining(papers.bit, papers.units, marked.points, papers.point_drill)
    write("boards", with_setting_out(drawing_of_layout(layout, title), marked))
    write("boards-as-cut", drawing_for_boards(layout, plan.cut_plan, machining))
    (draft / "pieces").mkdir()
    for piece in layout.pieces:
        drawing = drawing_for_piece(piece, layout.board.width_mm, machining)
        write(f"pieces/{piece.label}", drawing)


def _drilled(fascia: Fascia, diameter_mm: float) -> tuple[DrilledStrip, ...]:
    """The fascia's boards that have holes."""
    return tuple(
        DrilledStrip(
            part.label,
            part.face_mm,
            fascia.rules.width_mm,
            tuple(
                DrillHole(mark.name, (mark.along_mm, mark.up_mm), diameter_mm)
                for mark in part.marks
            ),
        )
        for part in fascia.parts
        if part.marks
    )


def _write_tiles(
    draft: Path,
    plan: Plan,
    papers: Papers,
    *,
    title: str,
    marked: SettingOut,
    strips: Sequence[DrilledStrip],
) -> None:
    settings = TileSettings(
        papers.page, papers.printer, papers.units, papers.fraction, papers.point_drill
    )
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
        )
        if pages:
            (draft / kind.file_name).write_bytes(pages)
