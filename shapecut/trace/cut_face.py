"""Where the top edge lies in profiles that show the cut face below it.

From the template outward such a profile has three levels of light: top, cut face, floor.  How wide
the face is follows from the thickness and the camera; how bright it is does not.  Profiles along an
edge are laid on each other by where their light changes, and the model is compared with their mean
for every place of the top edge, every brightness of the face and a few blurs.  The cut face is of
the template's own colour in another light, which tells it from the floor; where it can not be told,
the places of the top edge that explain the profile nearly as well make up the doubt.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["TopEdge", "edge_blurs_px", "mean_profile", "top_edge"]

Array = NDArray[np.float64]

_STEP_PX = 0.1
"""Distance between the places of the top edge that are tried, pixels."""
_ROOM_PX = 1.0
"""How far beyond the face as seen the top edge may lie from the change of light, pixels."""
_INNER_PX, _OUTER_PX = 5.0, 4.0
"""How far the model reaches into the template and out over the floor, pixels."""
_BLURS_PX = (0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.25, 1.4, 1.6)
"""Standard deviations of the blur that are tried, pixels."""
_BLUR_SPREAD = (0.93, 1.0, 1.07)
"""Factors between the blur of edges that show no cut face, and the blur that others may have."""
_WIDER = 1.15
"""By what factor the face is widened to see how the top edge depends on its width."""
_BEHIND_PX, _BESIDE_PX = 2.0, 1.5
"""How far from the face as seen the levels of the template and of the floor are read, pixels."""
_SHADES = np.geomspace(0.04, 1.6, 22)
"""Brightness of a cut face, as a fraction of the top's, in shade and in light."""
_SHADE, _SHADE_SPREAD = 0.75, 0.45
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
        per_face: How far it moves outward per pixel that the face is wider than was said.
    """

    shift_px: float
    u_px: float
    per_face: float


def mean_profile(colours: NDArray[np.float32], offsets_px: Array, change_px: Array) -> Array:
    """Mean (K, 3) of profiles (N, K, 3) once each is shifted so that its change lies at 0."""
    step = float(offsets_px[1] - offsets_px[0])
    at = (offsets_px[None] + change_px[:, None] - offsets_px[0]) / step
    low = np.clip(np.floor(at).astype(int), 0, len(offsets_px) - 2)
    part = np.clip(at - low, 0.0, 1.0)[..., None]
    rows = np.arange(len(colours))[:, None]
    shifted = colours[rows, low] * (1 - part) + colours[rows, low + 1] * part
    return np.asarray(shifted.mean(axis=0), float)


def edge_blurs_px(profiles: Sequence[Array], offsets_px: Array) -> tuple[float, ...]:
    """The blurs to reckon with in a picture, from edges of it that show no cut face.

    Args:
        profiles: (K, 3) mean profiles of such edges; where there are none, any blur may be.
        offsets_px: (K,) outward, pixels.
    """
    if not profiles:
        return _BLURS_PX
    near = np.abs(offsets_px) <= _OUTER_PX
    places = np.arange(-_ROOM_PX, _ROOM_PX + _STEP_PX / 2, _STEP_PX)
    best = []
    for profile in profiles:
        light = (profile @ _CHANNELS.T)[near, :1]
        misfits = [_fitted(light, offsets_px[near], places, 0.0, b)[0].min() for b in _BLURS_PX]
        best.append(_BLURS_PX[int(np.argmin(misfits))])
    return tuple(float(np.median(best)) * factor for factor in _BLUR_SPREAD)


def top_edge(
    profile: Array,
    offsets_px: Array,
    face_px: float,
    *,
    floor_light: float,
    blurs_px: Sequence[float],
) -> TopEdge | None:
    """The top edge in a mean profile; None where the face reaches over an end of it.

    Args:
        profile: (K, 3) linear light, the change of light at offset 0.
        offsets_px: (K,) outward, pixels.
        face_px: Width of the cut face as the picture shows it; 0 where it shows none.
        floor_light: Luminance of the floor where the template casts no shadow.
        blurs_px: Standard deviations of the blur to reckon with, equally likely.
    """
    wider = face_px * _WIDER
    if not _shows_both_sides(offsets_px, wider):
        return None
    shift, u = _likely_place(profile, offsets_px, face_px, floor_light, blurs_px)
    if face_px == 0:
        return TopEdge(shift, u, 0.0)
    moved, _ = _likely_place(profile, offsets_px, wider, floor_light, blurs_px)
    return TopEdge(shift, u, (moved - shift) / (wider - face_px))


def _shows_both_sides(offsets_px: Array, face_px: float) -> bool:
    """Whether profiles show the template behind a face of this width, and the floor before it."""
    behind, beside = offsets_px[0] + face_px, offsets_px[-1] - face_px
    return bool(behind < -_BEHIND_PX and beside > _BESIDE_PX + _ROOM_PX)


def _likely_place(
    profile: Array,
    offsets_px: Array,
    face_px: float,
    floor_light: float,
    blurs_px: Sequence[float],
) -> tuple[float, float]:
    """Mean and standard deviation of the top edge's place, by the likelihood of every place."""
    light = profile @ _CHANNELS.T
    deep = light[offsets_px < -face_px - _BEHIND_PX][-8:].mean(axis=0)
    beside = (offsets_px > face_px + _BESIDE_PX) & (offsets_px < face_px + _OUTER_PX)
    floor = light[beside].mean(axis=0)
    # Where the template shades the floor, it shades the face above it.
    lit = min(1.0, float(floor[0]) / max(floor_light, 1e-6))
    likely = math.log(_SHADE * max(lit, float(_SHADES[0])))
    off_shade = ((np.log(_SHADES) - likely) / _SHADE_SPREAD) ** 2
    window = (offsets_px >= -_INNER_PX - face_px) & (offsets_px <= _OUTER_PX + face_px)
    unexplained = np.array(_MODEL_SHARES) * float(np.abs(deep - floor).max()) + 1e-4
    places = np.arange(-face_px - _ROOM_PX, _ROOM_PX + _STEP_PX / 2, _STEP_PX)
    chi2 = off_shade + np.stack(
        [
            _misfits(light[window], offsets_px[window], places, face_px, blur, deep, unexplained)
            for blur in blurs_px
        ]
    )
    likelihood = np.exp(-0.5 * (chi2 - chi2.min())).sum(axis=(0, 2))
    likelihood /= likelihood.sum()
    mean = float(likelihood @ places)
    return mean, math.sqrt(float(likelihood @ (places - mean) ** 2))


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
    misfit, best, inverse = _fitted(light, at, places, face_px, blur_px)
    # Without the prior the face's level would be `best` with variance `loose`.
    loose = inverse[:, 2, 2][:, None, None] * unexplained**2
    faces = _SHADES[:, None] * deep
    spread = np.maximum(_TINT_SPREAD * np.abs(_SHADES)[:, None] * np.abs(deep).max(), _LEAST_TINT)
    missed = (best[:, 2][:, None] - faces[None]) ** 2 / (loose + spread[None] ** 2)
    return np.asarray((misfit / unexplained**2).sum(axis=1)[:, None] + missed.sum(axis=2))


def _fitted(
    light: Array, at: Array, places: Array, face_px: float, blur_px: float
) -> tuple[Array, Array, Array]:
    """Squared misfit (places, channels), levels and slopes (places, 5, channels), inverse normals.

    Unknowns are the top's level and slope, the face's level, the floor's level and slope.
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
    return misfit, best, np.asarray(inverse, float)


def _covered(at: Array, blur_px: float) -> Array:
    """Share of light from the near side of a blurred edge, `at` pixels before it."""
    # The logistic curve of this width stays within 0.01 of the normal law's.
    return np.asarray(1 / (1 + np.exp(-np.clip(1.702 * at / blur_px, -50, 50))))
