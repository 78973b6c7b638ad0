"""Mirrored light: patches that are whiter than template and floor and fade away all round.

What a smooth place mirrors adds to its colour, most in the middle of the patch, and hides it there;
farther out it only pales it.  White things end at once where glare fades.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.cell_masks import eroded, grown, opened, patches
from shapecut.trace.profile import linear_light
from shapecut.trace.raster import LaidPhoto, Mask

__all__ = ["Glare", "glare"]

_USUAL, _STEP = 0.85, 25
"""Glare is whiter (in the least of red, green and blue) than this share of the template and of the
floor, by more than so many code values; white tape and print take up a tenth."""
_HALO_MARGIN = 60
"""Cells round a patch of glare that its halo may reach at most."""
_PEAK_PERCENTILE = 95
"""Percentile of a core's light that is taken as its peak."""
_FAINT = 0.03
"""Mirrored light, of white, that hardly changes a colour."""
_WIDEST_HALO = 2.5
"""Its halo is at most so many times as wide as its core."""
_WITHIN_CELLS = (2.5, 5.5)
"""How far within its rim a core's slope is compared with the rim's, cells."""
_FADES = 0.45
"""Least ratio of these slopes: about 1 in a bell of light, nearly nothing in a white thing."""


@dataclass(frozen=True)
class Glare:
    """Where a picture shows mirrored light.

    Attributes:
        core: Cells where it hides what is there.
        whole: These, and where it pales the colours.
    """

    core: Mask
    whole: Mask


def glare(picture: LaidPhoto, free: Mask, template: Mask, floor: Mask) -> Glare:
    """Mirrored light in a picture.

    Args:
        picture: In even light, on the raster.
        free: Cells that it shows, and no card's paper.
        template: Cells of the template, without others.
        floor: Cells of the floor, without others.
    """
    found = Glare(np.zeros_like(free), np.zeros_like(free))
    red, green, blue = cv2.split(picture.rgb)
    codes = np.asarray(cv2.min(cv2.min(red, green), blue), np.uint8)
    parts = [_counts(codes, part) for part in (template, floor) if part.any()]
    if not parts:
        return found
    usual = max(_quantile(part, _USUAL) for part in parts)
    bright = free & (codes > min(usual + _STEP, 255))
    if not bright.any():
        return found
    light = linear_light()
    ground = float(light[max(_quantile(part, 0.5) for part in parts)])
    least = float(light[min(usual + _STEP, 255)]) - ground
    white = np.asarray(cv2.LUT(codes, light), np.float32)
    for window, core in patches(opened(bright, 2), margin=_HALO_MARGIN):
        if _fades(white[window], core):
            found.core[window] |= core
            found.whole[window] |= grown(core, _halo(white[window][core] - ground, least))
    return found


def _counts(codes: NDArray[np.uint8], part: Mask) -> NDArray[np.float32]:
    """(256,) how often each code value occurs in a part."""
    counts = cv2.calcHist([codes], [0], part.astype(np.uint8), [256], [0, 256])
    return np.asarray(counts, np.float32).ravel()


def _quantile(counts: NDArray[np.float32], share: float) -> int:
    """The code value that this share of the values counted are no more than."""
    below = np.cumsum(counts)
    return int(np.searchsorted(below, share * below[-1]))


def _fades(white: NDArray[np.float32], core: Mask) -> bool:
    """Whether light falls as steeply within a core as at its rim, where a thing's ends at once."""
    smooth = cv2.GaussianBlur(white, (0, 0), 1.0)
    slope = np.hypot(cv2.Sobel(smooth, cv2.CV_32F, 1, 0), cv2.Sobel(smooth, cv2.CV_32F, 0, 1))
    rim = grown(core, 1) & ~eroded(core, 1)
    low, high = _WITHIN_CELLS
    within = eroded(core, low) & ~eroded(core, high)
    within = within if within.any() else core & ~rim
    return bool(within.any() and np.median(slope[within]) > _FADES * np.median(slope[rim]))


def _halo(excess: NDArray[np.float32], least: float) -> int:
    """How many cells the halo of a core reaches beyond it, as a bell's of light would.

    A bell of peak p falls to q at sqrt(2 ln(p/q)) standard deviations.
    """
    peak = float(np.percentile(excess, _PEAK_PERCENTILE))
    wider = math.sqrt(math.log(max(peak / _FAINT, 1.0)) / math.log(max(peak / least, 1.05)))
    radius = math.sqrt(len(excess) / math.pi)
    return 2 + round((min(max(wider, 1.0), _WIDEST_HALO) - 1) * radius)
