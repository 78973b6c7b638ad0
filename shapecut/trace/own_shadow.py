"""Where the sun shines, a change of light beside the template may be the edge of its own shadow.

The shadow that a dark template throws on the floor beside it is hardly darker than the template
itself, so that light changes at the shadow's outer edge.  Colour changes at the template's.
"""

import numpy as np
from numpy.typing import NDArray

from shapecut.trace.colours import ColourModel
from shapecut.trace.edge_model import LUMINANCE
from shapecut.trace.illumination import in_even_light
from shapecut.trace.profile import Profiles

__all__ = ["SUN_PX", "beside_own_shadow", "shadow_doubt"]

SUN_PX = 0.5
"""What the template's own shadow may do to all crossings where the sun shines, pixels: it lies
along some edges, as narrow as the template is thin, and not where another shadow crosses them."""

_SIDE_SHARE = 0.25
"""Share of a profile at each end that shows the template or the floor by itself."""
_ALIKE = 0.8
"""Log ratio of light below which the template and the floor in its shadow look much alike."""
_ALIKE_DOUBT, _DOUBT = 0.5, 0.06
"""Standard uncertainty of an edge where they are and where they are not, in thicknesses: the shadow
is about as wide as the template is thick."""
_DARKEST = 1e-3
"""Light below this is noise, as a fraction of white."""
_SHADOW_PX = 1.5
"""How far the colour must end before the light changes for the change to be a shadow's, pixels."""


def beside_own_shadow(
    even: Profiles,
    colours: ColourModel,
    change_px: NDArray[np.float64],
    found: NDArray[np.bool_],
    face_px: NDArray[np.float64],
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Tell edges all along which the colour ends well before the light changes.

    Args:
        even: Profiles across the boundary, in even light.
        colours: What the picture's colours say.
        change_px: (N,) offsets of the changes of light, pixels.
        found: (N,) where there are any.
        face_px: (N,) width of the cut face in sight.

    Returns:
        (N,) whether it is so, and (N,) the offset where the colour ends, pixels.
    """
    floor = -np.clip(colours.excess(even.srgb()).astype(float), -1, 1)
    end = np.argmin(np.cumsum(floor, axis=1), axis=1)
    step = float(even.offsets_px[1] - even.offsets_px[0])
    end_px = even.offsets_px[end] + step / 2
    shadowed = np.zeros(len(change_px), bool)
    for edge in np.unique(even.edge[found]):
        on_edge = np.flatnonzero((even.edge == edge) & found)
        beyond = change_px[on_edge] - end_px[on_edge]
        if np.median(beyond) > float(np.median(face_px[on_edge])) + _SHADOW_PX:
            shadowed[on_edge] = True
    return shadowed, end_px


def shadow_doubt(profiles: Profiles, colours: ColourModel) -> float:
    """How far the sun's shadows may lead an edge astray, in thicknesses of the template.

    Args:
        profiles: Across the boundary.
        colours: What the picture's colours say.
    """
    shade = colours.light.shade
    if shade is None or not profiles.seen.any():
        return 0.0
    even = in_even_light(profiles, colours.light).colours.astype(float)
    light = np.maximum(even[profiles.seen] @ LUMINANCE, _DARKEST)
    side = max(1, int(_SIDE_SHARE * light.shape[1]))
    template, floor = (np.log(np.median(part)) for part in (light[:, :side], light[:, -side:]))
    shaded = floor + float(np.log(np.mean(shade)))
    return _ALIKE_DOUBT if abs(template - shaded) < _ALIKE else _DOUBT
