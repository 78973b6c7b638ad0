"""One edge of an outline fitted to some of its samples, and where it then meets its neighbours."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.errors import TraceError
from shapecut.shape.curves import Curve
from shapecut.shape.outline import Edge, Outline
from shapecut.shape.placement import Point
from shapecut.trace.corners import between, corner
from shapecut.trace.edge_samples import EdgeSamples
from shapecut.trace.figure import Figure
from shapecut.trace.primitives import Primitive, fit_circle, fit_line

__all__ = ["between_ends", "fitted_to", "is_at_end", "meeting", "only", "places_of", "refuse_few"]

_WOBBLE_MM = 0.3
"""Standard deviation of a hand's cut about the line it followed."""
_LEAST_SAMPLES = 8
"""Fewer samples than this do not make an edge."""


def is_at_end(figure: Figure, edge: Edge, corner_name: str, asked_by: str) -> bool:
    """Whether a corner such as E3/E4 is the end of an edge, and not its start.

    Raises:
        TraceError: If it is neither.
    """
    second = figure.corner_after(corner_name, asked_by)
    ends = (figure.edges[figure.before[second]].name, figure.edges[second].name)
    if edge.name not in ends:
        raise TraceError(f"{asked_by}: {corner_name} is no end of {edge.name}.")
    return ends[0] == edge.name


def places_of(outline: Outline, names: Sequence[str], asked_by: str) -> tuple[int, list[int]]:
    """The ring of some edges, and their places in it; all parts of curves that are named.

    Raises:
        TraceError: If there is no such edge, or they are of different rings.
    """
    found: list[tuple[int, int]] = []
    for name in names:
        places = [
            (number, k)
            for number, ring in enumerate(outline.rings)
            for k, edge in enumerate(ring.edges)
            if name in (edge.name, edge.whole)
        ]
        if not places:
            known = ", ".join(dict.fromkeys(edge.whole for edge in outline.edges))
            raise TraceError(f"{asked_by}: the outline has no edge {name}; it has {known}.")
        found += places
    if len({number for number, _ in found}) > 1:
        raise TraceError(f"{asked_by}: they are edges of different openings; name neighbours.")
    return found[0][0], sorted(k for _, k in found)


def only(samples: EdgeSamples, kept: NDArray[np.bool_]) -> EdgeSamples:
    """Some of an edge's samples, by an (N,) mask."""
    return EdgeSamples(samples.mm[kept], samples.u_mm[kept], samples.along_mm[kept])


def refuse_few(samples: EdgeSamples, asked_by: str) -> None:
    """Refuse to follow an edge by hardly a sample.

    Raises:
        TraceError: If there are fewer than make an edge.
    """
    if len(samples.mm) < _LEAST_SAMPLES:
        raise TraceError(
            f"{asked_by}: that leaves {len(samples.mm)} places where the edge was seen, too few to "
            "follow it; give its corners or its length instead."
        )


def fitted_to(samples: EdgeSamples, *, curved: bool) -> Primitive:
    """The line or circle through samples of a boundary that a hand has cut."""
    sigma_mm = np.hypot(samples.u_mm, _WOBBLE_MM)
    return (fit_circle if curved else fit_line)(samples.mm, sigma_mm)


def meeting(first: Primitive, second: Primitive, near: Point, reach_mm: float) -> Point:
    """Where two lines or circles meet, no farther from a place than `reach_mm`."""
    place = corner(first, second, np.array(near), reach_mm)
    return (float(place[0]), float(place[1]))


def between_ends(primitive: Primitive, start: Point, end: Point) -> Curve:
    """The line or arc between two points of a line or circle."""
    return between(primitive, np.array(start), np.array(end))
