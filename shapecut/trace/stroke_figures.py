"""Which figure the strokes of one connected patch draw: a straight line, a cross or an arrow.

The strokes are peeled off one after the other: the straight band, as wide as the pen, that holds
most of the patch (the Hough transform of its cells; R. Duda and P. Hart, "Use of the Hough
transformation to detect lines and curves in pictures", Comm. ACM 15, 1972), then the band that
holds most of the rest.  A patch is a figure only if so many strokes as the figure has explain
nearly all of it and lie as the figure's do; letters, logos and scribbles do not.
"""

import math
from dataclasses import dataclass
from enum import Enum

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.raster import Mask

__all__ = ["Figure", "Kind", "figure_of"]

Array = NDArray[np.float64]

_ANGLES = np.arange(0, math.pi, math.pi / 180)
"""Directions in which strokes are looked for, rad."""
_BAND = 0.75
"""Half width of a stroke's band in widths of the pen: half of it is the stroke, the rest a hand."""
_GAP = 2.5
"""Gaps along a stroke up to this many pen widths belong to it; where another crosses is one."""
_EXPLAINED = 0.96
"""Share of a patch that the strokes of its figure must explain."""
_SLENDER = 5.0
"""Least length of a line, a cross's stroke or an arrow's shaft in pen widths."""
_LINE_MM, _CROSS_MM, _ARROW_MM = 40.0, (15.0, 150.0), 40.0
"""Least length of a line; least and greatest of a cross's strokes; least of an arrow's shaft."""
_ALIKE = 2.0
"""Greatest ratio of the lengths of a cross's strokes, and of an arrow's barbs."""
_SQUARE_RAD = math.radians(35.0)
"""How far from square a cross's strokes may stand."""
_MIDDLE = 0.25
"""How near to an end of a cross's stroke, as a share of its length, the other may cross it."""
_BARB = (0.08, 0.7)
"""Length of an arrow's barbs as a share of its shaft."""
_BARB_RAD = (math.radians(15.0), math.radians(70.0))
"""Angle between a barb and the shaft."""

_AT_TIP = 3.5
"""How far from the tip, in pen widths, a barb may come out from under the shaft."""


class Kind(Enum):
    """What a patch of strokes draws."""

    LINE = "line"
    CROSS = "cross"
    ARROW = "arrow"


@dataclass(frozen=True)
class Figure:
    """A figure and its strokes in the raster's cells.

    Attributes:
        kind: Which figure.
        strokes: (1 or 2, 2, 2) ends (x, y) of the line, of the cross's two strokes, or of the
            arrow's shaft from tail to tip.
        width: Of the pen.
    """

    kind: Kind
    strokes: Array
    width: float


def figure_of(patch: Mask, cell_mm: float) -> Figure | None:
    """The figure that a connected patch of cells draws, or None."""
    depth = cv2.distanceTransform(np.pad(patch, 1).astype(np.uint8), cv2.DIST_L2, 5)
    # Across a stroke the distance from its sides rises to half its width and falls again.
    width = 4 * float(depth[1:-1, 1:-1][patch].mean())
    rows, columns = np.nonzero(patch)
    cells = np.column_stack([columns, rows]).astype(float)
    strokes, rest = [], np.ones(len(cells), bool)
    for _ in range(3):
        stroke, held = _longest_stroke(cells[rest], width)
        strokes.append(stroke)
        rest[np.flatnonzero(rest)[held]] = False
        share_left = float(rest.mean())
        figure = _figure(np.array(strokes), width, cell_mm) if share_left < 1 - _EXPLAINED else None
        if figure or share_left == 0:
            return figure
    return None


def _longest_stroke(cells: Array, width: float) -> tuple[Array, NDArray[np.bool_]]:
    """Ends (2, 2) of the band that holds most cells (N, 2), and which cells it holds."""
    band = _BAND * width
    normals = np.column_stack([-np.sin(_ANGLES), np.cos(_ANGLES)])
    across = cells @ normals.T
    bins = np.floor((across - across.min(axis=0)) / band).astype(int)
    counts = np.stack([np.bincount(b, minlength=bins.max() + 2) for b in bins.T])
    pairs = counts[:, :-1] + counts[:, 1:]
    angle, first = np.unravel_index(int(np.argmax(pairs)), pairs.shape)
    normal = normals[angle]
    middle = across[:, angle].min() + (first + 1) * band
    held = _run(cells, normal, float(middle), band, width)
    for _ in range(2):
        offsets = cells[held] - cells[held].mean(axis=0)
        along = np.linalg.eigh(offsets.T @ offsets)[1][:, 1]
        normal = np.array([-along[1], along[0]])
        held = _run(cells, normal, float(cells[held].mean(axis=0) @ normal), band, width)
    along = np.array([normal[1], -normal[0]])
    reach = cells[held] @ along
    centre = cells[held].mean(axis=0)
    return centre + np.outer([reach.min(), reach.max()] - centre @ along, along), held


def _run(
    cells: Array, normal: Array, middle: float, band: float, width: float
) -> NDArray[np.bool_]:
    """Cells within a band, in its longest stretch without a gap."""
    inside = np.abs(cells @ normal - middle) <= band
    along = cells @ np.array([normal[1], -normal[0]])
    order = np.flatnonzero(inside)[np.argsort(along[inside])]
    breaks = np.flatnonzero(np.diff(along[order]) > _GAP * width) + 1
    longest = max(np.split(order, breaks), key=len)
    held = np.zeros(len(cells), bool)
    held[longest] = True
    return held


def _figure(strokes: Array, width: float, cell_mm: float) -> Figure | None:
    lengths = np.hypot(*(strokes[:, 1] - strokes[:, 0]).T)
    if lengths[0] < _SLENDER * width:
        return None
    if len(strokes) == 1:
        return Figure(Kind.LINE, strokes, width) if lengths[0] * cell_mm >= _LINE_MM else None
    if len(strokes) == 2:
        return Figure(Kind.CROSS, strokes, width) if _crossed(strokes, width, cell_mm) else None
    shaft = _shaft(strokes, width)
    if shaft is None or lengths[0] * cell_mm < _ARROW_MM:
        return None
    return Figure(Kind.ARROW, shaft[None], width)


def _crossed(strokes: Array, width: float, cell_mm: float) -> bool:
    """Whether two strokes of like length cross each other near their middles, nearly square."""
    ways = strokes[:, 1] - strokes[:, 0]
    lengths = np.hypot(*ways.T)
    least, greatest = _CROSS_MM
    if lengths.max() > _ALIKE * lengths.min() or lengths.min() < _SLENDER * width:
        return False
    if lengths.min() * cell_mm < least or lengths.max() * cell_mm > greatest:
        return False
    angle = _angle(ways[0], ways[1])
    if abs(min(angle, math.pi - angle) - math.pi / 2) > _SQUARE_RAD:
        return False
    shares = np.linalg.solve(np.column_stack([ways[0], -ways[1]]), strokes[1, 0] - strokes[0, 0])
    return bool(np.all((shares > _MIDDLE) & (shares < 1 - _MIDDLE)))


def _shaft(strokes: Array, width: float) -> Array | None:
    """The first stroke from tail to tip, (2, 2), if the two others are barbs at its tip."""
    shaft, *barbs = strokes
    near = [max(min(math.dist(end, tip) for end in barb) for barb in barbs) for tip in shaft]
    tip = int(np.argmin(near))
    if near[tip] > _AT_TIP * width:
        return None
    back = shaft[1 - tip] - shaft[tip]
    long = float(np.hypot(*back))
    sides, spans = [], []
    for barb in barbs:
        outer = max(barb, key=lambda end: math.dist(end, shaft[tip]))
        way = outer - shaft[tip]
        spans.append(float(np.hypot(*way)))
        if not _BARB[0] * long < spans[-1] < _BARB[1] * long:
            return None
        if not _BARB_RAD[0] < _angle(back, way) < _BARB_RAD[1]:
            return None
        sides.append(np.sign(back[0] * way[1] - back[1] * way[0]))
    if sides[0] == sides[1] or max(spans) > _ALIKE * min(spans):
        return None
    return np.array([shaft[1 - tip], shaft[tip]])


def _angle(a: Array, b: Array) -> float:
    """Between two vectors, 0 to π."""
    return math.atan2(abs(float(a[0] * b[1] - a[1] * b[0])), float(a @ b))
