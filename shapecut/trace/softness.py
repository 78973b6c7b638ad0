"""How soft a picture is where the boundary crosses it.

A soft picture (out of focus, reduced and enlarged again, denoised) is one of larger pixels: all
that is known in pixels, from the width of an edge to how far a crossing may be off, grows with its
blur.
"""

import math

import numpy as np

from shapecut.trace.edge_model import LUMINANCE
from shapecut.trace.profile import Profiles

__all__ = ["pixels_in_one"]

_ORDINARY_PX = 1.1
"""Greatest standard deviation of the blur at which a picture's own pixels are taken."""
_MODEL_PX = 0.8
"""Standard deviation of the blur, in pixels as taken, that edges are modelled with."""
_SOFTEST = 8.0
"""No more of a picture's pixels than this, along a side, are taken as one."""
_SIDE_SHARE = 0.25
"""Share of a profile at each end from which the levels of template and floor are read."""
_LEAST_CONTRAST = 0.02
"""Profiles of less contrast, in linear light, tell nothing."""
_LEAST_PROFILES = 12
"""Fewer profiles than this tell nothing."""


def pixels_in_one(profiles: Profiles) -> float:
    """How many of the picture's pixels to take as one, along a side; 1 for an ordinary picture.

    A step of height c blurred by a normal law of standard deviation s rises by at most
    c / (s √(2π)) a pixel.

    Args:
        profiles: As read in the picture's own pixels.
    """
    light = profiles.colours[profiles.seen].astype(float) @ LUMINANCE
    side = max(2, int(_SIDE_SHARE * light.shape[1]))
    contrast = np.abs(np.median(light[:, :side], axis=1) - np.median(light[:, -side:], axis=1))
    step = float(profiles.offsets_px[1] - profiles.offsets_px[0])
    slope = np.abs(light[:, 2:] - light[:, :-2]).max(axis=1) / (2 * step)
    telling = contrast > _LEAST_CONTRAST
    if telling.sum() < _LEAST_PROFILES:
        return 1.0
    spread = contrast[telling] / slope[telling] / math.sqrt(2 * math.pi)
    blur_px = float(np.median(spread))
    return 1.0 if blur_px <= _ORDINARY_PX else min(blur_px / _MODEL_PX, _SOFTEST)
