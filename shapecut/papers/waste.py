"""Hatching on the waste side of cuts, which tells it from the side that is kept."""

from collections.abc import Iterable, Iterator

import numpy as np
import shapely

from shapecut.layout.layout import Layout, Piece
from shapecut.papers.drawing import Layer, Stroke
from shapecut.papers.saw_runs import saw_runs
from shapecut.shape.curves import Line
from shapecut.shape.polygons import GRID_MM, areas_of, region_polygon
from shapecut.shape.region import Region

__all__ = ["layout_hatching", "piece_hatching"]

BAND_MM = 12.0
"""Waste is hatched this far from a cut: the saw needs to see a side, ink need not cover a board."""

CLEAR_MM = 1.0
"""The hatching keeps this far off the cut's own line."""

STEP_MM = 3.5
"""Distance of the hatching's strokes along the board."""

FLATTENING_MM = 0.1


def layout_hatching(layout: Layout) -> Iterator[Stroke]:
    """Hatch beside every cut of a plan, in the plane, where no other piece of its row lies."""
    for piece in layout.pieces:
        inside = piece.placement.inverse()
        others = [
            other.region.placed(inside.after(other.placement))
            for other in layout.pieces
            if other.row == piece.row and other is not piece
        ]
        for stroke in piece_hatching(piece, layout.board.width_mm, others):
            yield Stroke(tuple(c.placed(piece.placement) for c in stroke.curves), Layer.WASTE)


def piece_hatching(
    piece: Piece, board_width_mm: float, others: Iterable[Region] = ()
) -> tuple[Stroke, ...]:
    """Hatch beside a piece's cuts, in its own frame.

    Args:
        piece: As laid.
        board_width_mm: Of its board.
        others: What is no waste either, in the piece's frame.
    """
    runs = [run for loop in piece.region.loops for run in saw_runs(loop, board_width_mm)]
    if not runs:
        return ()
    cuts = shapely.multilinestrings(
        [
            shapely.linestrings(np.vstack([curve.flattened(FLATTENING_MM) for curve in run.curves]))
            for run in runs
        ]
    )
    board = shapely.box(-BAND_MM, 0.0, piece.length_mm + BAND_MM, board_width_mm)
    kept = [
        region_polygon(region, tolerance_mm=FLATTENING_MM) for region in (piece.region, *others)
    ]
    beside = areas_of(shapely.intersection(board, cuts.buffer(BAND_MM), grid_size=GRID_MM))
    clear = shapely.union_all([cuts.buffer(CLEAR_MM), *kept], grid_size=GRID_MM)
    waste = areas_of(shapely.difference(beside, clear, grid_size=GRID_MM))
    return tuple(_hatched(waste, board_width_mm))


def _hatched(waste: shapely.Geometry, width_mm: float) -> Iterator[Stroke]:
    """Strokes at 45° over an area."""
    if waste.is_empty:
        return
    left, _, right, _ = waste.bounds
    starts = np.arange(np.floor((left - width_mm) / STEP_MM), right / STEP_MM) * STEP_MM
    rungs = np.stack([starts, 0 * starts, starts + width_mm, 0 * starts + width_mm], axis=1)
    ladder = shapely.multilinestrings(shapely.linestrings(rungs.reshape(-1, 2, 2)))
    parts = shapely.get_parts(waste.intersection(ladder))
    strokes = parts[(shapely.get_num_points(parts) == 2) & (shapely.length(parts) > CLEAR_MM)]
    for (x0, y0), (x1, y1) in shapely.get_coordinates(strokes).reshape(-1, 2, 2).tolist():
        yield Stroke((Line((x0, y0), (x1, y1)),), Layer.WASTE)
