"""Where a blurred edge lies in a profile of light, to a fraction of a pixel.

On each side of the edge the light may change linearly (a shadow that fades away from the template,
a shaded face); at the edge it may jump, or only bend.  At every place the model is compared with a
straight line through the same stretch, by the logarithm of the ratio of their squared misfits, the
statistic of a likelihood ratio test for a change point.  Light is taken as luminance, because
pictures keep colour at half the resolution and smooth it (chroma subsampling, ISO/IEC 10918-1).
"""

import math

import numpy as np
from numpy.typing import NDArray

__all__ = ["LUMINANCE", "edge_offsets"]

Array = NDArray[np.float64]

LUMINANCE = np.array([0.2126, 0.7152, 0.0722])
"""Luminance of linear sRGB (IEC 61966-2-1)."""
_INNER_PX, _OUTER_PX = 5.0, 3.0
"""How far the model reaches into the template and out over the floor, pixels; outside it is short,
because a shadow line may be narrow."""
_BLUR_PX = 0.8
"""Standard deviation of the blur of an ordinary photograph at its own resolution, pixels."""
_SEARCH_PX = 3.0
"""Greatest distance from the place found by colour."""
_PULL = 0.075
"""Penalty per squared pixel of distance from the place found by colour, in units of a typical
edge's evidence."""
_NEIGHBOURS_LIGHT, _NEIGHBOURS_EVIDENCE = 2, 5
"""Stations on each side whose light is averaged, and whose evidence is shared."""
_NOISE_SHARE = 0.3
"""Share of the median misfit that is taken as noise in every profile."""


def edge_offsets(colours: NDArray[np.float32], offsets_px: Array, near_px: Array) -> Array:
    """The edge in each profile.

    Args:
        colours: (N, K, 3) linear light across the boundary, stations in ring order.
        offsets_px: (K,) evenly spaced offsets outward, pixels.
        near_px: (N,) offset of the edge as found by colour, pixels.

    Returns:
        (N,) offset of the edge, pixels; NaN where the profile ends too near to it.
    """
    step = float(offsets_px[1] - offsets_px[0])
    light = _ring_mean(colours.astype(float) @ LUMINANCE, _NEIGHBOURS_LIGHT)
    inner, outer = round(_INNER_PX / step), round(_OUTER_PX / step)
    edge, line = _misfit_forms(np.arange(-inner, outer + 1, dtype=float) * step)
    windows = np.lib.stride_tricks.sliding_window_view(light, inner + outer + 1, axis=1)
    with_edge = np.einsum("nki,nki->nk", windows @ edge, windows)
    without = np.einsum("nki,nki->nk", windows @ line, windows)
    noise = _NOISE_SHARE * float(np.median(with_edge)) + 1e-12
    evidence = _ring_mean(np.log((without + noise) / (with_edge + noise)), _NEIGHBOURS_EVIDENCE)
    places = offsets_px[inner : len(offsets_px) - outer]
    distance = places[None] - near_px[:, None]
    typical = max(float(np.median(evidence.max(axis=1))), 1e-12)
    score = evidence / typical - _PULL * distance**2
    score[np.abs(distance) > _SEARCH_PX] = -np.inf
    reached = np.isfinite(score).any(axis=1)
    return np.where(reached, _peak(score, places, step), np.nan)


def _misfit_forms(at: NDArray[np.floating]) -> tuple[Array, Array]:
    """Matrices M with wᵀMw the squared misfit of a window w: blurred edge, straight line."""
    outside = np.array([0.5 * (1 + math.erf(u / _BLUR_PX / math.sqrt(2))) for u in at])
    inside = 1 - outside
    edge = np.column_stack([inside, at * inside, outside, at * outside])
    line = np.column_stack([np.ones_like(at), at])
    identity = np.eye(len(at))
    return identity - edge @ np.linalg.pinv(edge), identity - line @ np.linalg.pinv(line)


def _ring_mean(values: Array, neighbours: int) -> Array:
    """Mean over a station and its neighbours on each side of a ring."""
    shifted = [np.roll(values, k, axis=0) for k in range(-neighbours, neighbours + 1)]
    return np.asarray(sum(shifted) / len(shifted))


def _peak(score: Array, places: Array, step: float) -> Array:
    """Place of each row's greatest score, by a parabola through it and its neighbours."""
    rows = np.arange(len(score))
    best = np.clip(np.argmax(score, axis=1), 1, score.shape[1] - 2)
    low, top, high = (score[rows, best + k] for k in (-1, 0, 1))
    finite = np.isfinite(low) & np.isfinite(top) & np.isfinite(high)
    low, top, high = (np.where(finite, s, 0.0) for s in (low, top, high))
    bend = low - 2 * top + high
    shift = np.where(bend < 0, (low - high) / np.where(bend < 0, 2 * bend, 1.0), 0.0)
    return np.asarray(places[best] + step * np.clip(shift, -0.5, 0.5))
