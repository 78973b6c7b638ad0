"""Pieces on their boards as polygons, by shapely: what holds of every cutting plan."""

from collections.abc import Mapping

import shapely
from shapely.geometry import Polygon, box

from shapecut.shape.curves import Line
from shapecut.shape.placement import Placement, Point
from shapecut.shape.region import Region, Side
from shapecut.stock.cutplan import CutBoard, CutPlan
from shapecut.stock.ends import End
from shapecut.stock.turns import turned

FLATTENING_MM = 0.005


def region_of(length_mm: float, start: End, end: End, width_mm: float) -> Region:
    """A piece as wide as its board with given ends."""
    left = [(d, a) for d, a in start] or [(0.0, 0.0), (0.0, width_mm)]
    right = [(length_mm - d, a) for d, a in end] or [(length_mm, 0.0), (length_mm, width_mm)]
    return region_through([*right, *left[::-1]])


def region_through(corners: list[Point]) -> Region:
    """A region with straight sides, counter-clockwise."""
    pairs = zip(corners, [*corners[1:], corners[0]], strict=True)
    return Region(tuple(Side(Line(a, b)) for a, b in pairs if a != b))


def polygon_of(region: Region) -> Polygon:
    loops = [
        [tuple(p) for side in loop for p in side.curve.flattened(FLATTENING_MM)[:-1]]
        for loop in region.loops
    ]
    return Polygon(loops[0], loops[1:])


def board_polygon(board: CutBoard, width_mm: float) -> Polygon:
    offcut = board.stock.on_hand
    if offcut is None:
        return box(0.0, 0.0, board.stock.length_mm, width_mm)
    (low_0, low_1), (up_0, up_1) = offcut.lower_mm, offcut.upper_mm
    corners = [(low_0, 0.0), (low_1, 0.0), (up_1, width_mm), (up_0, width_mm)]
    return Polygon([(x - offcut.from_mm, y) for x, y in corners])


def pieces_on(
    board: CutBoard, regions: Mapping[str, Region], lengths: Mapping[str, float], width_mm: float
) -> dict[str, Polygon]:
    """Every piece of a board where the plan says that it lies, from the board's reference end."""
    found = {}
    for cut in board.cuts:
        lying = turned(
            regions[cut.label], cut.turn, length_mm=lengths[cut.label], width_mm=width_mm
        )
        found[cut.label] = polygon_of(lying.placed(Placement((cut.start_mm, cut.across_mm))))
    return found


def check_boards(
    plan: CutPlan,
    regions: Mapping[str, Region],
    lengths: Mapping[str, float],
    *,
    width_mm: float,
    tolerance_mm: float = 1e-3,
) -> None:
    """Pieces lie on their boards, off the stretches to avoid, and a kerf from one another."""
    labels = [cut.label for board in plan.boards for cut in board.cuts]
    assert sorted(labels) == sorted(regions)
    for board in plan.boards:
        pieces = pieces_on(board, regions, lengths, width_mm)
        whole = board_polygon(board, width_mm)
        for label, piece in pieces.items():
            assert piece.difference(whole.buffer(tolerance_mm)).area < 1e-6, label
        parts = list(pieces.items())
        for place, (label, piece) in enumerate(parts):
            for other, neighbour in parts[place + 1 :]:
                apart = shapely.distance(piece, neighbour)
                assert apart >= plan.kerf_mm - tolerance_mm, (label, other, apart)
        offcut = board.stock.on_hand
        for begin, end in offcut.avoid_mm if offcut else ():
            first = begin - offcut.from_mm if offcut else 0.0
            last = end - offcut.from_mm if offcut else 0.0
            avoided = box(first + tolerance_mm, 0.0, last - tolerance_mm, width_mm)
            assert all(not piece.intersects(avoided) for piece in pieces.values())
