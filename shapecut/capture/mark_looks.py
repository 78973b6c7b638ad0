"""How well a picture shows its marks: their size, the width of their edges, their light.

What is wrong here is cured by photographing again, while the cards still lie there.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.capture.cards import CardSet
from shapecut.capture.patterns import mark_cells
from shapecut.capture.photo import Photo
from shapecut.capture.sampling import bilinear
from shapecut.capture.sharpness import BLURRED_PX
from shapecut.capture.sighting import Sighting
from shapecut.findings import Finding, Level

__all__ = ["MarkLook", "look_findings", "mark_looks", "typical_blur_px"]

Array = NDArray[np.float64]

PROFILES_A_SIDE = 9
PROFILE_STEPS = 65
REACH_CELLS = 0.9
REACH_PX = 8.0
"""A profile across the mark's side reaches this far into its black border and into the white."""

QUARTILES_OF_NORMAL = 1.349
"""Between its quarter and three-quarter points an edge blurred by a normal distribution takes this
many of its standard deviations."""

BLURRED_CELLS = 0.25
"""From this fraction of a cell on, neighbouring borders of a pattern move each other."""

SMALL_CELL_PX = 4.0
"""Marks whose cells are narrower are measured, but a few pixels more would help much."""

BURNT = 250.0
"""White at or above this level (of 255) has lost its shape: light spills over the edges."""

DARK = 60.0
"""White below this level (of 255) leaves little above the noise."""

WASHED_OUT = 0.5
"""A mark of less than this fraction of its photograph's usual contrast lies in a reflection."""


@dataclass(frozen=True)
class MarkLook:
    """One mark as a picture shows it.

    Attributes:
        card: Name of its card.
        side_px: Mean length of its sides, pixels.
        cell_px: Width of its cells, pixels.
        blur_px: Standard deviation of the blur across those of its sides that are blurred more,
            pixels; shake blurs in one direction only.
        white: Median brightness of its white cells and the paper beside it, 0 to 255.
        black: Median brightness of its black cells.
    """

    card: str
    side_px: float
    cell_px: float
    blur_px: float
    white: float
    black: float


def mark_looks(photo: Photo, sightings: Sequence[Sighting], cards: CardSet) -> tuple[MarkLook, ...]:
    """Look at the marks of a photograph.

    Args:
        photo: The photograph.
        sightings: The marks found in it; sheets and points, which are no marks, are passed over.
        cards: The cards they are on.
    """
    grey = np.asarray(cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY), dtype=np.uint8)
    patterns = {
        (card.name, mark.number): (mark.dictionary, mark.number)
        for card in cards.cards
        for mark in card.marks
    }
    return tuple(
        _look(grey, seen, mark_cells(*patterns[seen.card, seen.mark]))
        for seen in sightings
        if isinstance(seen.mark, int) and (seen.card, seen.mark) in patterns
    )


def typical_blur_px(looks: Sequence[MarkLook]) -> float:
    """Median blur of a photograph's marks, pixels."""
    return float(np.median([look.blur_px for look in looks]))


def look_findings(photo: Photo, looks: Sequence[MarkLook]) -> Iterator[Finding]:
    """What a photograph's marks say against it; nothing without marks."""
    if not looks:
        return
    blur = typical_blur_px(looks)
    in_cells = float(np.median([look.blur_px / look.cell_px for look in looks]))
    if blur > BLURRED_PX or in_cells > BLURRED_CELLS:
        yield Finding(
            Level.CHECK,
            photo.name,
            f"It is blurred: the edges of its marks are spread over {2 * blur:.1f} pixels.",
            "Photograph again, held steady or leaned on something, in better light.",
        )
    cell = float(np.median([look.cell_px for look in looks]))
    if cell < SMALL_CELL_PX:
        side = float(np.median([look.side_px for look in looks]))
        yield Finding(
            Level.CHECK,
            photo.name,
            f"The cards are small in it: their marks are about {side:.0f} pixels wide.",
            "Go nearer, so that template and cards fill the picture, or print larger cards.",
        )
    yield from _of_the_light(photo, looks)


def _of_the_light(photo: Photo, looks: Sequence[MarkLook]) -> Iterator[Finding]:
    white = float(np.median([look.white for look in looks]))
    if white < DARK:
        yield Finding(
            Level.CHECK,
            photo.name,
            "It is so dark that the white of the cards is hardly above the noise.",
            "Photograph again with more light.",
        )
    burnt = _names(look.card for look in looks if look.white >= BURNT)
    if burnt:
        yield Finding(
            Level.CHECK,
            f"{', '.join(burnt)} in {photo.name}",
            "White is burnt out there, by over-exposure or glare; edges beside it are moved.",
            "Photograph again with less exposure, or without the sun or a lamp on the cards.",
        )
    usual = float(np.median([look.white - look.black for look in looks]))
    washed = _names(look.card for look in looks if look.white - look.black < WASHED_OUT * usual)
    if washed:
        yield Finding(
            Level.CHECK,
            f"{', '.join(washed)} in {photo.name}",
            "Black and white differ little there: it lies in a reflection or in deep shadow.",
            "Photograph again from another side, or shade the card.",
        )


def _names(cards: Iterator[str]) -> list[str]:
    return list(dict.fromkeys(cards))


def _look(grey: NDArray[np.uint8], seen: Sighting, cells: NDArray[np.bool_]) -> MarkLook:
    corners = seen.corners_px
    side = float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).mean())
    cell = side / len(cells)
    blurs = [_blur_px(grey, corners, k, min(REACH_CELLS * cell, REACH_PX)) for k in range(4)]
    middles = _cell_middles(corners, len(cells))
    light = bilinear(grey, middles[:, 0], middles[:, 1])
    outside = np.pad(~cells, 1, constant_values=True).ravel()
    return MarkLook(
        seen.card,
        side,
        cell,
        max((blurs[0] + blurs[2]) / 2, (blurs[1] + blurs[3]) / 2),
        float(np.median(light[outside])),
        float(np.median(light[~outside])),
    )


def _cell_middles(corners: Array, count: int) -> Array:
    """((count + 2)², 2) pixels of the cells' middles, one ring of the paper outside included."""
    square = np.array([[0, 0], [count, 0], [count, count], [0, count]], np.float32)
    px_from_cells = cv2.getPerspectiveTransform(square, corners.astype(np.float32))
    column, row = np.meshgrid(np.arange(-1, count + 1) + 0.5, np.arange(-1, count + 1) + 0.5)
    # The paper's margin may be narrower than a cell: look at its inner part.
    column, row = (np.clip(axis, -0.3, count + 0.3) for axis in (column, row))
    cells = np.column_stack([column.ravel(), row.ravel()])
    return np.asarray(cv2.perspectiveTransform(cells[None], px_from_cells)[0], dtype=np.float64)


def _blur_px(grey: NDArray[np.uint8], corners: Array, side: int, reach: float) -> float:
    """Standard deviation of the blur across one side, pixels: median over its profiles."""
    start, end = corners[side], corners[(side + 1) % 4]
    along = (end - start) / np.linalg.norm(end - start)
    inward = np.array([-along[1], along[0]])
    inward = inward * np.sign(inward @ (corners.mean(axis=0) - start))
    places = start + np.outer((np.arange(PROFILES_A_SIDE) + 1) / (PROFILES_A_SIDE + 1), end - start)
    steps = np.linspace(-reach, reach, PROFILE_STEPS)
    px = places[:, None] - steps[None, :, None] * inward
    profiles = bilinear(grey, px[..., 0], px[..., 1])
    ends = PROFILE_STEPS // 8
    dark, light = profiles[:, :ends].mean(axis=1), profiles[:, -ends:].mean(axis=1)
    rise = (profiles - dark[:, None]) / np.maximum(light - dark, 1.0)[:, None]
    # The share of the profile between the quartiles, counted by samples: noise hardly matters.
    between = np.mean((rise > 0.25) & (rise < 0.75), axis=1) * 2 * reach
    return float(np.median(between)) / QUARTILES_OF_NORMAL
