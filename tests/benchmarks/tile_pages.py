"""Pages at full scale over 30 random floors, against a plain grid of the same sheets.

The plain grid lies upright from the drawing's lower left corner; its empty pages are left out too.

    python -m tests.benchmarks.tile_pages
"""

from collections.abc import Sequence

import numpy as np

from shapecut.papers.drawing import Drawing, Layer
from shapecut.papers.layout_drawing import drawing_of_layout
from shapecut.papers.paper import Paper, Sheet, page_size_from_text, sheet_of
from shapecut.papers.spans import Box, segments_of
from shapecut.papers.tile_kind import TileKind
from shapecut.papers.tile_settings import TileSettings
from shapecut.papers.tiles import tile_set
from shapecut.papers.tiling import TileMargins
from tests.random_floors import random_floor

FLOORS = 30


def pages_of(seed: int, paper: Paper) -> tuple[int, int, int]:
    """Pages of the plain grid, of the plan, and of the pieces only where they are cut."""
    floor = random_floor(seed)
    needed = drawing_of_layout(floor, "").on(Layer.CUT, Layer.BOARD_EDGE)
    settings = TileSettings(page_size_from_text(paper.value))
    sets = (
        tile_set(kind, floor, title="", settings=settings)
        for kind in (TileKind.PLAN, TileKind.CUTS)
    )
    plan, cuts = (len(pages.pages) if pages else 0 for pages in sets)
    return plain_grid(needed, sheet_of(paper)), plan, cuts


def plain_grid(drawing: Drawing, sheet: Sheet) -> int:
    """Pages of an upright grid from the drawing's lower left corner, empty ones left out."""
    cell = TileMargins().cell_of(sheet)
    width, height = cell.width_mm, cell.height_mm
    segments = segments_of(drawing.strokes)
    x0, y0 = segments.reshape(-1, 2).min(axis=0)
    x1, y1 = segments.reshape(-1, 2).max(axis=0)
    grid = (
        Box(x, y, x + width, y + height)
        for y in np.arange(y0, y1, height)
        for x in np.arange(x0, x1, width)
    )
    return sum(bool(box.hits(segments).any()) for box in grid)


def report(paper: Paper, counts: Sequence[tuple[int, int, int]]) -> str:
    """One line of the table."""
    plain, plan, cuts = map(sum, zip(*counts, strict=True))
    more = sum(one[1] > one[0] for one in counts)
    return (
        f"{paper.value:8} {plain:6} {plan:6} ({1 - plan / plain:5.1%} less, more on {more} floors) "
        f"{cuts:6} ({1 - cuts / plain:5.1%} less)"
    )


def main() -> None:
    """Print the table."""
    print(f"pages for {FLOORS} floors: plain grid, the plan, only where pieces are cut")
    for paper in Paper:
        print(report(paper, [pages_of(seed, paper) for seed in range(FLOORS)]))


if __name__ == "__main__":
    main()
