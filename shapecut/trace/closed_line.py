"""Find the closed line among the strokes on a sheet, breaks and all.

Glossary:
    reach: distance to which every stroke is grown; strokes whose ends lie within two reaches of
        each other count as joined.
    network: strokes that are joined, with the faces they enclose.  Corners drawn over, a joist
        line from side to side and crosses on the line all belong to one network.
    break: a stretch of the closed line where no stroke is.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.cell_masks import eroded, filled, opened
from shapecut.trace.raster import Mask

__all__ = ["LARGEST_BREAK_MM", "ClosedLine", "find_closed_line"]

LARGEST_BREAK_MM = 15.0
"""Breaks up to this are bridged; wider ones are the person's to close."""
_WIDER_BREAKS_MM = (30.0, 60.0, 120.0)
"""Breaks that are looked for so that they can be named."""
_LEAST_DARKNESS = 10.0
"""Strokes less dark than this against the sheet, in code values, are lost in its grain."""
_DARKEST = 99.9
"""Percentile of all cells' darkness that is taken for the darkest ink's."""
_LEAST_SHARE = 0.03
"""Share of the place where the shape must be that a closed line encloses at least."""
_LARGER = 1.02
"""By what factor a network of fainter strokes must enclose more to be preferred."""
_LEAST_HOLE_MM = 20.0
"""Closed lines inside that enclose less than a circle of this diameter are letters or signs."""
_CARD_SHARE = 0.3
"""Closed lines inside of which a card covers more than this are the card's own border."""


@dataclass(frozen=True)
class ClosedLine:
    """A closed line on the raster.

    Attributes:
        mask: All cells within the middle of the line.
        holes: The same of closed lines drawn inside it, one mask for all.
        strokes: Cells of the strokes.
        width_mm: Of the stroke, roughly.
        break_mm: Breaks up to this were bridged.
    """

    mask: Mask
    holes: Mask
    strokes: Mask
    width_mm: float
    break_mm: float


@dataclass(frozen=True)
class _Network:
    """Joined strokes.

    Attributes:
        solid: The strokes, grown, and their faces, on the raster with room round it.
        room: Cells added on every side, so that grown strokes do not touch the border.
        enclosed: Cells of the middle among the faces.
        reach: By which the strokes are grown, cells.
    """

    solid: Mask
    room: int
    enclosed: int
    reach: float

    @property
    def raster(self) -> tuple[slice, slice]:
        """The raster without the room."""
        inner = slice(self.room, -self.room)
        return inner, inner


def find_closed_line(
    darkness: NDArray[np.float32], seen: Mask, middle: Mask, cards: Mask, cell_mm: float
) -> ClosedLine | None:
    """The closed line that encloses most of the middle, the darkest strokes tried first.

    Args:
        darkness: From `stroke_darkness`.
        seen: What any picture shows; strokes that run out of it, as floor joints do, close nothing.
        middle: Where the shape must be.
        cards: The cards' paper.
        cell_mm: Side of a cell.

    Returns:
        The line with the least breaks that closes it; None where no strokes enclose anything.
    """
    levels = list(_levels(darkness))
    rim = ~eroded(seen, 1.5)
    for break_mm in (*_small_breaks(cell_mm), *_WIDER_BREAKS_MM):
        reach = break_mm / cell_mm / 2
        for level in levels:
            network = _largest_network(darkness > level, middle, rim, reach)
            if network is None:
                continue
            fainter = _largest_network(darkness > level / 2, middle, rim, reach)
            if fainter and fainter.enclosed > _LARGER * network.enclosed:
                network, level = fainter, level / 2
            return _closed_line(network, darkness > level, cards, cell_mm)
    return None


def _levels(darkness: NDArray[np.float32]) -> Iterator[float]:
    """Darkness that makes a stroke, from half the darkest ink's down."""
    level = float(np.percentile(darkness, _DARKEST)) / 2
    while level > _LEAST_DARKNESS:
        yield level
        level /= 2


def _small_breaks(cell_mm: float) -> Iterator[float]:
    """Breaks to bridge: a cell's, since blur nibbles at thin strokes, then twice as wide each."""
    break_mm = 2 * cell_mm
    while break_mm < LARGEST_BREAK_MM:
        yield break_mm
        break_mm *= 2
    yield LARGEST_BREAK_MM


def _largest_network(strokes: Mask, middle: Mask, rim: Mask, reach: float) -> _Network | None:
    """The network that encloses most of the middle and does not run out of the pictures."""
    room = int(reach) + 2
    open_cells = _distance(np.pad(strokes, room)) > reach
    _, faces = cv2.connectedComponents(open_cells.astype(np.uint8), connectivity=4)
    inner = open_cells & (faces != faces[0, 0])
    count, networks = cv2.connectedComponents((~open_cells | inner).astype(np.uint8))
    enclosed = np.bincount(networks[inner & np.pad(middle, room)], minlength=count)
    enclosed[0] = 0
    enclosed[np.unique(networks[np.pad(strokes & rim, room)])] = 0
    best = int(np.argmax(enclosed))
    if enclosed[best] <= _LEAST_SHARE * int(middle.sum()):
        return None
    return _Network(networks == best, room, int(enclosed[best]), reach)


def _distance(strokes: Mask) -> NDArray[np.float32]:
    """Distance of each cell from the nearest stroke, cells; growing far needs it exact."""
    distance = cv2.distanceTransform(
        (~strokes).astype(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE
    )
    return np.asarray(distance, np.float32)


def _closed_line(network: _Network, strokes: Mask, cards: Mask, cell_mm: float) -> ClosedLine:
    inked = np.pad(strokes, network.room)
    width = _stroke_width(network, inked)
    inward = network.reach + width / 2
    # Ends of strokes that stick out at drawn-over corners are no wider than a stroke.
    mask = opened(_distance(~network.solid) > inward, 2)
    holes = np.zeros_like(strokes)
    for inner in _inner_networks(network, inked, mask):
        least = np.pi / 4 * (_LEAST_HOLE_MM / cell_mm) ** 2
        shape = opened(_distance(~inner) > inward, 2)[network.raster]
        if shape.sum() > least and cards[shape].mean() < _CARD_SHARE:
            holes |= shape
    break_mm = 2 * network.reach * cell_mm
    return ClosedLine(mask[network.raster], holes, strokes, width * cell_mm, break_mm)


def _stroke_width(network: _Network, strokes: Mask) -> float:
    """In cells: area of the strokes along the network's rim over the rim's length."""
    depth = _distance(~network.solid)
    start = depth[strokes & network.solid]
    outline, _ = cv2.findContours(
        network.solid.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    length = max(cv2.arcLength(ring, True) for ring in outline)
    # Twice the width as it would be if all strokes in the network lay at its rim is reach enough.
    near = 2 * len(start) / length + network.reach
    return max(1.0, float(np.sum(start < near)) / length)


def _inner_networks(network: _Network, strokes: Mask, mask: Mask) -> Iterator[Mask]:
    """What separate strokes inside enclose, filled."""
    grown_strokes = (_distance(strokes) <= network.reach) & network.solid
    count, labels = cv2.connectedComponents(grown_strokes.astype(np.uint8))
    rim = set(np.unique(labels[network.solid & ~eroded(network.solid, 1.5)]))
    rim |= set(np.unique(labels[~mask]))
    for label in range(1, count):
        if label not in rim:
            yield filled(labels == label)
