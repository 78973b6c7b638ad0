"""How many narrow arms a board leaves beside the outline, for every place it can slide to.

An arm lies between a stretch of the outline and the board's own far edge (see `narrow_arms`).  Arcs
are taken as chords; between the heights of all corners and chords' ends an arm's length then
changes evenly, so that the places at which arms come and go follow exactly.  Tips that two sides of
the outline pinch between them are not looked for.

Glossary:
    place: the level of the board's lower edge, row frame.
    flank: a stretch of the outline that runs one way along the boards, its material on the left;
        those to the left are looked at turned round, so that material lies above all of them.
    reach: the level of the board's far edge, seen from a flank.
    band: what lies below the reach and nearer to it than the smallest rip.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.layout.narrow_arms import LEAST_SHARE
from shapecut.shape.clip import ON_BORDER_MM
from shapecut.shape.curves import Arc
from shapecut.shape.monotone import quarters
from shapecut.shape.region import Loop, Region

__all__ = ["ArmCounts", "arm_counts"]

CHORD_MM = 0.05
"""Greatest distance of the chords from their arc."""

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class ArmCounts:
    """A count for every place.

    Attributes:
        places: (P,) at which it changes, rising.
        counts: (P + 1,) below the first of them, between, and above the last.
    """

    places: Floats
    counts: NDArray[np.int64]

    def at(self, places: Floats) -> NDArray[np.int64]:
        """(N,) the counts at some places; where one changes, the lesser."""
        below = np.searchsorted(self.places, places - ON_BORDER_MM)
        above = np.searchsorted(self.places, places + ON_BORDER_MM)
        return np.minimum(self.counts[below], self.counts[above])


def arm_counts(field: Region, board_width_mm: float, narrow_mm: float) -> ArmCounts:
    """Count the arms that are narrower than a given width.

    Args:
        field: In the row frame.
        board_width_mm: Of the board that slides over it.
        narrow_mm: The smallest rip.
    """
    spans = [np.empty((0, 2))]
    for loop in field.loops:
        corners = _corners(loop)
        rising = (_arms(flank, narrow_mm) for flank in _flanks(corners))
        spans += [span - board_width_mm for span in rising]
        turned = (_arms(flank, narrow_mm) for flank in _flanks(-corners))
        spans += [-span[:, ::-1] for span in turned]
    first, last = np.concatenate(spans).T
    places = np.unique(np.concatenate([first, last]))
    begun = np.searchsorted(np.sort(first), places, side="right")
    ended = np.searchsorted(np.sort(last), places, side="right")
    return ArmCounts(places, np.append(0, begun - ended))


def _corners(loop: Loop) -> Floats:
    """(N, 2) of the chords of a loop; the tops and bottoms of arcs are among them."""
    curves = (side.curve for side in loop)
    parts = (quarters(curve) if isinstance(curve, Arc) else (curve,) for curve in curves)
    corners = np.concatenate([run.flattened(CHORD_MM)[:-1] for part in parts for run in part])
    # An arc can begin next to its own top, which leaves a chord of no length.
    apart = np.abs(corners - np.roll(corners, -1, axis=0)).max(axis=1) > ON_BORDER_MM
    return np.asarray(corners[apart])


@dataclass(frozen=True)
class _Flank:
    """Neighbouring chords to the right, uprights among them.

    Attributes:
        corners: (N + 1, 2) of its N chords.
        hollow: Whether the outline turns to the right where the flank begins, and where it ends, so
            that there is material beyond.
    """

    corners: Floats
    hollow: tuple[bool, bool]


def _flanks(corners: Floats) -> Iterator[_Flank]:
    """The flanks of a loop of (N, 2) corners."""
    steps = np.roll(corners, -1, axis=0) - corners
    ahead = steps[:, 0] >= -ON_BORDER_MM
    if not (ahead & (steps[:, 0] > ON_BORDER_MM)).any():
        return
    before = np.roll(steps, 1, axis=0)
    hollow = before[:, 0] * steps[:, 1] - before[:, 1] * steps[:, 0] < 0
    count = len(corners)
    for first in np.flatnonzero(ahead & ~np.roll(ahead, 1)).tolist():
        last = first
        while ahead[last % count]:
            last += 1
        indices = np.arange(first, last + 1) % count
        yield _Flank(corners[indices], (bool(hollow[indices[0]]), bool(hollow[indices[-1]])))


def _arms(flank: _Flank, narrow_mm: float) -> Floats:
    """(A, 2) between which reaches, rising, the flank leaves an arm."""
    xs, ys = flank.corners.T
    reaches = np.unique(np.concatenate([ys, ys + narrow_mm]))
    reaches = reaches[np.append(True, np.diff(reaches) > ON_BORDER_MM)]
    spans: list[tuple[float, float]] = []
    for low, high in zip(reaches[:-1].tolist(), reaches[1:].tolist(), strict=True):
        middle = (low + high) / 2
        inside = (ys > middle - narrow_mm) & (ys < middle)
        crossed = (np.minimum(ys[:-1], ys[1:]) < middle) & (
            np.maximum(ys[:-1], ys[1:]) > middle - narrow_mm
        )
        ends = [_covered(xs, ys, reach, narrow_mm) for reach in (low, high)]
        for first, last in _linked(crossed, inside):
            lengths = [float(end[first:last].sum()) for end in ends]
            from_wide = flank.hollow[0] if inside[first] else ys[first] < middle
            to_wide = flank.hollow[1] if inside[last] else ys[last] < middle
            least = 0.0 if from_wide and to_wide else LEAST_SHARE * narrow_mm
            if max(lengths) > ON_BORDER_MM:
                spans += _long_enough((low, high), lengths, least)
    return np.array(spans).reshape(-1, 2)


def _covered(xs: Floats, ys: Floats, reach: float, narrow_mm: float) -> Floats:
    """(N,) how much of each chord lies in the band, along the board."""
    low, high = np.minimum(ys[:-1], ys[1:]), np.maximum(ys[:-1], ys[1:])
    within = np.minimum(high, reach) - np.maximum(low, reach - narrow_mm)
    level = high - low <= ON_BORDER_MM
    share = np.where(level, within >= -ON_BORDER_MM, within / np.where(level, 1.0, high - low))
    return np.asarray(np.diff(xs) * np.clip(share, 0.0, 1.0))


def _linked(crossed: NDArray[np.bool_], inside: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Runs of chords in the band that hang together by corners in it: first, and last plus one."""
    first = None
    for chord, is_crossed in enumerate(crossed.tolist()):
        if first is not None and not (is_crossed and inside[chord]):
            yield first, chord
            first = None
        if is_crossed and first is None:
            first = chord
    if first is not None:
        yield first, len(crossed)


def _long_enough(
    reaches: tuple[float, float], lengths: Sequence[float], least: float
) -> Iterator[tuple[float, float]]:
    """The part of a stretch of reaches over which an evenly changing length is great enough."""
    (low, high), (first, last) = reaches, lengths
    if max(first, last) <= least:
        return
    turn = low + (least - first) / (last - first) * (high - low) if first != last else low
    yield (low if first >= least else turn), (high if last >= least else turn)
