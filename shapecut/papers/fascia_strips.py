"""The boards of a fascia as they are drilled: screw holes, and the points along their edge."""

import math
from collections.abc import Iterator, Sequence

from shapecut.layout.fascia import Fascia, FasciaPart
from shapecut.layout.point_rows import PointRow
from shapecut.papers.drilling import DrilledStrip, DrillHole, StripMark

__all__ = ["fascia_strips"]


def fascia_strips(
    fascia: Fascia, rows: Sequence[PointRow], screw_mm: float
) -> Iterator[DrilledStrip]:
    """The parts of a fascia that have holes or points.

    Args:
        fascia: Its parts.
        rows: Of points, those along edges of the fascia among them.
        screw_mm: Diameter of the screws' holes.
    """
    for part in fascia.parts:
        holes = tuple(
            DrillHole(mark.name, (mark.along_mm, mark.up_mm), screw_mm) for mark in part.marks
        )
        marks = tuple(_points_on(part, fascia.rules.thickness_mm, rows))
        if holes or marks:
            yield DrilledStrip(part.label, part.face_mm, fascia.rules.width_mm, holes, marks)


def _points_on(
    part: FasciaPart, thickness_mm: float, rows: Sequence[PointRow]
) -> Iterator[StripMark]:
    """The points of its edge that lie on a part, from the left end of its face.

    A mitre takes the face past the back by the thickness times its tangent.
    """
    past = thickness_mm * math.tan(part.mitres_rad[0])
    for row in rows:
        if row.rules.edge != part.edge:
            continue
        for point in row.points:
            along = point.along_mm - part.from_mm + past
            if 0.0 <= along <= part.face_mm:
                yield StripMark(point.name, along, row.rules.size_mm)
