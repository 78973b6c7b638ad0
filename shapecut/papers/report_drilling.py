"""The report's holes in pieces: at points marked on the template, and small round openings."""

from collections.abc import Sequence

from shapecut.layout.layout import Layout
from shapecut.papers.drilling import DrillHole, opening_holes, point_holes
from shapecut.papers.markup import section, table
from shapecut.papers.on_board import OnBoard, on_their_boards
from shapecut.papers.report_settings import ReportSettings
from shapecut.shape.setting_out import SetPoint
from shapecut.stock.cutplan import CutPlan

__all__ = ["drilling_section"]

CAPTION = (
    "Holes in pieces as they lie on their boards: along from the reference end, up from the lower "
    "edge, as on the cut cards, where relief holes are too"
)


def drilling_section(
    layout: Layout, plan: CutPlan, points: Sequence[SetPoint], settings: ReportSettings
) -> str:
    """Write the table of holes; empty where there are none."""
    rows = [
        _row(hole, lying, settings)
        for lying in on_their_boards(layout, plan)
        for hole in (
            *point_holes(lying, points, settings.point_mm),
            *opening_holes(lying.piece.region),
        )
    ]
    if not rows:
        return ""
    header = ("hole", "piece", "along", "up", "diameter")
    return section("drilling", "Drilling", table(CAPTION, header, rows))


def _row(hole: DrillHole, lying: OnBoard, settings: ReportSettings) -> tuple[str, ...]:
    lengths = settings.lengths
    return (hole.name, lying.piece.label, *map(lengths, hole.at), lengths(hole.diameter_mm))
