"""Where the top edge lies in profiles that show the cut face below it.

From the template outward such a profile has three levels of light: top, cut face, floor.  How wide
the face is follows from the thickness and the camera; how bright it is does not.  Profiles along an
edge are laid on each other by where their light changes, and the model is compared with their mean
for every place of the top edge, every brightness of the face and a few blurs.  The cut face is of
the template's own colour in another light, which tells it from the floor; where it can not be told,
the places of the top edge that explain the profile nearly as well make up the doubt.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["TopEdge", "mean_profile", "top_edge"]

Array = NDArray[np.float64]

_STEP_PX = 0.1
"""Distance between the places of the top edge that are tried, pixels."""
_ROOM_PX = 1.0
"""How far beyond the face as seen the top edge may lie from the change of light, pixels."""
_INNER_PX, _OUTER_PX = 5.0, 4.0
"""How far the model reaches into the template and out over the floor, pixels."""
_BLURS_PX = (0.7, 1.0, 1.4)
"""Standard deviations of the blur that are tried, pixels."""
_SHADES = np.geomspace(0.04, 1.6, 22)
"""Brightness of a cut face, as a fraction of the top's, in shade and in light."""
_SHADE, _SHADE_SPREAD = 0.85, 0.4
"""What that fraction is likely to be in the light that the floor beside it has: its middle, and the
standard deviation of its logarithm."""
_TINT_SPREAD, _LEAST_TINT = 0.12, 0.004
"""Standard deviation by which a channel of the face departs from the top's colour in its light, as
a fraction of that light and at least, in linear light."""
_CHANNELS = np.array(
    [[0.2126, 0.7152, 0.0722], [0.7874, -0.7152, -0.0722], [-0.2126, -0.7152, 0.9278]]
)
"""Luminance of linear sRGB (IEC 61966-2-1), and red and blue without it."""
_MODEL_SHARES = (0.03, 0.08, 0.08)
"""Standard deviation, by channel, of what the model cannot explain (sharpening, tone curves, colour
kept at half the resolution), as a fraction of the step from floor to template."""


@dataclass(frozen=True)
class TopEdge:
    """The top edge relative to where light changes.

    Attributes:
        shift_px: Outward (so mostly negative, at most the face's width).
        u_px: Standard uncertainty.
    """

    shift_px: float
    u_px: float


def mean_profile(colours: NDArray[np.float32], offsets_px: Array, change_px: Array) -> Array:
    """Mean (K, 3) of profiles (N, K, 3) once each is shifted so that its change lies at 0."""
    total = np.zeros(colours.shape[1:])
    for profile, change in zip(colours, change_px, strict=True):
        at = offsets_px + change
        for k in range(3):
            total[:, k] += np.interp(at, offsets_px, profile[:, k])
    return total / len(colours)


def top_edge(profile: Array, offsets_px: Array, face_px: float, *, floor_light: float) -> TopEdge:
    """The top edge in a mean profile.

    Args:
        profile: (K, 3) linear light, the change of light at offset 0.
        offsets_px: (K,) outward, pixels.
        face_px: Width of the cut face as the picture shows it.
        floor_light: Luminance of the floor where the template casts no shadow.
    """
    light = profile @ _CHANNELS.T
    deep = light[offsets_px < -face_px - 2.0][-8:].mean(axis=0)
    beside = (offsets_px > face_px + 1.5) & (offsets_px < face_px + _OUTER_PX)
    floor = light[beside].mean(axis=0)
    # Where the template shades the floor, it shades the face above it.
    lit = min(1.0, float(floor[0]) / max(floor_light, 1e-6))
    off_shade = (np.log(_SHADES / (_SHADE * max(lit, float(_SHADES[0])))) / _SHADE_SPREAD) ** 2
    window = (offsets_px >= -_INNER_PX - face_px) & (offsets_px <= _OUTER_PX + face_px)
    unexplained = np.array(_MODEL_SHARES) * float(np.abs(deep - floor).max()) + 1e-4
    places = np.arange(-face_px - _ROOM_PX, _ROOM_PX + _STEP_PX / 2, _STEP_PX)
    chi2 = np.stack(
        [
            _misfits(light[window], offsets_px[window], places, face_px, blur, deep, unexplained)
            for blur in _BLURS_PX
        ]
    )
    likelihood = np.exp(-0.5 * (chi2 + off_shade - (chi2 + off_shade).min())).sum(axis=(0, 2))
    likelihood /= likelihood.sum()
    mean = float(likelihood @ places)
    return TopEdge(mean, math.sqrt(float(likelihood @ (places - mean) ** 2)))


def _misfits(
    light: Array,
    at: Array,
    places: Array,
    face_px: float,
    blur_px: float,
    deep: Array,
    unexplained: Array,
) -> Array:
    """(places, shades) least chi-square of levels and slopes, the face's level held by its prior.

    Levels and slopes are fitted without the prior; then the face's level, as fitted, is compared
    with the prior's, the variances of both together (the same minimum as of the sum of both).
    """
    reach = at[None] - places[:, None]
    top = _covered(-reach, blur_px)
    floor = 1 - _covered(face_px - reach, blur_px)
    columns = np.stack(
        [top, top * reach, 1 - top - floor, floor, floor * (reach - face_px)], axis=2
    )
    turned = np.swapaxes(columns, 1, 2)
    inverse = np.linalg.inv(turned @ columns + 1e-6 * np.eye(5))
    right = turned @ light
    best = inverse @ right
    misfit = np.sum(light**2, axis=0) - np.einsum("pic,pic->pc", right, best)
    # Without the prior the face's level would be `best` with variance `loose`.
    loose = inverse[:, 2, 2][:, None, None] * unexplained**2
    faces = _SHADES[:, None] * deep
    spread = np.maximum(_TINT_SPREAD * np.abs(_SHADES)[:, None] * np.abs(deep).max(), _LEAST_TINT)
    missed = (best[:, 2][:, None] - faces[None]) ** 2 / (loose + spread[None] ** 2)
    return np.asarray((misfit / unexplained**2).sum(axis=1)[:, None] + missed.sum(axis=2))


def _covered(at: Array, blur_px: float) -> Array:
    """Share of light from the near side of a blurred edge, `at` pixels before it."""
    # The logistic curve of this width stays within 0.01 of the normal law's.
    return np.asarray(1 / (1 + np.exp(-np.clip(1.702 * at / blur_px, -50, 50))))
