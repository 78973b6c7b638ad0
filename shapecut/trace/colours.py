"""What colours the template and the floor have: smoothed histograms and their likelihood ratio."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.illumination import EVEN, Illumination

__all__ = [
    "ColourModel",
    "Histogram",
    "coherent_excess",
    "colour_bins",
    "floor_colours",
    "histogram",
    "log_ratio",
]

Histogram = NDArray[np.float64]
"""(16, 64, 64) shares over CIE L*, a*, b* bins; sums to 1 (or is all zero).  Colours
stronger than 64 in a* or b* share the outermost bins."""

Shade = tuple[float, float, float] | None
"""Light in the shadow of the sun as a fraction of that beside it, by channel; None without sun."""

_SHAPE = (16, 64, 64)
_SMOOTHING_PASSES = 2
"""Passes of a (1, 2, 1)/4 kernel along each axis: neighbouring colours support each other."""
_COHERENT_BINS = (2.0, 8.0, 8.0)
"""Standard deviation, in bins, of the colours that count as one material at first sight."""
_COHERENT_SHARE = 0.01
"""Share of the fullest colour's excess below which a colour is left out at first sight."""
_RATIO_LIMIT = 4.0
"""No cell alone says more than exp(4) for or against the template."""
_LEAST_SHARE = 1e-6
"""Share of a colour below which a model says nothing about it."""
_SHADED_SHARE = 0.1
"""Share of the floor's colours that is given to the floor in shadow."""
_SHADED_CELLS = 20_000
"""Cells of the floor that are shaded, about."""
_UNKNOWN_FLOOR = 3.0
"""How much likelier a colour that neither model knows is floor (glare, a shadow) than template."""


@dataclass(frozen=True)
class ColourModel:
    """What one picture's colours say about template and floor.

    Attributes:
        template: Colours of the template, its print included.
        floor: Colours of the floor.
        limit: Log ratio below which a colour is floor; print may be less likely than not under
            the template's colours and yet unlike the floor.
        light: How the light falls; the colours are those that even light would show.
    """

    template: Histogram
    floor: Histogram
    limit: float
    light: Illumination = EVEN

    def excess(self, rgb: NDArray[np.uint8]) -> NDArray[np.float32]:
        """Log ratio over the limit for an (H, W, 3) sRGB picture in even light.

        Positive is not floor.
        Zero where neither model knows the colour, such as a card's paper.
        """
        bins = colour_bins(rgb)
        known = (self.template + self.floor > _LEAST_SHARE).ravel()[bins]
        ratio = log_ratio(bins, self.template, self.floor)
        return np.where(known, ratio - self.limit, 0).astype(np.float32)


def colour_bins(rgb: NDArray[np.uint8]) -> NDArray[np.intp]:
    """The flat histogram bin of each cell of an (H, W, 3) sRGB picture."""
    lab = cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB)
    lightness, a, b = (lab[..., k].astype(np.intp) for k in range(3))
    a, b = (np.clip((c >> 1) - 32, 0, 63) for c in (a, b))
    return np.asarray(((lightness >> 4) * 64 + a) * 64 + b)


def histogram(bins: NDArray[np.intp]) -> Histogram:
    """The smoothed histogram of a flat array of bins."""
    counts = np.bincount(bins, minlength=int(np.prod(_SHAPE))).reshape(_SHAPE).astype(float)
    for _ in range(_SMOOTHING_PASSES):
        for axis in range(3):
            counts = _smoothed(counts, axis)
    return np.asarray(counts / max(len(bins), 1))


def floor_colours(rgb: NDArray[np.uint8], shade: Shade) -> Histogram:
    """The smoothed histogram of (N, 3) sRGB cells of the floor, and of the same in shadow.

    The shadow that the template itself throws is nowhere else on the floor.
    """
    lit = histogram(colour_bins(rgb[None])[0])
    if shade is None:
        return lit
    # The sRGB curve is nearly a power of 2.2, so that light scaled by k scales codes by k^(1/2.2).
    codes = rgb[:: max(1, len(rgb) // _SHADED_CELLS)] * np.array(shade) ** (1 / 2.2)
    shaded = histogram(colour_bins(np.round(codes).astype(np.uint8)[None])[0])
    return np.asarray((1 - _SHADED_SHARE) * lit + _SHADED_SHARE * shaded)


def _smoothed(counts: Histogram, axis: int) -> Histogram:
    padded = np.moveaxis(counts, axis, 0)
    padded = np.concatenate([padded[:1], padded, padded[-1:]])
    out = (padded[:-2] + 2 * padded[1:-1] + padded[2:]) / 4
    return np.moveaxis(out, 0, axis)


def coherent_excess(inside: Histogram, outside: Histogram) -> Histogram:
    """What `inside` has more of than `outside`: its fullest colour and those near it."""
    excess = np.maximum(inside - outside, 0.0)
    peak = np.unravel_index(int(np.argmax(excess)), _SHAPE)
    for axis, centre in enumerate(peak):
        offsets = (np.arange(_SHAPE[axis]) - centre) / _COHERENT_BINS[axis]
        window = np.exp(-0.5 * offsets**2)
        excess = excess * np.expand_dims(window, [k for k in range(3) if k != axis])
    # What is far from the fullest colour says nothing yet, even where the floor has none of it.
    excess[excess < _COHERENT_SHARE * excess.max()] = 0.0
    total = float(excess.sum())
    return np.asarray(excess / total if total > 0 else excess)


def log_ratio(bins: NDArray[np.intp], template: Histogram, floor: Histogram) -> NDArray[np.float32]:
    """Log likelihood ratio of template against floor for each cell.

    Args:
        bins: From `colour_bins`.
        template: Colours of the template.
        floor: Colours of the floor.
    """
    ratio = np.log((template + _LEAST_SHARE) / (floor + _UNKNOWN_FLOOR * _LEAST_SHARE))
    clipped = np.clip(ratio, -_RATIO_LIMIT, _RATIO_LIMIT).astype(np.float32)
    return np.asarray(clipped.ravel()[bins])
