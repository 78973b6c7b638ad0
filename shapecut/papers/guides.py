"""What a window over a piece is laid by: the board's edges, and a datum at a stated distance."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from shapecut.papers.drawing import Layer, Stroke, Text
from shapecut.papers.label_place import GLYPH_WIDTH
from shapecut.papers.piece_work import Work
from shapecut.papers.spans import Box, clipped_parameters, segments_of
from shapecut.papers.tile_settings import SMALL_TEXT_MM, TileSettings
from shapecut.shape.curves import Line
from shapecut.shape.placement import Point

__all__ = ["guides"]

HALF_ROW_MM = 3.2
"""From a line to the middle of the words along it."""

ROW_MM = 3.6
"""From one line of words to the next."""

DATUM_CLEAR_MM = 6.0
"""A datum keeps this far from the window's ends, so that its words stand there."""

MOST_DATUMS = 12
"""So many places of the datum are tried, until its words stand clear of all lines."""

WORDS_STEP_MM = 5.0
"""Steps along the datum in which a place for its words is looked for."""

AROUND_WORDS_MM = 1.0
"""Words keep so far from lines and other words."""


def guides(box: Box, work: Work, settings: TileSettings) -> Iterator[Stroke | Text]:
    """The board's edges and the datum, with words; a line along the board where no edge shows.

    Args:
        box: The window, in the frame of the piece on its board.
        work: What is done to the piece.
        settings: How lengths are written.
    """
    middle = (box.x0 + box.x1) / 2
    edges = [edge for edge in (0.0, work.width_mm) if box.y0 < edge < box.y1]
    for edge in edges:
        yield _reference((box.x0, edge), (box.x1, edge))
        away = -HALF_ROW_MM if edge == 0.0 else HALF_ROW_MM
        yield _words("edge of the board", (middle, edge + away))
    level_words: list[Text] = []
    if not edges:
        level = round((box.y0 + box.y1) / 2 / settings.round_mm) * settings.round_mm
        yield _reference((box.x0, level), (box.x1, level))
        above = f"{settings.length(level)} above the board's lower edge"
        level_words = [_words(above, (middle, level + HALF_ROW_MM))]
    yield from level_words
    label = work.label.seen_in(box) if work.label else None
    yield from _datum(box, work, settings, [*level_words, *([label] if label else [])])


@dataclass(frozen=True)
class _Place:
    """Where the words of a datum may stand, reading up the page.

    Attributes:
        along_mm: The datum.
        lines: The words, the first nearest to the datum.
        side: 1 to its right, -1 to its left.
        middle_mm: Across the board.
    """

    along_mm: float
    lines: tuple[str, ...]
    side: int
    middle_mm: float

    def box(self) -> Box:
        """What the words cover, with some room round them."""
        near = HALF_ROW_MM - SMALL_TEXT_MM / 2 - AROUND_WORDS_MM
        far = near + ROW_MM * (len(self.lines) - 1) + SMALL_TEXT_MM + 2 * AROUND_WORDS_MM
        left, right = sorted((self.along_mm + self.side * near, self.along_mm + self.side * far))
        half = _half_length(max(self.lines, key=len)) + AROUND_WORDS_MM
        return Box(left, self.middle_mm - half, right, self.middle_mm + half)

    def texts(self) -> Iterator[Text]:
        """The words; read upwards, the upper line is the left one."""
        ordered = self.lines if self.side > 0 else self.lines[::-1]
        for row, words in enumerate(ordered):
            x = self.along_mm + self.side * (HALF_ROW_MM + ROW_MM * row)
            yield replace(_words(words, (x, self.middle_mm)), turn_rad=math.pi / 2)


def _datum(
    box: Box, work: Work, settings: TileSettings, others: Sequence[Text]
) -> Iterator[Stroke | Text]:
    """A line square across the board, its distance beside it where as little as may be is drawn."""
    low, high = max(box.y0, 0.0), min(box.y1, work.width_mm)
    drawn = segments_of(item for item in work.drawn if isinstance(item, Stroke))
    texts = [item for item in (*work.drawn, *others) if isinstance(item, Text)]
    taken = shapely.STRtree([*shapely.linestrings(drawn), *map(_covered, texts)])
    chosen: tuple[int, _Place] | None = None
    for along in _datums(box, work, settings.round_mm):
        words = (f"{work.name}: {settings.length(along)}", work.measured_from)
        places = list(_places(along, (low, high), box, words))
        boxes = [place.box() for place in places]
        hit, _ = taken.query(
            [shapely.box(b.x0, b.y0, b.x1, b.y1) for b in boxes], predicate="intersects"
        )
        hits = np.bincount(hit, minlength=len(places))
        best = int(np.argmin(hits))
        if chosen is None or hits[best] < chosen[0]:
            chosen = (int(hits[best]), places[best])
        if not chosen[0]:
            break
    assert chosen, "there is a datum in every window"
    along = chosen[1].along_mm
    yield _reference((along, low), (along, high))
    yield from chosen[1].texts()


def _places(
    along: float, board: tuple[float, float], box: Box, words: tuple[str, str]
) -> Iterator[_Place]:
    """Places for the words beside a datum, towards the nearer end and in one line first."""
    low, high = board
    nearer = 1 if along > (box.x0 + box.x1) / 2 else -1
    for lines in ((" ".join(words),), words):
        room = (high - low) / 2 - _half_length(max(lines, key=len)) - AROUND_WORDS_MM
        steps = np.arange(0.0, max(room, 0.0) + 1e-9, WORDS_STEP_MM)
        for side in (nearer, -nearer):
            for away in (0.0, *(sign * step for step in steps[1:] for sign in (1, -1))):
                place = _Place(along, lines, side, (low + high) / 2 + away)
                reach = place.box()
                if box.x0 <= reach.x0 and reach.x1 <= box.x1:
                    yield place
    yield _Place(along, words, nearer, (low + high) / 2)


def _datums(box: Box, work: Work, step_mm: float) -> list[float]:
    """Round distances along the piece, those farthest from what is worked on first.

    Args:
        box: The window.
        work: What is done to the piece.
        step_mm: Distances that are multiples of this are round.
    """
    first = math.ceil(max(box.x0 + DATUM_CLEAR_MM, 0.0) / step_mm)
    last = math.floor(min(box.x1 - DATUM_CLEAR_MM, work.length_mm) / step_mm)
    places = np.arange(first, max(last, first) + 1) * step_mm
    begin, end = clipped_parameters(work.worked, box)
    seen = work.worked[begin <= end][:, :, 0]
    if len(seen):
        low, high = seen.min(axis=1), seen.max(axis=1)
        gaps = np.maximum(low[None] - places[:, None], places[:, None] - high[None]).min(axis=1)
        places = places[np.argsort(-gaps, kind="stable")]
    return [float(place) for place in places[:MOST_DATUMS]]


def _half_length(words: str) -> float:
    return GLYPH_WIDTH * SMALL_TEXT_MM * len(words) / 2


def _covered(text: Text) -> shapely.Geometry:
    """What a text covers that is level or upright."""
    x, y = text.at
    along, up = GLYPH_WIDTH * text.height_mm * len(text.text) / 2, text.height_mm / 2
    half_x, half_y = (up, along) if text.turn_rad else (along, up)
    return shapely.box(x - half_x, y - half_y, x + half_x, y + half_y)


def _words(words: str, at: Point) -> Text:
    return Text(words, at, SMALL_TEXT_MM, Layer.REFERENCE)


def _reference(start: Point, end: Point) -> Stroke:
    return Stroke((Line(start, end),), Layer.REFERENCE)
