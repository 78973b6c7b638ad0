"""Marks that a person drew on the template, on drawings and in the report."""

import math
from collections.abc import Iterator
from dataclasses import replace

from shapecut.papers.drawing import Drawing, Layer, Stroke, Text, printable
from shapecut.papers.length_uncertainty import COVERAGE
from shapecut.papers.markup import Lengths, section, table
from shapecut.shape.curves import Line
from shapecut.shape.placement import Point
from shapecut.shape.setting_out import SettingOut

__all__ = ["setting_out_section", "with_setting_out"]

CROSS_MM = 10.0
"""Half the length of a drawn cross's strokes."""
BARB_MM, BARB_RAD = 20.0, math.radians(25.0)
"""Length of a drawn arrow's barbs, and their angle to the shaft."""


def with_setting_out(drawing: Drawing, marks: SettingOut, *, name_mm: float) -> Drawing:
    """The drawing with the marks on a layer of their own, in the same plane."""
    return replace(drawing, items=(*drawing.items, *_items(marks, name_mm)))


def setting_out_section(marks: SettingOut, corner: Point, lengths: Lengths) -> str:
    """The report's table of marks, places from the corner; empty where there are none."""

    def at(point: Point) -> str:
        return ", ".join(lengths(value - zero) for value, zero in zip(point, corner, strict=True))

    rows = [(p.name, "point", at(p.at), "", _within(p.u_mm, lengths)) for p in marks.points]
    rows += [
        (s.name, "line", at(s.start), at(s.end), _within(s.u_mm, lengths)) for s in marks.lines
    ]
    rows += [
        (a.name, "arrow", at(a.start), at(a.tip), _within(a.u_mm, lengths)) for a in marks.arrows
    ]
    if not rows:
        return ""
    caption = "Right of the outline's left end and up from its lower side"
    header = ("mark", "kind", "at, or from", "to", "lies within, 95 %")
    return section("setting-out", "Marked on the template", table(caption, header, rows))


def _within(u_mm: float, lengths: Lengths) -> str:
    return lengths.within(COVERAGE * u_mm, 2)


def _items(marks: SettingOut, name_mm: float) -> Iterator[Stroke | Text]:
    for point in marks.points:
        x, y = point.at
        yield _stroke((x - CROSS_MM, y), (x + CROSS_MM, y))
        yield _stroke((x, y - CROSS_MM), (x, y + CROSS_MM))
        yield _name(point.name, point.at, name_mm)
    for line in marks.lines:
        yield _stroke(line.start, line.end)
        yield _name(line.name, line.end, name_mm)
    for arrow in marks.arrows:
        back = math.atan2(arrow.start[1] - arrow.tip[1], arrow.start[0] - arrow.tip[0])
        yield _stroke(arrow.start, arrow.tip)
        for turn in (back - BARB_RAD, back + BARB_RAD):
            yield _stroke(arrow.tip, _moved(arrow.tip, BARB_MM, turn))
        yield _name(arrow.name, arrow.start, name_mm)


def _stroke(start: Point, end: Point) -> Stroke:
    return Stroke((Line(start, end),), Layer.SETTING_OUT)


def _name(name: str, beside: Point, height_mm: float) -> Text:
    """A name up and to the right of a place."""
    at = _moved(beside, 1.8 * height_mm, math.radians(45.0))
    return Text(printable(name), at, height_mm, Layer.SETTING_OUT)


def _moved(point: Point, distance: float, turn_rad: float) -> Point:
    return (
        point[0] + distance * math.cos(turn_rad), point[1] + distance * math.sin(turn_rad)
    )  # fmt: skip
