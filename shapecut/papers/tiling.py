"""Which part of a drawing goes on which page at full scale, on as few pages as may be.

Glossary:
    needed: the strokes that must be on paper.
    cell: the rectangle of the drawing that one page answers for; cells meet without overlap.
    band: a row of cells of one height; in each, cells lie only where something needed is.
    window: the part of the drawing shown on a page, the cell and half the overlap round it.
    joint: where two cells meet along a side.  Each has a number of its own and two register marks,
        `7a` and `7b`, which both pages show, so that no other page nor other way round fits.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.papers.drawing import Drawing
from shapecut.papers.paper import PageSize, Sheet
from shapecut.papers.printer import Printer
from shapecut.papers.spans import Box, cells_over, segments_of
from shapecut.shape.curves import Line
from shapecut.shape.placement import Placement, Point

__all__ = ["Joint", "Tile", "TileMargins", "Tiling", "tile_drawing"]

STARTS = 10
"""Heights at which the lowest band is tried to begin, evenly over one band."""

TURNS = 3
"""The drawing is turned to lie along so many of its longest straight lines, besides as it is."""

SHORTEST_JOINT_MM = 30.0
"""Cells that meet along less than this are not joined to one another there."""

MARK_INSET_MM = 12.0
"""How far a register mark lies from the end of its joint, where there is room."""

CLEAR_MM = 2.0
"""Needed strokes lie at least this far inside a window's border, also where nothing joins."""

SAME_MM = 1e-6


@dataclass(frozen=True)
class TileMargins:
    """Paper round the window, mm: room for check bars and lines of text, and for the printer.

    Attributes:
        left: Holds the upright check bar.
        bottom: Holds the level check bar and the page's name.
        right: Kept free.
        top: Kept free.
        overlap: Width of drawing that neighbouring pages both show.
    """

    left: float = 18.0
    bottom: float = 22.0
    right: float = 9.0
    top: float = 9.0
    overlap: float = 14.0

    @property
    def beside(self) -> Sheet:
        """Width and height that a page has more than its window."""
        return Sheet(self.left + self.right, self.bottom + self.top)

    def window_of(self, sheet: Sheet) -> Sheet:
        """Width and height of the window of a page."""
        return Sheet(sheet.width_mm - self.beside.width_mm, sheet.height_mm - self.beside.height_mm)

    def cell_of(self, sheet: Sheet) -> Sheet:
        """Width and height of the cell of a page."""
        window = self.window_of(sheet)
        return Sheet(window.width_mm - self.overlap, window.height_mm - self.overlap)


@dataclass(frozen=True)
class Joint:
    """Two tiles that meet, by their places in the tiling, and the line along which they do."""

    number: int
    first: int
    second: int
    line: Line

    @property
    def marks(self) -> tuple[tuple[str, Point], ...]:
        """The names and places of both register marks."""
        inset = min(MARK_INSET_MM / self.line.length, 0.25)
        return (
            (f"{self.number}a", self.line.at(inset)),
            (f"{self.number}b", self.line.at(1 - inset)),
        )


@dataclass(frozen=True)
class Tile:
    """One page's cell, in the turned drawing."""

    cell: Box


@dataclass(frozen=True)
class Tiling:
    """Pages over a drawing.

    Attributes:
        sheet: The paper as it lies.
        usable: As much of it as true millimetres cover (see `printer.Printer`).
        margins: Round the window.
        turned: Placement of the drawing's plane in the frame of the tiles.
        tiles: From the top left, band by band.
        joints: Where they meet.
    """

    sheet: Sheet
    usable: Sheet
    margins: TileMargins
    turned: Placement
    tiles: tuple[Tile, ...]
    joints: tuple[Joint, ...]

    def window(self, tile: Tile) -> Box:
        """The part of the turned drawing that the tile's page shows."""
        return tile.cell.grown(self.margins.overlap / 2)

    @property
    def parts(self) -> int:
        """How many groups of pages there are that no joint connects."""
        leads_to = list(range(len(self.tiles)))

        def head(tile: int) -> int:
            while leads_to[tile] != tile:
                leads_to[tile] = tile = leads_to[leads_to[tile]]
            return tile

        parts = len(self.tiles)
        for joint in self.joints:
            first, second = head(joint.first), head(joint.second)
            parts -= first != second
            leads_to[first] = second
        return parts


def tile_drawing(
    drawing: Drawing,
    page: PageSize,
    margins: TileMargins | None = None,
    *,
    printer: Printer | None = None,
) -> Tiling:
    """Lay pages over a drawing.

    Turns of the drawing, both ways of the sheet and heights of the bands are tried; in each band
    cells are laid from the left, each beginning where the last left off or where the next stroke
    begins, which is the least number that covers a line.  Of the ways that keep most pages joined,
    the one with the fewest pages is taken, then the one with the least paper.

    Args:
        drawing: What must be on paper, all of it.
        page: The paper.
        margins: Round each page's window.
        printer: What it makes of 100 mm.
    """
    margins, printer = margins or TileMargins(), printer or Printer()
    segments = segments_of(drawing.strokes)
    ways = [
        (len(cells) * sheet.area_mm2, way, len(cells), sheet, turn_rad, cells)
        for way, (sheet, turn_rad, cells) in enumerate(
            _ways(segments, _turns(drawing), page, margins, printer)
        )
    ]
    ways.sort(key=lambda way: (way[2], way[0], way[1]))
    best: Tiling | None = None
    for *_, sheet, turn_rad, cells in ways:
        tiles = tuple(map(Tile, sorted(cells, key=lambda cell: (-cell.y1, cell.x0))))
        tiling = Tiling(
            sheet,
            printer.usable(sheet),
            margins,
            Placement(turn_rad=turn_rad),
            tiles,
            tuple(_joints(tiles)),
        )
        if best is None or tiling.parts < best.parts:
            best = tiling
        if best.parts == 1:
            break
    assert best is not None, "every page has at least one way"
    return best


def _turns(drawing: Drawing) -> list[float]:
    """Turns that lay the drawing as it is, and its longest straight lines level or upright."""
    lengths: dict[float, float] = {}
    for curve in (curve for stroke in drawing.strokes for curve in stroke.curves):
        if isinstance(curve, Line):
            u, v = curve.direction()
            turn = round(-math.atan2(v, u) % (math.pi / 2), 6) % round(math.pi / 2, 6)
            lengths[turn] = lengths.get(turn, 0.0) + curve.length
    longest = sorted(lengths, key=lambda turn: -lengths[turn])[:TURNS]
    level = dict.fromkeys([0.0, *longest])
    return [turn + quarter for quarter in (0.0, math.pi / 2) for turn in level]


def _ways(
    segments: NDArray[np.float64],
    turns: Sequence[float],
    page: PageSize,
    margins: TileMargins,
    printer: Printer,
) -> Iterator[tuple[Sheet, float, list[Box]]]:
    """Ways of covering the strokes: a sheet, the drawing's turn and the cells."""
    for turn_rad in turns:
        turned = Placement(turn_rad=turn_rad).points_to_plane(segments.reshape(-1, 2))
        x, y = np.ptp(turned, axis=0) + margins.overlap + 2 * CLEAR_MM
        sheets = page.sheets(x + margins.beside.width_mm, y + margins.beside.height_mm)
        for sheet in sheets:
            cell = margins.cell_of(printer.usable(sheet))
            low, high = turned[:, 1].min() - CLEAR_MM, turned[:, 1].max() + CLEAR_MM
            spare = math.ceil((high - low) / cell.height_mm - SAME_MM) * cell.height_mm - high + low
            starts = {spare / 2, *(spare * k / STARTS for k in range(STARTS + 1))}
            for start in sorted(starts):
                yield (
                    sheet,
                    turn_rad,
                    cells_over(
                        turned.reshape(-1, 2, 2),
                        cell.width_mm,
                        cell.height_mm,
                        lowest=low - start,
                        clear_mm=CLEAR_MM,
                    ),
                )


def _joints(tiles: Sequence[Tile]) -> Iterator[Joint]:
    """Yield where cells meet, each pair once."""
    cells = np.array([(t.cell.x0, t.cell.y0, t.cell.x1, t.cell.y1) for t in tiles])
    number = 0
    for first, cell in enumerate(cells):
        later = cells[first + 1 :]
        left, low = np.maximum(cell[:2], later[:, :2]).T
        right, high = np.minimum(cell[2:], later[:, 2:]).T
        wide, tall = right - left, high - low
        beside = (np.abs(wide) <= SAME_MM) & (tall >= SHORTEST_JOINT_MM)
        stacked = (np.abs(tall) <= SAME_MM) & (wide >= SHORTEST_JOINT_MM)
        for k in np.flatnonzero(beside | stacked):
            start = (float(left[k]), float(low[k]))
            end = (start[0], float(high[k])) if beside[k] else (float(right[k]), start[1])
            number += 1
            yield Joint(number, first, first + 1 + int(k), Line(start, end))
