"""All there is to drill and to mark, as CSV (see `csv_text`)."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapecut.layout.fasteners import Fixing
from shapecut.layout.layout import Layout
from shapecut.papers.csv_text import csv_bytes, rounded_mm
from shapecut.papers.drilling import drill_holes
from shapecut.papers.on_board import OnBoard, on_their_boards
from shapecut.shape.placement import Point
from shapecut.shape.setting_out import SetPoint
from shapecut.stock.cutplan import CutPlan
from shapecut.stock.materials import Fittings
from shapecut.units import format_inches

__all__ = ["drill_marks_csv"]

_HEADER = (
    "mark", "on", "measured from", "along mm", "along in", "up mm", "up in", "diameter mm", "x mm",
    "y mm",
)  # fmt: skip


@dataclass(frozen=True)
class _Mark:
    name: str
    on: str
    measured_from: str
    along_mm: float
    up_mm: float | None = None
    diameter_mm: float | None = None
    place: Point | None = None


def drill_marks_csv(
    layout: Layout,
    plan: CutPlan,
    fittings: Fittings,
    *,
    points: Sequence[SetPoint] = (),
    point_mm: float,
    denominator: int = 16,
) -> bytes | None:
    """Write one line for each mark: on pieces, on the fascia, then evenly spaced points.

    On pieces, along is measured from the reference end and up from the board's lower edge, as on
    cut cards; on others from the left end as seen from outside, and up from their lower edge.

    Args:
        layout: The pieces.
        plan: How they lie on their boards.
        fittings: Fasteners, fascia and rows of points.
        points: Marked on the template, in the plane of the plan.
        point_mm: Diameter of the holes at those points.
        denominator: Inches are rounded to 1/denominator.

    Returns:
        The file; None where there is nothing to mark.
    """
    lying = list(on_their_boards(layout, plan))
    marks = [
        *(mark for one in lying for mark in _holes(one, points, point_mm)),
        *_screws({one.piece.label: one for one in lying}, fittings),
        *_fascia(fittings),
        *_rows(fittings),
    ]
    if not marks:
        return None
    lines = [
        (
            mark.name,
            mark.on,
            mark.measured_from,
            rounded_mm(mark.along_mm),
            format_inches(mark.along_mm, denominator),
            rounded_mm(mark.up_mm),
            None if mark.up_mm is None else format_inches(mark.up_mm, denominator),
            rounded_mm(mark.diameter_mm),
            *(rounded_mm(c) for c in mark.place or (None, None)),
        )
        for mark in marks
    ]
    return csv_bytes(_HEADER, lines)


def _holes(lying: OnBoard, points: Sequence[SetPoint], point_mm: float) -> Iterator[_Mark]:
    for hole in drill_holes(lying, points, point_mm=point_mm):
        yield _on_piece(hole.name, lying, hole.at, hole.diameter_mm)


def _screws(lying: dict[str, OnBoard], fittings: Fittings) -> Iterator[_Mark]:
    for one in fittings.fasteners.places if fittings.fasteners else ():
        if one.kind is Fixing.SCREW:
            for label in one.labels:
                yield _on_piece(one.kind.value, lying[label], lying[label].to_local(one.place))


def _on_piece(name: str, lying: OnBoard, at: Point, diameter_mm: float | None = None) -> _Mark:
    label, place = lying.piece.label, lying.to_plane(at)
    return _Mark(name, label, "reference end", *at, diameter_mm, place)


def _fascia(fittings: Fittings) -> Iterator[_Mark]:
    for part in fittings.fascia.parts if fittings.fascia else ():
        for mark in part.marks:
            yield _Mark(mark.name, part.label, "left end of its face", mark.along_mm, mark.up_mm)


def _rows(fittings: Fittings) -> Iterator[_Mark]:
    for row in fittings.rows:
        rules = row.rules
        for point in row.points:
            yield _Mark(
                point.name,
                rules.edge or rules.name,
                "left end",
                point.along_mm,
                diameter_mm=rules.size_mm or None,
                place=point.place,
            )
