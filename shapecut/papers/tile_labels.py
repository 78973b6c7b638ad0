"""Piece labels on pages that each show a part of the drawing."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shapecut.layout.layout import Piece
from shapecut.papers.drawing import Text, readable_turn
from shapecut.papers.label_place import Band, Interior, Room, label_rooms, place_label
from shapecut.papers.spans import Box, clipped_parameters
from shapecut.shape.placement import Placement

__all__ = ["TileLabel"]

LABEL_MM = 9.0
"""Height of a piece's label on a tile, where there is room for it."""

LABEL_SHARE = 0.3
"""On a narrow board a label is no higher than this share of its width."""


@dataclass(frozen=True)
class TileLabel:
    """What is the same on every page about a piece's label.

    Attributes:
        text: The label.
        placement: Of the piece's frame in the drawing.
        rooms: Where in the piece its text fits.
        reach: Of the piece in the drawing.
    """

    text: str
    placement: Placement
    rooms: tuple[Room, ...]
    reach: Box

    @classmethod
    def of(cls, piece: Piece, width_mm: float, placement: Placement) -> "TileLabel":
        """The label of a piece that lies so in a drawing, from a board so wide."""
        corners = [(x, y) for x in (0.0, piece.length_mm) for y in (0.0, width_mm)]
        xs, ys = zip(*(placement.to_plane(corner) for corner in corners), strict=True)
        height = min(LABEL_MM, LABEL_SHARE * width_mm)
        rooms = tuple(label_rooms(piece.label, Interior.of(piece.region), height))
        return cls(piece.label, placement, rooms, Box(min(xs), min(ys), max(xs), max(ys)))

    def seen_in(self, window: Box) -> Text | None:
        """The label where a window shows most of the piece; None where none of it has room."""
        if not self.reach.meets(window):
            return None
        inner = window.grown(-min(LABEL_MM, window.width / 3, window.height / 3))
        placed = place_label(self.rooms, lambda bands: _seen(bands, self.placement, inner))
        if placed is None:
            return None
        at, height = placed
        turn = readable_turn(self.placement.turn_rad)
        return Text(self.text, self.placement.to_plane(at), height, turn_rad=turn)


def _seen(bands: Sequence[Band], placement: Placement, window: Box) -> list[Band]:
    """The parts of a piece's bands that a window in the plane shows."""
    ends = np.array([[(band.start, band.y), (band.end, band.y)] for band in bands])
    in_plane = placement.points_to_plane(ends.reshape(-1, 2)).reshape(-1, 2, 2)
    firsts, lasts = clipped_parameters(in_plane, window)
    return [
        Band(band.y, band.start + first * band.length, band.start + last * band.length)
        for band, first, last in zip(bands, firsts.tolist(), lasts.tolist(), strict=True)
        if first < last
    ]
