"""Boards left long at an edge and trimmed in place, and stops for flush row ends.

Glossary:
    left long: cut longer than the field by a stated amount, at an edge that is trimmed later.
    trim line: the field's side along that edge, snapped from mark to mark; the cut follows it.
    mark: an end of the line, given from a named corner of the outline along and across the edge.
    stop: a batten square to the boards against which all row ends of one edge are pushed.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from shapecut.errors import LayoutError
from shapecut.layout.field_sides import FieldSide, Neighbour, arc_along, main_sides
from shapecut.layout.layout import Layout, Piece
from shapecut.shape.clip import clip
from shapecut.shape.curves import Arc, Line
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Edge, Outline
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Region, Side
from shapecut.shape.zones import joined_with

__all__ = ["FrameMark", "RowStop", "Trim", "TrimmedPiece", "grown", "row_stops", "trims"]

SQUARE_RAD = math.radians(0.2)
"""An edge this near to square to the boards can have a stop."""

SLIGHTEST_RAD = math.radians(30.0)
"""Corners that turn less than this, or come back as near to themselves, have boards left long
square up from the corner."""

OVERLAP_MM2 = 1.0
"""Boards left long that overlap others by more than this run into them."""

SLIVER_MM = 0.01
"""A gap of less than this between boards and a neighbouring edge is none."""

FLUSH_MM = 0.05
"""A row end this near to a stop's line is flush with it."""


@dataclass(frozen=True)
class FrameMark:
    """A point to mark on the frame.

    Attributes:
        place: In the plane.
        corner: The outline's corner that it is measured from, such as E2/E3.
        along_mm: From that corner along the edge, towards its other end.
        outwards_mm: From the edge, square to it, away from the place.
    """

    place: Point
    corner: str
    along_mm: float
    outwards_mm: float


@dataclass(frozen=True)
class TrimmedPiece:
    """A piece that is left long: the length it is cut to, and what the trim leaves of it."""

    label: str
    rough_mm: float
    left_mm: float


@dataclass(frozen=True)
class Trim:
    """One line to snap and trim along.

    Attributes:
        edge: That it follows.
        by_mm: How far the boards are left long.
        marks: At its two ends, in the edge's own sense.
        pieces: That it trims.
    """

    edge: str
    by_mm: float
    marks: tuple[FrameMark, FrameMark]
    pieces: tuple[TrimmedPiece, ...]


@dataclass(frozen=True)
class RowStop:
    """A stop for flush row ends.

    Attributes:
        edge: Along which it lies.
        marks: Its two ends.
        rows: Numbers of the rows that end at it.
    """

    edge: str
    marks: tuple[FrameMark, FrameMark]
    rows: tuple[int, ...]


def grown(field: Region, amounts: Mapping[str, float]) -> Region:
    """The field with some edges moved outwards, for boards that are left long there.

    Args:
        field: With its allowances, in the plane.
        amounts: By edge, mm.

    Raises:
        LayoutError: If an edge does not exist or is an arc, or boards left long run into others.
    """
    sides = [side for loop in field.loops for side in loop]
    names = dict.fromkeys(side.source for side in sides if side.source)
    for edge in amounts:
        if edge not in names:
            raise LayoutError(
                f'Boards are to be left long at "{edge}", but the place has no such edge: it has '
                f"{', '.join(names)}."
            )
        if arc_along(field, edge):
            raise LayoutError(
                f"Boards cannot be left long at {edge}: it is an arc, and they are trimmed along "
                f"one snapped line; cut them to it, or leave it out of left_long."
            )
    # All straight edges are asked for, so that steps of unequal allowances count as nothing.
    straight = [edge for edge in names if not arc_along(field, edge)]
    chosen = [side for side in main_sides(field, straight) if side.edge in amounts]
    zones = [_beyond(side, amounts) for side in chosen]
    found = joined_with(field, zones)
    gained = found[0].area - field.area if found else 0.0
    if len(found) != 1 or sum(zone.area for zone in zones) - gained > OVERLAP_MM2:
        raise LayoutError(
            f"Boards left long at {', '.join(amounts)} run into each other or into other boards: "
            f"leave them less long."
        )
    return found[0]


def _beyond(side: FieldSide, amounts: Mapping[str, float]) -> Region:
    """What boards that are left long take beyond a side, between its neighbours' carriers."""
    by = amounts[side.edge]
    start, end = _foot(side, side.before, 0.0), _foot(side, side.after, side.line.length)
    first = start - _reach(side.before, by, amounts)
    last = end + _reach(side.after, by, amounts)
    corners = ((first, -by), (last, -by), (end, 0.0), (start, 0.0))
    names = (side.edge, side.after.side.source, None, side.before.side.source)
    placed = [side.frame.to_plane(corner) for corner in corners]
    return Region(
        tuple(
            Side(Line(start, end), name)
            for start, end, name in zip(placed, [*placed[1:], placed[0]], names, strict=True)
        )
    )


def _foot(side: FieldSide, neighbour: Neighbour, along_mm: float) -> float:
    """Where along a side its boards begin or end to be left long: at an inside corner.

    There a side may go on past its neighbour by a step, which the place has beside it.
    """
    if neighbour.turn_rad < 0 and not _is_slight(neighbour.turn_rad):
        return side.frame.to_local(neighbour.corner)[0]
    return along_mm


def _is_slight(turn_rad: float) -> bool:
    """Whether a corner turns next to nothing, or comes back next to where it came from."""
    return not SLIGHTEST_RAD < abs(turn_rad) < math.pi - SLIGHTEST_RAD


def _reach(neighbour: Neighbour, by_mm: float, amounts: Mapping[str, float]) -> float:
    """How far beyond a corner, outwards along the side, boards left long reach at their far end.

    To where the lines meet that both sides are moved to; square up from the corner where the turn
    is too slight or too sharp for that, and beside arcs.
    """
    turn = neighbour.turn_rad
    if _is_slight(turn) or isinstance(neighbour.side.curve, Arc):
        return 0.0
    if turn < 0:
        # An inside corner: its other side may lean over the boards that are left long; if it leans
        # away by next to nothing they follow it too, so that no sliver is left between.
        reach = -by_mm * math.cos(turn) / math.sin(turn)
        return reach if reach < SLIVER_MM else 0.0
    other = amounts.get(neighbour.side.source or "", 0.0) if neighbour.is_chosen else 0.0
    return (other - by_mm * math.cos(turn)) / math.sin(turn)


def trims(
    layout: Layout, field: Region, outline: Outline, amounts: Mapping[str, float]
) -> tuple[Trim, ...]:
    """The lines to trim along, and what each leaves of its pieces.

    Args:
        layout: Its pieces are left long.
        field: That the boards are to cover in the end.
        outline: The frame, whose corners the marks are measured from.
        amounts: By edge, mm.
    """
    return tuple(
        Trim(edge, by, marks, tuple(_trimmed(layout.pieces, edge, line)))
        for edge, by in amounts.items()
        for line, marks in [_line_along(field, outline, edge)]
    )


def _trimmed(pieces: Sequence[Piece], edge: str, line: Line) -> Iterator[TrimmedPiece]:
    dx, dy = line.direction()
    kept = Placement(line.start, math.atan2(dy, dx))
    for piece in pieces:
        if any(side.source == edge for loop in piece.region.loops for side in loop):
            local = piece.placement.inverse().after(kept)
            boxes = [bounds(s.curve for s in p.outer) for p in clip(piece.region, local)]
            left = max((x1 for _, _, x1, _ in boxes), default=0.0)
            left -= min((x0 for x0, *_ in boxes), default=0.0)
            if piece.length_mm - left > FLUSH_MM:
                yield TrimmedPiece(piece.label, piece.length_mm, left)


def _line_along(
    field: Region, outline: Outline, edge: str
) -> tuple[Line, tuple[FrameMark, FrameMark]]:
    """The field's side along an edge from its first end to its last, and its marks."""
    lines = [_line(side) for loop in field.loops for side in loop if side.source == edge]
    curve = max((line for line in lines if line), key=lambda line: line.length)
    return curve, _marks(curve, outline, edge)


def _line(side: Side) -> Line | None:
    return side.curve if isinstance(side.curve, Line) else None


def _marks(line: Line, outline: Outline, name: str) -> tuple[FrameMark, FrameMark]:
    ring = next(ring for ring in outline.rings if any(e.name == name for e in ring.edges))
    place = next(n for n, e in enumerate(ring.edges) if e.name == name)
    edge, before = ring.edges[place], ring.edges[place - 1]
    after = ring.edges[(place + 1) % len(ring.edges)]
    first = _mark(line.start, edge, f"{before.name}/{name}", at_end=False)
    last = _mark(line.end, edge, f"{name}/{after.name}", at_end=True)
    return first, last


def _mark(place: Point, edge: Edge, corner: str, *, at_end: bool) -> FrameMark:
    curve = edge.curve
    dx, dy = curve.direction()
    x, y = Placement(curve.start, math.atan2(dy, dx)).to_local(place)
    along = math.dist(curve.start, curve.end) - x if at_end else x
    return FrameMark(place, corner, along, -y)


def row_stops(layout: Layout, field: Region, outline: Outline) -> tuple[RowStop, ...]:
    """Stops for the edges square to the boards at which two rows or more end flush.

    Args:
        layout: Rows and pieces.
        field: That they cover; a side that boards are left long at has no row ends.
        outline: Whose corners the stops' ends are measured from.
    """
    edges = {edge.name: edge.curve for edge in outline.edges}
    stops = []
    for name in dict.fromkeys(side.source for side in field.outer if side.source):
        curve = edges.get(name)
        if not isinstance(curve, Line):
            continue
        dx, dy = curve.direction()
        off = abs(math.cos(math.atan2(dy, dx) - layout.frame.turn_rad))
        if off > math.sin(SQUARE_RAD):
            continue
        line, marks = _line_along(field, outline, name)
        rows = tuple(dict.fromkeys(_flush_rows(layout.pieces, name, line)))
        if len(rows) > 1:
            stops.append(RowStop(name, marks, rows))
    return tuple(stops)


def _flush_rows(pieces: Sequence[Piece], edge: str, line: Line) -> Iterator[int]:
    """Rows with an end along an edge's line."""
    dx, dy = line.direction()
    frame = Placement(line.start, math.atan2(dy, dx))
    for piece in pieces:
        for side in piece.region.outer if piece.row else ():
            if side.source != edge:
                continue
            ends = [piece.placement.to_plane(p) for p in (side.curve.start, side.curve.end)]
            if all(abs(frame.to_local(end)[1]) < FLUSH_MM for end in ends):
                yield piece.row
