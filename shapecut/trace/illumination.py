"""How the light falls across the floor, so that shadows do not pass for colours.

Light changes in straight bands where the shadow of a railing, a roof or a wall crosses the plane,
and slowly besides.  Both go on beyond the template, so that the floor round about tells them: the
bands as a profile across one direction, in which the floor's own light varies least within each
band, the slow change as a polynomial of the second degree.  Dividing by that light
gives colours as they would be in even light, on the template too (the idea of intrinsic images:
H. Barrow and J. Tenenbaum, "Recovering intrinsic scene characteristics from images", 1978).
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

from shapecut.trace.profile import Profiles, linear_light
from shapecut.trace.raster import LaidPhoto, Mask, Points, Raster

__all__ = ["EVEN", "Illumination", "floor_lights", "in_even_light", "relit"]

Array = NDArray[np.float64]

_SAMPLES = 20_000
"""Cells of the floor that the light is learned from, at most."""
_LEAST_SAMPLES = 500
"""From fewer the light is taken as even."""
_BAND_MM = 8.0
"""Width of the bins across the bands of shadow while their direction is looked for, mm."""
_PROFILE_MM = 3.0
"""Width of the bins of the profile across them, mm."""
_COARSE_STEPS, _FINE_STEPS = 180, 21
"""Directions tried over half a turn, and again within a step on each side of the best."""
_EDGE_MM = 160.0
"""A shadow's edge goes from light to dark over less than this, mm."""
_LEAST_STEP = 0.6
"""Change of log light at such an edge, at least: boards and tiles differ by a tenth or two."""
_LEAST_EXPLAINED = 0.2
"""Share of the variance of the floor's log light that bands of shadow explain, at least, on the
other side of the template from where they were learned."""
_FULL_BIN = 0.3
"""Bins of the profile with less than this share of the usual number of cells tell nothing."""
_DARK_PERCENTILE = 8
"""That of the profile's values which is well in the shadow."""
_LIGHTEST_SHADE = 0.52
"""Light in the sun's shadow as a fraction of that beside it, at most: the sky gives a fifth to two
fifths; darker boards side by side reach less far down."""
_NARROWEST_MM = 15.0
"""Bands narrower than this are joints of the floor, mm."""
_DARKEST = 0.004
"""Light below this is noise, as a fraction of white."""


@dataclass(frozen=True)
class Illumination:
    """Light over the plane, relative to what is usual on the floor.

    Attributes:
        slow: (3, 6) coefficients of the log light of each channel for 1, x, y, x², xy and y², where
            x and y are in `unit_mm` from `centre_mm`.
        centre_mm: Where the polynomial is centred.
        unit_mm: Its unit of length.
        normal: (2,) unit vector across the bands.
        first_mm: Where along the normal the profile begins.
        profile: (N, 3) log light at steps of `_PROFILE_MM`; empty in even light.
    """

    slow: Array
    centre_mm: tuple[float, float]
    unit_mm: float
    normal: tuple[float, float]
    first_mm: float
    profile: Array

    def log_light(self, places: Points) -> Array:
        """(..., 3) log light at (..., 2) plane mm."""
        x, y = np.moveaxis((places - np.array(self.centre_mm)) / self.unit_mm, -1, 0)
        # Beyond where the floor was seen a polynomial runs away.
        x, y = np.clip(x, -1, 1), np.clip(y, -1, 1)
        light = np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1) @ self.slow.T
        if len(self.profile):
            light += _between(places @ np.array(self.normal), self.first_mm, self.profile)
        return np.asarray(light)

    @property
    def shade(self) -> tuple[float, float, float] | None:
        """Light in the shadow of the sun as a fraction of that beside it; None without bands."""
        if not len(self.profile):
            return None
        red, green, blue = _darkest(self.profile)
        return float(red), float(green), float(blue)


EVEN = Illumination(np.zeros((3, 6)), (0.0, 0.0), 1.0, (1.0, 0.0), 0.0, np.zeros((0, 3)))
"""The same light everywhere."""


def _codes() -> NDArray[np.uint8]:
    light = np.arange(4096) / 4095
    code = np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.round(255 * code).astype(np.uint8)


_CODES = _codes()
"""sRGB code value of linear light in steps of 1/4095."""


def relit(picture: LaidPhoto, raster: Raster, light: Illumination) -> LaidPhoto:
    """A picture on the raster as it would be in even light."""
    if light is EVEN:
        return picture
    rows, columns = picture.seen.shape
    cells = np.stack(np.meshgrid(np.arange(columns), np.arange(rows)), axis=-1)
    log_light = light.log_light(raster.mm_from_cells(cells.astype(float)))
    even = cv2.LUT(picture.rgb, linear_light()) * np.exp(-log_light).astype(np.float32)
    last = len(_CODES) - 1
    return replace(picture, rgb=_CODES[np.clip(even * last, 0, last).astype(np.intp)])


def in_even_light(profiles: Profiles, light: Illumination) -> Profiles:
    """Profiles of a picture as they would be in even light."""
    if light is EVEN:
        return profiles
    fallen = np.exp(light.log_light(profiles.places_mm()))
    return replace(profiles, colours=(profiles.colours / fallen).astype(np.float32))


def floor_lights(
    picture: LaidPhoto, raster: Raster, floor: Mask
) -> tuple[Illumination, Illumination]:
    """Ways in which the light may fall, learned from cells that are mostly floor.

    Args:
        picture: Laid on the raster.
        raster: The raster.
        floor: Cells that show floor for the most part, on all sides of the template.

    Returns:
        The likelier way, bands of shadow or, where none cross the floor, `EVEN` light; and light
        that changes slowly.  A slow change is told by floor far from the template, where a lamp's
        or a window's light goes on otherwise than near it: it misleads more often than it helps.
    """
    rows, columns = np.nonzero(floor)
    if len(rows) < _LEAST_SAMPLES:
        return EVEN, EVEN
    thin = slice(None, None, max(1, len(rows) // _SAMPLES))
    rows, columns = rows[thin], columns[thin]
    places = raster.mm_from_cells(np.column_stack([columns, rows]).astype(float))
    smooth = cv2.LUT(cv2.blur(picture.rgb, (3, 3)), linear_light())[rows, columns]
    light = np.log(np.maximum(smooth, _DARKEST)).astype(float)
    low, high = places.min(axis=0), places.max(axis=0)
    x, y = (float(v) for v in (low + high) / 2)
    unit = float((high - low).max() / 2)
    at = (places - (x, y)) / unit
    change, remainder = _slow_change(at, light)
    slow = replace(EVEN, slow=change, centre_mm=(x, y), unit_mm=unit)
    normal = _across_bands(places, remainder.mean(axis=1))
    across, along = places @ normal, places @ np.array([-normal[1], normal[0]])
    if (
        _goes_through(across, along, light.mean(axis=1)) < _LEAST_EXPLAINED
        or _step(_profile(across, remainder)[1]) < _LEAST_STEP
        or _darkest(_profile(across, light)[1]).mean() > _LIGHTEST_SHADE
    ):
        return EVEN, slow
    first, profile = _profile(across, light)
    change, _ = _slow_change(at, light - _between(across, first, profile))
    way = (float(normal[0]), float(normal[1]))
    return replace(slow, slow=change, normal=way, first_mm=first, profile=profile), slow


def _slow_change(at: Points, light: Array) -> tuple[Array, Array]:
    """(3, 6) polynomial of the log light at (N, 2) without its level, and what (N, 3) remains."""
    x, y = at.T
    terms = np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])
    kept = np.ones(len(x), bool)
    for _ in range(3):
        slow = np.linalg.lstsq(terms[kept], light[kept], rcond=None)[0]
        off = np.abs(light - terms @ slow).max(axis=1)
        kept = off <= 2 * np.median(off) + 1e-9
    remainder = light - terms @ slow
    slow[0] = 0.0
    return np.asarray(slow.T), remainder


def _across_bands(places: Points, light: Array) -> Array:
    """The direction, a unit vector, across which the light varies most."""

    def explained(turn: float) -> float:
        across = places @ np.array([np.cos(turn), np.sin(turn)])
        bins = ((across - across.min()) / _BAND_MM).astype(int)
        count = np.bincount(bins)
        mean = np.bincount(bins, light) / np.maximum(count, 1)
        return float(np.sum(count * (mean - light.mean()) ** 2))

    step = np.pi / _COARSE_STEPS
    turn = max((step * k for k in range(_COARSE_STEPS)), key=explained)
    turn = max((turn + step * k for k in np.linspace(-1, 1, _FINE_STEPS)), key=explained)
    return np.array([np.cos(turn), np.sin(turn)])


def _goes_through(across: Array, along: Array, light: Array) -> float:
    """Share of the variance on either half of the floor that the bands of the other half explain.

    What lies on one side of the template only is no band of shadow, and may not be floor.
    """
    bins = ((across - across.min()) / _BAND_MM).astype(int)
    halves = (along > np.median(along), along <= np.median(along))
    left, total = 0.0, 0.0
    for here, there in (halves, halves[::-1]):
        count = np.bincount(bins[there], minlength=bins.max() + 1)
        mean = np.bincount(bins[there], light[there], bins.max() + 1) / np.maximum(count, 1)
        told = here & (count[bins] > 0)
        left += float(np.sum((light[told] - mean[bins[told]]) ** 2))
        total += float(np.sum((light[told] - light[told].mean()) ** 2))
    return 1 - left / max(total, 1e-12)


def _profile(across: Array, light: Array) -> tuple[float, Array]:
    """Where the profile across the bands begins, and its (N, 3) log light, nought where bright."""
    first = float(across.min())
    bins = ((across - first) / _PROFILE_MM).astype(int)
    order = np.argsort(bins, kind="stable")
    ends = np.searchsorted(bins[order], np.arange(bins.max() + 2))
    least = _FULL_BIN * float(np.median(np.diff(ends)))
    profile = np.full((bins.max() + 1, 3), np.nan)
    for at, (low, high) in enumerate(pairwise(ends)):
        if high - low > least:
            profile[at] = np.median(light[order[low:high]], axis=0)
    known = np.flatnonzero(np.isfinite(profile[:, 0]))
    steps = np.arange(len(profile))
    filled = np.stack([np.interp(steps, known, profile[known, k]) for k in range(3)], axis=1)
    wide = 2 * round(_NARROWEST_MM / _PROFILE_MM / 2) + 1
    filled = np.stack([_without_narrow(filled[:, k], wide) for k in range(3)], axis=1)
    return first + _PROFILE_MM / 2, filled - np.percentile(filled, 75, axis=0)


def _without_narrow(profile: Array, wide: int) -> Array:
    """A profile without what is narrower than so many steps, dark or bright: a running median."""
    padded = np.pad(profile, wide // 2, mode="edge")
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, wide), axis=1)


def _step(profile: Array) -> float:
    """Greatest change of a profile over so short a way that it is a shadow's edge."""
    light = profile.mean(axis=1)
    wide = min(round(_EDGE_MM / _PROFILE_MM), len(profile) - 1)
    near = np.lib.stride_tricks.sliding_window_view(light, wide + 1)
    low, high = np.percentile(near, [15, 85], axis=1)
    return float(np.max(high - low))


def _darkest(profile: Array) -> Array:
    """(3,) light well in the shadow, as a fraction of the bright part's."""
    return np.asarray(np.exp(np.percentile(profile, _DARK_PERCENTILE, axis=0)))


def _between(across: Array, first_mm: float, profile: Array) -> Array:
    """(..., 3) log light of a profile at (...) distances along its normal."""
    at, steps = (across - first_mm) / _PROFILE_MM, np.arange(len(profile))
    return np.stack([np.interp(at, steps, profile[:, k]) for k in range(3)], axis=-1)
