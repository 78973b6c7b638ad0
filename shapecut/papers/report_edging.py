"""The report's part on the boards' edges: border corners, lines to trim along, stops."""

import math
from collections.abc import Sequence
from html import escape

from shapecut.layout.edging import Edging
from shapecut.layout.left_long import FrameMark, Trim
from shapecut.papers.markup import Lengths, section, table

__all__ = ["edging_section"]

AT_CORNER_MM = 0.05
"""A mark this near to its corner is the corner."""


def edging_section(edging: Edging, lengths: Lengths) -> str:
    """Write what is done at the edges; empty if nothing is."""
    parts = [
        *([_corners(edging)] if edging.corners else []),
        *(_trim(trim, lengths) for trim in edging.trims),
        *([_stops(edging, lengths)] if edging.stops else []),
    ]
    return section("edging", "Borders, trims and stops", *parts) if parts else ""


def _corners(edging: Edging) -> str:
    rows = [
        (
            "/".join(corner.edges),
            f"{180 - math.degrees(corner.turn_rad):.1f}°",
            f"butted, {corner.through} runs through"
            if corner.through
            else f"mitred, each {math.degrees(corner.mitre_rad):.1f}° off square",
        )
        for corner in edging.corners
    ]
    return table("Corners of the border", ("corner", "angle inside", "boards"), rows)


def _trim(trim: Trim, lengths: Lengths) -> str:
    rows = [(piece.label, lengths(piece.rough_mm), lengths(piece.left_mm)) for piece in trim.pieces]
    caption = f"Boards left {lengths(trim.by_mm)} long at {trim.edge}"
    return (
        f"<p>Along {escape(trim.edge)}: mark the frame at {escape(_written(trim.marks, lengths))}; "
        f"snap one line from mark to mark over the boards and trim them along it.</p>\n"
        f"{table(caption, ('piece', 'cut to', 'left by the trim'), rows)}"
    )


def _written(marks: Sequence[FrameMark], lengths: Lengths) -> str:
    return " and at ".join(_mark(mark, lengths) for mark in marks)


def _mark(mark: FrameMark, lengths: Lengths) -> str:
    """Where a mark is, from its corner."""
    along, out = mark.along_mm, mark.outwards_mm
    parts = []
    if abs(along) > AT_CORNER_MM:
        beyond = "" if along > 0 else " beyond it"
        parts.append(f"{lengths(abs(along))} along the edge{beyond}")
    if abs(out) > AT_CORNER_MM:
        parts.append(f"{lengths(abs(out))} {'outwards' if out > 0 else 'inwards'}")
    return f"corner {mark.corner}" + (f", {' and '.join(parts)}" if parts else "")


def _stops(edging: Edging, lengths: Lengths) -> str:
    rows = [
        (stop.edge, _written(stop.marks, lengths), ", ".join(map(str, stop.rows)))
        for stop in edging.stops
    ]
    caption = "Stops: a batten along the line, against which these rows are pushed"
    return table(caption, ("along", "line from", "rows"), rows)
