"""Whether the pictures show a step of light or colour all along a line or arc."""

from collections.abc import Sequence

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray

from shapecut.shape.curves import Curve
from shapecut.trace.profile import Profiles, read_profiles
from shapecut.trace.raster import Points
from shapecut.trace.samples import Pictures, face_width
from shapecut.trace.slab import Slab
from shapecut.trace.stations import stations_along

__all__ = ["shown_along"]

Array = NDArray[np.float64]

_SPACING_MM, _MOST_PLACES = 2.0, 100
"""Distance of the profiles that are looked at; farther apart where that would be more."""
_WINDOW = 8
"""Profiles side by side whose mean is looked at: grain and print that crosses average out."""
_LEAST_PROFILES = 3
"""Fewer profiles than this tell nothing."""
_BESIDE_MM = 1.5
"""Places this near to another curve are beside it."""
_THERE_MM = 0.5
"""A profile crosses another curve where its places are this near to it."""
_FLAT_MM = 0.1
"""Chords that stand for a curve lie this close to it."""
_BURNT = 0.9
"""Light, of white, from which on glare hides what is there."""
_CLEAR_PX = 5.0
"""So near to its ends a curve is not looked at: other edges' blur reaches there."""
_SIDE_PX = 2.5
"""Width of the two sides of a place whose difference is its step, pixels."""
_HERE_PX = 2.0
"""A step this near to the curve is the curve's, pixels."""
_AROUND_PX = 6.0
"""It must be the greatest within this distance, pixels."""
_SURE = 5.0
"""Standard errors by which a step must be more than nothing."""
_LEAST_STEP = 0.01
"""Steps of less than this, of white, in the square root of linear light, are nothing."""


def shown_along(
    curves: Sequence[Curve], pictures: Pictures, slab: Slab, others: Sequence[Curve] = ()
) -> tuple[float, float]:
    """Where along some curves the picture that shows them best has a step.

    Args:
        curves: Material on their left.
        pictures: All pictures of the job.
        slab: The template's top face and foot.
        others: Curves whose steps are not these curves'; beside them it is not looked at.

    Returns:
        Share of the places looked at which have a step, and the share that nothing hides.
    """
    places, tangents, edges = [], [], []
    spacing_mm = max(_SPACING_MM, sum(curve.length for curve in curves) / _MOST_PLACES)
    for k, curve in enumerate(curves):
        for fraction in np.linspace(0, 1, max(2, round(curve.length / spacing_mm)) + 1):
            places.append(curve.at(float(fraction)))
            tangents.append(curve.direction(float(fraction)))
            edges.append(k)
    stations = stations_along(np.array(places), np.array(tangents), spacing_mm, np.array(edges))
    beside = _beside(stations.places, others)
    best = (0.0, 0.0)
    for at, view in enumerate(pictures.views):
        face_mm = face_width(view, stations, slab)
        profiles = read_profiles(
            pictures.photos[view.photo],
            view,
            stations,
            height_mm=slab.top_mm,
            reach_mm=0.0,
            face_mm=float(face_mm.max()),
        )
        # Burnt out, nothing shows.
        hidden = ~profiles.seen | (profiles.colours.min(axis=2).mean(axis=1) > _BURNT)
        if pictures.hidden:
            hidden |= pictures.hidden[at].covers(stations.places)
        theirs = _crossed(profiles, others, float(face_mm.max()))
        away = np.where(theirs, np.abs(profiles.offsets_px), np.inf).min(axis=1)
        mixed = beside | (away > _HERE_PX) & (away < _HERE_PX + _SIDE_PX)
        steps, looked_at = _steps(profiles, curves, hidden | mixed, face_mm, theirs)
        seen = looked_at / max(int(np.sum(~mixed)), 1)
        best = max(best, (steps / max(looked_at, 1), seen), key=lambda pair: pair[0] * pair[1])
    return best


def _beside(
    places: Points, others: Sequence[Curve], within_mm: float = _BESIDE_MM
) -> NDArray[np.bool_]:
    """(N,) which of (N, 2) places lie on one of some curves, or so close beside it."""
    if not others:
        return np.zeros(len(places), bool)
    lines = shapely.MultiLineString([curve.flattened(_FLAT_MM) for curve in others])
    return np.asarray(shapely.distance(lines, shapely.points(places)) < within_mm)


def _crossed(profiles: Profiles, others: Sequence[Curve], face_mm: float) -> NDArray[np.bool_]:
    """(N, K) where profiles cross some curves, as far out as that matters."""
    theirs = np.zeros(profiles.colours.shape[:2], bool)
    reach_px = _AROUND_PX + _SIDE_PX + face_mm / float(profiles.mm_per_px.min())
    near = np.abs(profiles.offsets_px) <= reach_px
    places = profiles.places_mm()[:, near]
    theirs[:, near] = _beside(places.reshape(-1, 2), others, _THERE_MM).reshape(places.shape[:2])
    return theirs


def _steps(
    profiles: Profiles,
    curves: Sequence[Curve],
    hidden: NDArray[np.bool_],
    face_mm: Array,
    theirs: NDArray[np.bool_],
) -> tuple[int, int]:
    """Number of profiles in windows with a step, and of all that were looked at."""
    shown = looked_at = 0
    for edge, curve in enumerate(curves):
        on_edge = np.flatnonzero(profiles.edge == edge)
        clear = _CLEAR_PX * float(profiles.mm_per_px[on_edge].mean())
        along = np.linspace(0, curve.length, len(on_edge))
        on_edge = on_edge[(along > clear) & (along < curve.length - clear) & ~hidden[on_edge]]
        for window in np.array_split(on_edge, max(1, round(len(on_edge) / _WINDOW))):
            if len(window) < _LEAST_PROFILES:
                continue
            looked_at += len(window)
            face_px = float(np.mean(face_mm[window] / profiles.mm_per_px[window]))
            if _has_step(profiles, window, face_px, theirs[window]):
                shown += len(window)
    return shown, looked_at


def _has_step(
    profiles: Profiles,
    window: NDArray[np.intp],
    face_px: float,
    theirs: NDArray[np.bool_],
) -> bool:
    """Whether the mean of some profiles has its greatest step at the curve.

    Args:
        profiles: All of them.
        window: Some, side by side.
        face_px: Width of the cut face there.
        theirs: (window, K) where others cross them, whose steps are their own.
    """
    light = np.sqrt(np.clip(profiles.colours[window].astype(float), 0, 1))
    offsets = profiles.offsets_px
    pixel = float(offsets[1] - offsets[0])
    side = round(_SIDE_PX / pixel)
    summed = np.concatenate([np.zeros((len(window), 1, 3)), np.cumsum(light, axis=1)], axis=1)
    # Between places k - 1 and k, for k from `side` on.
    step = (summed[:, 2 * side :] - 2 * summed[:, side:-side] + summed[:, : -2 * side]) / side
    at = offsets[0] + pixel * (side - 0.5 + np.arange(step.shape[1]))
    far = theirs & ~((offsets >= -_HERE_PX) & (offsets <= _HERE_PX + face_px))
    blurred = cv2.dilate(far.astype(np.uint8), np.ones((1, 2 * side + 1), np.uint8))
    other = blurred[:, side - 1 : side - 1 + step.shape[1]] > 0
    count = np.sum(~other, axis=0)
    told = count >= _LEAST_PROFILES
    share = np.maximum(count, 2)[:, None]
    own = np.where(other[..., None], 0.0, step)
    mean = own.sum(axis=0) / share
    spread = np.where(other[..., None], 0.0, (step - mean) ** 2).sum(axis=0) / (share - 1)
    error = np.sqrt(spread / share)
    size = np.sqrt(np.sum(mean**2, axis=1))
    sure = size > np.maximum(_SURE * np.sqrt(np.mean(error**2, axis=1)), _LEAST_STEP)
    around = (at > -_AROUND_PX) & (at < _AROUND_PX + face_px) & told
    if not around.any():
        return False
    greatest = np.flatnonzero(around)[np.argmax(size[around])]
    return bool(-_HERE_PX <= at[greatest] <= _HERE_PX + face_px and sure[greatest])
