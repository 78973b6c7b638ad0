"""Whether a fitted outline lies where the pictures were searched for it."""

import numpy as np

from shapecut.errors import TraceError
from shapecut.shape.outline import Outline
from shapecut.trace.raster import Raster
from shapecut.trace.samples import Pictures

__all__ = ["refuse_unseen_corners"]


def refuse_unseen_corners(
    outline: Outline, raster: Raster, pictures: Pictures, height_mm: float
) -> None:
    """Refuse an outline with a corner where nobody looked.

    Corners are where fitted lines and arcs meet, and those of edges that were hardly seen meet
    anywhere.

    Args:
        outline: Named, in the plane.
        raster: Where the template was looked for.
        pictures: All pictures of the job.
        height_mm: Height of the outline above the floor.

    Raises:
        TraceError: If a corner lies off the raster, or in no picture.
    """
    for ring in outline.rings:
        corners = np.array([edge.curve.start for edge in ring.edges])
        column_row = raster.cells_from_mm(corners)
        seen = np.zeros(len(corners), bool)
        for view in pictures.views:
            px = view.px_from_mm(np.column_stack([corners, np.full(len(corners), height_mm)]))
            seen |= np.all(
                (px >= 0) & (px <= np.array(pictures.photos[view.photo].size) - 1), axis=1
            )
        seen &= np.all((column_row >= 0) & (column_row <= np.array(raster.shape[::-1]) - 1), axis=1)
        if not seen.all():
            last = int(np.argmin(seen))
            raise TraceError(
                f"The template cannot be followed: {ring.edges[last - 1].name} and"
                f" {ring.edges[last].name} as fitted would meet where no photograph shows it; take"
                " sharper photographs, from nearer above, on a floor it contrasts with, and see"
                " that the cards are as large as stated."
            )
