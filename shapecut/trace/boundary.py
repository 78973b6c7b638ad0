"""Where the boundary crosses each profile, to a fraction of a pixel."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.colours import ColourModel
from shapecut.trace.cut_face import edge_blurs_px, mean_profile, top_edge
from shapecut.trace.edge_model import LUMINANCE, edge_offsets
from shapecut.trace.illumination import in_even_light
from shapecut.trace.own_shadow import SUN_PX, beside_own_shadow
from shapecut.trace.profile import Profiles

__all__ = ["Crossings", "rough_crossings", "sharp_crossings"]

_SIDE_SHARE = 0.3
"""Share of a profile at each end from which the levels of template and floor are learned."""
_NEIGHBOURS = 7
"""Stations on each side that share their levels."""
_BLEED_PX = 3.0
"""How far the template's colour bleeds over the floor beside it, pixels: pictures keep colour at
half the resolution."""
_GUARD_PX = 1.5
"""Half width of the blur round a crossing that is kept out of the local levels, pixels."""
_LEVEL_PX = 4.0
"""Width of the stretch beside the guard from which the local levels are read, pixels."""
_PLACE_PX = 0.06
"""Standard uncertainty of a crossing in perfect contrast, pixels."""
_SHARED_PX = 0.06
"""What all crossings of an edge may be off together (sharpening, tone curve, shadow), pixels."""
_SHARED_SCATTER = 0.35
"""What the crossings of an edge err together, as a share of their scatter: where the boundary is
hard to see (print at the edge, a seam of the floor along it), neighbours go astray alike."""
_COLOUR_END_PX = 1.0
"""What the places where colour ends may be off together, pixels: pictures keep colour at half the
resolution."""
_LEAST_FACE_PX = 0.1
"""Cut faces seen less wide than this are not looked for, pixels."""
_LEAST_STRAY_PX = 1.0
"""Changes of light nearer than this to the rest of their edge's go along with them, pixels."""
_FAR_PLACES = 6
"""Places at a profile's outer end that show the floor clear of the template's shadow."""
_LEAST_STATIONS = 2 * _NEIGHBOURS + 1
"""Fewer crossings than this on a ring are left as colour shows them."""
_PULL = 0.3
"""Evidence against each pixel of distance from a station that follows the boundary already: less
than a pixel of template or floor gives."""
_LEAST_STEP = 0.3
"""A crossing's step, as a share of the step from floor to template, below which it is not one."""


@dataclass(frozen=True)
class Crossings:
    """The boundary in one picture's profiles.

    Attributes:
        offset_px: (N,) outward from the station, pixels; NaN where none was found.
        u_px: (N,) standard uncertainty of each by itself, pixels; infinite where none was found.
        shared_u_px: (N,) that of what the crossings of an edge have in common, pixels.
        per_face: (N,) how far the crossing moves outward per pixel that the cut face in sight is
            wider than was said.
    """

    offset_px: NDArray[np.float64]
    u_px: NDArray[np.float64]
    shared_u_px: NDArray[np.float64]
    per_face: NDArray[np.float64]


def rough_crossings(
    profiles: Profiles, colours: ColourModel, face_mm: NDArray[np.float64]
) -> Crossings:
    """Find where each profile leaves the template, by its colours.

    Args:
        profiles: Across a ring of stations, in ring order.
        colours: What the whole picture's colours say; they tell print from floor.
        face_mm: (N,) width of the cut face as seen from the camera.
    """
    return _crossings_by_colour(profiles, colours, face_mm, pull=0.0)


def _crossings_by_colour(
    profiles: Profiles, colours: ColourModel, face_mm: NDArray[np.float64], *, pull: float
) -> Crossings:
    """As `rough_crossings`; `pull` is the evidence against each pixel of distance from a station.

    Where print reaches the boundary several places are nearly as likely, and the nearest is right.
    """
    profiles = in_even_light(profiles, colours.light)
    likeness, noise = _likeness(profiles)
    everywhere = np.ones(likeness.shape, bool)
    astray = pull * np.abs(profiles.offsets_px)
    excess = -np.clip(colours.excess(profiles.srgb()).astype(float), -1, 1)
    end = _change(excess, everywhere, astray)
    # A cut face, or colour that bleeds, may pass for print just outside the template.
    back = profiles.offsets_px[end][:, None] - profiles.offsets_px
    face_px = (face_mm / profiles.mm_per_px)[:, None]
    allowed = (back > -_BLEED_PX) & (back < face_px + _BLEED_PX)
    place = _change(np.clip(1 - 2 * likeness, -1, 1), allowed, astray)
    offset, u = _sharpened(profiles, likeness, noise, place)
    # The top edge lies anywhere within the face as seen.
    return Crossings(offset, u, face_px[:, 0] / np.sqrt(12), np.zeros(len(offset)))


def sharp_crossings(
    profiles: Profiles, colours: ColourModel, face_mm: NDArray[np.float64]
) -> Crossings:
    """Find the top edge by light, nearest to where colour leaves the template.

    Args:
        profiles: Across a ring of stations that already follow the boundary within a few pixels.
        colours: As for `rough_crossings`.
        face_mm: As for `rough_crossings`.
    """
    rough = _crossings_by_colour(profiles, colours, face_mm, pull=_PULL)
    found = np.isfinite(rough.offset_px)
    if found.sum() < _LEAST_STATIONS:
        return rough
    offset = rough.offset_px.copy()
    offset[found] = edge_offsets(
        profiles.colours[found], profiles.offsets_px, rough.offset_px[found]
    )
    found &= np.isfinite(offset)
    if found.sum() < _LEAST_STATIONS:
        return rough
    face_px = face_mm / profiles.mm_per_px
    sunny = colours.light.shade is not None
    shadowed = np.zeros(len(offset), bool)
    if sunny:
        even = in_even_light(profiles, colours.light)
        shadowed, end_px = beside_own_shadow(even, colours, offset, found, face_px)
        offset = np.where(shadowed, end_px, offset)
    u_px = np.full(len(offset), np.inf)
    u_px[found] = np.hypot(_PLACE_PX, _scatter(offset[found]))
    stray_px = _stray(profiles, offset, found, face_px)
    near = np.where(found & (stray_px == 0), u_px, np.inf)
    shift, shared, per_face = _to_top_edge(profiles, offset, near, face_px)
    shift = np.where(shadowed, 0.0, shift)
    shared = np.hypot(shared, np.where(shadowed, _COLOUR_END_PX, SUN_PX if sunny else 0.0))
    told = np.isfinite(shift)
    return Crossings(
        offset + shift, np.where(told, np.hypot(u_px, stray_px), np.inf), shared, per_face
    )


def _stray(
    profiles: Profiles,
    change_px: NDArray[np.float64],
    found: NDArray[np.bool_],
    face_px: NDArray[np.float64],
) -> NDArray[np.float64]:
    """(N,) how far changes of light are from most of their edge's, where a cut face is in sight.

    Such a profile has two changes, at the top and at the bottom edge, and the others took the other
    one.  Zero for those that go along.
    """
    stray = np.zeros(len(change_px))
    for edge in np.unique(profiles.edge[found]):
        on_edge = np.flatnonzero((profiles.edge == edge) & found)
        width = float(np.median(face_px[on_edge]))
        away = np.abs(change_px[on_edge] - np.median(change_px[on_edge]))
        if width > _LEAST_FACE_PX:
            stray[on_edge] = np.where(away > max(_LEAST_STRAY_PX, width / 2), away, 0.0)
    return stray


def _to_top_edge(
    profiles: Profiles,
    change_px: NDArray[np.float64],
    u_px: NDArray[np.float64],
    face_px: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """(N,) shifts from the change of light to the top edge, their shared u, shifts per face width.

    Edge by edge, from the mean of its profiles.  A shift is NaN where a cut face is in sight that
    is too wide for the profiles: they do not tell the top edge.
    """
    found = np.isfinite(u_px)
    far = profiles.colours[found, -_FAR_PLACES:].astype(float).mean(axis=(0, 1))
    floor_light = float(far @ LUMINANCE)
    shift, per_face = np.zeros(len(change_px)), np.zeros(len(change_px))
    shared = np.full(len(change_px), _SHARED_PX)
    means, widths = {}, {}
    for edge in np.unique(profiles.edge[found]):
        on_edge = np.flatnonzero((profiles.edge == edge) & found)
        shared[on_edge] = np.hypot(_SHARED_PX, _SHARED_SCATTER * np.median(u_px[on_edge]))
        width = float(np.median(face_px[on_edge]))
        widths[edge] = width if width >= _LEAST_FACE_PX else 0.0
        means[edge] = mean_profile(
            profiles.colours[on_edge], profiles.offsets_px, change_px[on_edge]
        )
    plain = [mean for edge, mean in means.items() if widths[edge] == 0]
    blurs = edge_blurs_px(plain, profiles.offsets_px)
    tops = {
        edge: top_edge(
            mean, profiles.offsets_px, widths[edge], floor_light=floor_light, blurs_px=blurs
        )
        for edge, mean in means.items()
    }
    # What blur makes of edges without a cut face is the same all over a picture; single ones may
    # be led astray by glare or a seam along them.
    if plain:
        shift[:] = np.median(
            [top.shift_px for edge, top in tops.items() if top and widths[edge] == 0]
        )
    for edge, top in tops.items():
        on_edge = profiles.edge == edge
        if top is None:
            shift[on_edge] = np.nan
        elif widths[edge] > 0:
            shift[on_edge], per_face[on_edge] = top.shift_px, top.per_face
            shared[on_edge] = np.hypot(shared[on_edge], top.u_px)
    return shift, shared, per_face


def _scatter(offset: NDArray[np.float64]) -> NDArray[np.float64]:
    """(N,) robust standard deviation of offsets about those of their neighbours on the ring."""
    index = np.arange(len(offset))[:, None] + np.arange(-_NEIGHBOURS, _NEIGHBOURS + 1)[None]
    around = offset[index % len(offset)]
    middle = np.median(around, axis=1)
    # 1.4826: from the median absolute deviation to the standard deviation of a normal law.
    return np.asarray(
        np.maximum(
            1.4826 * np.median(np.abs(around - middle[:, None]), axis=1), np.abs(offset - middle)
        )
    )


def _likeness(profiles: Profiles) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(N, K) likeness to the template (1) against the floor (0), and (N,) its noise."""
    colours = profiles.colours.astype(float)
    side = max(2, int(_SIDE_SHARE * colours.shape[1]))
    weight = profiles.seen[:, None]
    template = _running_mean(np.median(colours[:, :side], axis=1), weight)
    floor = _running_mean(np.median(colours[:, -side:], axis=1), weight)
    spread = np.concatenate(
        [
            (colours[:, :side] - template[:, None])[profiles.seen].reshape(-1, 3),
            (colours[:, -side:] - floor[:, None])[profiles.seen].reshape(-1, 3),
        ]
    )
    covariance = spread.T @ spread / max(len(spread), 1) + np.eye(3) * 1e-6
    direction = np.linalg.solve(covariance, (template - floor).T).T
    gap = np.einsum("ni,ni->n", direction, template - floor)
    direction = direction / np.maximum(gap, 1e-12)[:, None]
    likeness = np.einsum("nki,ni->nk", colours - floor[:, None], direction)
    return likeness, 1 / np.sqrt(np.maximum(gap, 1e-12))


def _running_mean(values: NDArray[np.float64], weight: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Mean over neighbouring stations of a ring; (N, C) in and out."""
    n = len(values)
    index = (np.arange(n)[:, None] + np.arange(-_NEIGHBOURS, _NEIGHBOURS + 1)[None]) % n
    total = (values * weight)[index].sum(axis=1)
    return np.asarray(total / np.maximum(weight[index].sum(axis=1), 1))


def _change(
    floor: NDArray[np.float64], allowed: NDArray[np.bool_], astray: NDArray[np.float64]
) -> NDArray[np.intp]:
    """(N,) index of the last place of the template.

    Args:
        floor: (N, K) evidence for floor (positive) against template (negative), bounded, so that a
            dark joint or a shadow line weighs no more than its width.
        allowed: (N, K) places to choose from.
        astray: (K,) evidence against each place.
    """
    against = np.where(allowed, np.cumsum(floor, axis=1) + astray, np.inf)
    return np.asarray(np.argmin(against, axis=1))


def _sharpened(
    profiles: Profiles,
    likeness: NDArray[np.float64],
    noise: NDArray[np.float64],
    place: NDArray[np.intp],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The 50 % crossing between the local levels on both sides of the change, and its u, (N,)."""
    offsets = profiles.offsets_px
    step = float(offsets[1] - offsets[0])
    at = offsets[place] + step / 2
    for _ in range(2):
        inner = _level(likeness, offsets, at - _GUARD_PX - _LEVEL_PX, at - _GUARD_PX)
        outer = _level(likeness, offsets, at + _GUARD_PX, at + _GUARD_PX + _LEVEL_PX)
        at = _nearest_crossing(likeness, offsets, (inner + outer) / 2, at)
    contrast = inner - outer
    found = profiles.seen & np.isfinite(at) & (contrast > _LEAST_STEP)
    blur = 2 * _GUARD_PX
    u = np.hypot(_PLACE_PX, blur * noise / np.sqrt(_LEVEL_PX) / np.maximum(contrast, 1e-6))
    return np.where(found, at, np.nan), np.where(found, u, np.inf)


def _level(
    likeness: NDArray[np.float64],
    offsets: NDArray[np.float64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> NDArray[np.float64]:
    """(N,) mean of each profile between two offsets; NaN where nothing lies between."""
    inside = (offsets[None] >= low[:, None]) & (offsets[None] <= high[:, None])
    count = inside.sum(axis=1)
    total = np.where(inside, likeness, 0).sum(axis=1)
    return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def _nearest_crossing(
    likeness: NDArray[np.float64],
    offsets: NDArray[np.float64],
    threshold: NDArray[np.float64],
    near: NDArray[np.float64],
) -> NDArray[np.float64]:
    """(N,) offset nearest to `near` where the profile falls through the threshold, or NaN."""
    above = likeness - threshold[:, None]
    falls = (above[:, :-1] >= 0) & (above[:, 1:] < 0)
    drop = np.where(falls, above[:, :-1] - above[:, 1:], 1.0)
    step = float(offsets[1] - offsets[0])
    places = offsets[None, :-1] + step * np.where(falls, above[:, :-1], 0) / drop
    distance = np.where(falls, np.abs(places - near[:, None]), np.inf)
    best = np.argmin(distance, axis=1)
    rows = np.arange(len(best))
    close = distance[rows, best] <= 2 * _GUARD_PX
    return np.where(close, places[rows, best], np.nan)
