"""Whether another edge runs along the traced rim of an opening, as a wall's top along its foot.

A wall whose tone is nearly that of the frame's face may be taken for the face; the outline then
follows its foot, and the rim runs outside, parallel to it: both are level, and a picture of one
level plane laid on another is only larger or smaller.
"""

import numpy as np
from numpy.typing import NDArray

from shapecut.findings import Finding, Level
from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Outline
from shapecut.trace.edge_model import LUMINANCE
from shapecut.trace.profile import read_profiles
from shapecut.trace.samples import Pictures
from shapecut.trace.stations import stations_along

__all__ = ["second_rims"]

_REACH_MM = 90.0
"""How far outside the rim another edge is looked for."""
_CLEAR_MM = 5.0
"""How near the traced rim its own blur and texture are."""
_STATIONS = 40
"""Places along an edge; what lies beside fewer than half of them, as a card, does not count."""
_LEAST_MM = 100.0
"""Shorter edges are not looked along."""
_LEAST_STEP = 0.06
"""Least step of light across the other edge, as a share of the light on its brighter side."""
_OVER_TEXTURE = 6.0
"""How many times the usual step beside the rim it must have."""


def second_rims(pictures: Pictures, outline: Outline) -> tuple[Finding, ...]:
    """A finding for each straight edge along which another runs outside it.

    Args:
        pictures: All pictures of the job.
        outline: Of the opening, in the plane of the frame's face.
    """
    found = []
    for edge in outline.outer.edges:
        if isinstance(edge.curve, Line) and edge.curve.length > _LEAST_MM:
            beyond = [_beyond_mm(pictures, at, edge.curve) for at in range(len(pictures.views))]
            seen = [mm for mm in beyond if mm is not None]
            if seen:
                found.append(_finding(edge, max(seen)))
    return tuple(found)


def _beyond_mm(pictures: Pictures, at: int, line: Line) -> float | None:
    """How far outside a line another edge runs along it in one picture, or None."""
    shares = np.linspace(0.08, 0.92, _STATIONS)
    places = np.array([line.at(float(share)) for share in shares])
    along = np.tile(line.direction(), (_STATIONS, 1))
    stations = stations_along(places, along, line.length / (3 * _STATIONS))
    view = pictures.views[at]
    profiles = read_profiles(
        pictures.photos[view.photo], view, stations, height_mm=0.0, reach_mm=_REACH_MM
    )
    if profiles.seen.mean() < 0.5:
        return None
    outside_mm = profiles.offsets_px * float(np.median(profiles.mm_per_px))
    light = np.median(profiles.colours[profiles.seen].astype(float) @ LUMINANCE, axis=0)
    steps = np.abs(_steps(light))
    beyond = (outside_mm > _CLEAR_MM) & (outside_mm < outside_mm[-1] - _CLEAR_MM)
    if not beyond.any():
        return None
    place = int(np.argmax(np.where(beyond, steps, 0.0)))
    usual = float(np.median(steps[beyond]))
    brighter = float(light[max(place - 4, 0) : place + 5].max())
    if steps[place] < max(_LEAST_STEP * brighter, _OVER_TEXTURE * usual):
        return None
    return float(outside_mm[place])


def _steps(light: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean of the four places after each less that of the four before it."""
    kernel = np.concatenate([np.ones(4), [0.0], -np.ones(4)]) / 4
    return np.convolve(np.pad(light, 4, mode="edge"), kernel, mode="valid")


def _finding(edge: Edge, beyond_mm: float) -> Finding:
    return Finding(
        Level.SERIOUS,
        edge.name,
        f"Another edge runs along {edge.name}, about {beyond_mm:.0f} mm outside it; one of them may"
        " be the foot of a wall, or the border of a shadow.",
        "Look at the outline over the photograph; if it is not on the rim of the frame's face,"
        " photograph it again in even light, from nearer above.",
    )
