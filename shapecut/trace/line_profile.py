"""Where a drawn line lies in profiles across it: its middle, or one of its sides.

In linear light a stroke is a dip between two levels of the sheet.  Each side lies where the dip has
half its depth against the sheet on that side; blur moves both sides of a stroke outward alike, so
the middle between them is free of it.  The sides of strokes hardly wider than the blur are drawn in
by what a Gaussian blur adds to the width, and how unsure the blur is adds to their uncertainty.
"""

import math
from functools import partial

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.boundary import Crossings
from shapecut.trace.colours import ColourModel
from shapecut.trace.drawn import LineSide
from shapecut.trace.profile import Profiles
from shapecut.trace.ring import EdgeFinders

__all__ = ["of_line"]

Array = NDArray[np.float64]

_SHEET = 75.0
"""Percentile of a profile's light that is taken for the sheet's."""
_DIP = 0.5
"""Share of the stroke's depth at which its sides lie."""
_LEAST_DIP = 0.35
"""Depth of a profile's dip, as a share of the ring's usual one, below which no stroke is there."""
_WIDTHS = (0.4, 2.0)
"""Least and greatest width of a stroke as a share of the ring's usual one; where lines cross, and
at the ends of breaks, it is another."""
_BESIDE_PX = 2.0
"""How far from a side the blurred stroke is over, pixels."""
_PULL = 0.1
"""Share of the stroke's depth by which a dip one stroke's width farther off counts for less."""
_NEIGHBOURS = 7
"""Stations on each side that a sample is compared with."""
_PLACE_PX, _SHARED_PX = 0.06, 0.06
"""As for a template's edge: standard uncertainty of a crossing in perfect contrast, and of what all
crossings may be off together, pixels."""
_ROUGH_PX = 0.3
"""Standard uncertainty of a stroke's middle as seen from afar, pixels."""
_BLURS_PX = (0.85, 0.7, 1.0)
"""Standard deviation of the blur of an ordinary picture at its own resolution, reading between
pixels included: what is likely, and one standard deviation to each side."""


def of_line(side: LineSide, *, hole: bool) -> EdgeFinders:
    """How a drawn line is found across itself.

    Args:
        side: Which side counts; inner is within the closed line.
        hole: Whether the closed line is a hole, whose profiles run into it.
    """
    outward = {LineSide.CENTRE: 0.0, LineSide.INNER: -1.0, LineSide.OUTER: 1.0}[side]
    sharp = partial(_sharp_crossings, outward=-outward if hole else outward)
    # From afar the middle is followed: the sides of a line run off at its corners.
    return EdgeFinders(_rough_crossings, sharp, rounded=0, is_step=False)


def _rough_crossings(profiles: Profiles, _colours: ColourModel, _face_mm: Array) -> Crossings:
    """The middle of the stroke nearest to each station."""
    inner, outer, found, _ = _strokes(profiles)
    return _crossings((inner + outer) / 2, np.full(len(found), _ROUGH_PX), found, _SHARED_PX)


def _sharp_crossings(
    profiles: Profiles, _colours: ColourModel, _face_mm: Array, *, outward: float
) -> Crossings:
    """The middle of the stroke, or its outer (1) or inner (-1) side along the profiles.

    Stations already follow the line, so that neighbours tell how sure each sample is.
    """
    inner, outer, found, width = _strokes(profiles)
    drawn_in, side_u = _drawn_in(width)
    offset = (inner + outer) / 2 + outward * ((outer - inner) / 2 - drawn_in)
    u = np.full(len(found), np.inf)
    if found.sum() > 2 * _NEIGHBOURS:
        u[found] = np.hypot(_PLACE_PX, _scatter(offset[found]))
    return _crossings(offset, u, found, math.hypot(_SHARED_PX, outward * side_u))


def _crossings(offset: Array, u_px: Array, found: NDArray[np.bool_], shared_px: float) -> Crossings:
    none = np.zeros(len(found))
    return Crossings(
        np.where(found, offset, np.nan), np.where(found, u_px, np.inf), none + shared_px, none
    )


def _strokes(profiles: Profiles) -> tuple[Array, Array, NDArray[np.bool_], float]:
    """The stroke nearest to each station: inner and outer side, whether seen, and the usual width.

    All (N,) in pixels along the profiles, but for the width.
    """
    dip, offsets = _dips(profiles), profiles.offsets_px
    deepest = dip.max(axis=1)
    usual = float(np.median(deepest[profiles.seen])) if profiles.seen.any() else np.inf
    seen = profiles.seen & (deepest > _LEAST_DIP * usual)
    width = _BESIDE_PX
    # Once to learn how wide the stroke is, once with that as the measure of what is near.
    for _ in range(2):
        near = np.argmax(dip - _PULL * np.abs(offsets) / width, axis=1)
        inner, outer = _sides(dip, offsets, near)
        whole = seen & np.isfinite(outer - inner)
        if not whole.any():
            return inner, outer, whole, width
        width = float(np.median((outer - inner)[whole]))
    own = np.where(whole, outer - inner, 0.0) / width
    return inner, outer, (own > _WIDTHS[0]) & (own < _WIDTHS[1]), width


def _dips(profiles: Profiles) -> Array:
    """(N, K) how dark each place is between the sheet (0) and the ring's usual ink (1)."""
    colours = profiles.colours.astype(float)
    sheet = np.percentile(colours, _SHEET, axis=1)
    drop = sheet[:, None] - colours
    # The colour that ink takes away from the light; one direction for the whole ring.
    darkest = np.argmax(drop.sum(axis=2), axis=1)
    taken = np.median(drop[np.arange(len(drop)), darkest][profiles.seen], axis=0)
    taken = np.maximum(taken, 0.0)
    depth = drop @ (taken / max(float(taken @ taken), 1e-12))
    return np.where(profiles.seen[:, None], depth, 0.0)


def _sides(dip: Array, offsets: Array, at: NDArray[np.intp]) -> tuple[Array, Array]:
    """(N,) offsets of the inner and the outer side of the dip round `at`; NaN where cut off."""
    rows, columns = np.arange(len(dip)), np.arange(dip.shape[1])
    bottom = dip[rows, at]
    found = []
    for towards in (-1, 1):
        beyond = columns[None] * towards > (at * towards)[:, None]
        # The sheet's own level on this side, once past the blur.
        level = _beside_level(dip, offsets, at, towards)
        threshold = level + _DIP * (bottom - level)
        below = beyond & (dip < threshold[:, None])
        order = below if towards > 0 else below[:, ::-1]
        first = np.argmax(order, axis=1)
        first = first if towards > 0 else dip.shape[1] - 1 - first
        before = np.clip(first - towards, 0, dip.shape[1] - 1)
        high, low = dip[rows, before], dip[rows, first]
        part = np.clip((high - threshold) / np.maximum(high - low, 1e-12), 0.0, 1.0)
        place = offsets[before] + (offsets[first] - offsets[before]) * part
        clear = below.any(axis=1) & (level < _LEAST_DIP * bottom)
        found.append(np.where(clear, place, np.nan))
    return found[0], found[1]


def _beside_level(dip: Array, offsets: Array, at: NDArray[np.intp], towards: int) -> Array:
    """(N,) level of the sheet on one side of a dip: the lesser half of what lies there."""
    beyond = (offsets[None] - offsets[at][:, None]) * towards > 0
    values = np.where(beyond, dip, np.nan)
    empty = ~beyond.any(axis=1)
    values[empty, 0] = 0.0
    return np.asarray(np.nanpercentile(values, 100 - _SHEET, axis=1))


def _drawn_in(seen_px: float) -> tuple[float, float]:
    """How much nearer to its middle a stroke's side is than it looks, and how unsure that is.

    Args:
        seen_px: Width of the blurred stroke at half its depth.
    """
    likely, *others = (_true_width(seen_px, blur) for blur in _BLURS_PX)
    return (seen_px - likely) / 2, abs(others[1] - others[0]) / 4


def _true_width(seen_px: float, blur_px: float) -> float:
    """Width of the stroke whose Gaussian blur is so wide at half its depth."""
    widths = np.geomspace(0.1, 12.0, 40)
    at = np.linspace(0.0, 8.0, 81)
    outer, inner = (
        _normal((at[None] + sign * widths[:, None] / 2) / blur_px) for sign in (1.0, -1.0)
    )
    depth = outer - inner
    below = depth < depth[:, :1] / 2
    last = np.argmax(below, axis=1)
    rows = np.arange(len(widths))
    high, low = depth[rows, last - 1], depth[rows, last]
    part = (high - depth[:, 0] / 2) / (high - low)
    blurred = 2 * (at[last - 1] + (at[1] - at[0]) * part)
    return float(np.interp(seen_px, blurred, widths, right=seen_px))


def _normal(at: Array) -> Array:
    """The normal law's distribution function."""
    half_error = [0.5 + 0.5 * math.erf(x / math.sqrt(2)) for x in at.ravel()]
    return np.array(half_error).reshape(at.shape)


def _scatter(offset: Array) -> Array:
    """(N,) robust standard deviation of offsets about those of their neighbours on the ring."""
    index = np.arange(len(offset))[:, None] + np.arange(-_NEIGHBOURS, _NEIGHBOURS + 1)[None]
    around = offset[index % len(offset)]
    middle = np.median(around, axis=1)
    # 1.4826: from the median absolute deviation to the standard deviation of a normal law.
    spread = 1.4826 * np.median(np.abs(around - middle[:, None]), axis=1)
    return np.asarray(np.maximum(spread, np.abs(offset - middle)))
