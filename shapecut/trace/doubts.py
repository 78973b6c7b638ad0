"""What a fitter must know about a traced outline: edges that the pictures do not show well."""

import math
from collections.abc import Sequence
from itertools import groupby

import numpy as np
from numpy.typing import NDArray

from shapecut.findings import Finding, Level, near_pixel
from shapecut.shape.curves import Arc, Line
from shapecut.shape.outline import Edge, Ring
from shapecut.shape.placement import Point
from shapecut.trace.bridged import Passed
from shapecut.trace.edge_samples import EdgeSamples, inside_mm, samples_of_ring
from shapecut.trace.freeform import CARRIED_WITHIN_MM
from shapecut.trace.raster import Points
from shapecut.trace.traced import Traced
from shapecut.trace.worn_corners import worn_corners

__all__ = ["doubts", "passing", "unseen_hole"]

_CONFIRMED = 0.8
"""Share of an edge's length along which its boundary must be seen to pass without a word."""
_GUESSED = 0.4
"""Share below which the edge is more guessed than measured."""
_UNSEEN_MM = 12.0
"""A stretch longer than this without a sample is not seen; samples are at most 3 mm apart, and kept
clear of corners."""
_HARDLY_RAD = math.radians(3.0)
"""Lines that turn less than this may be one edge."""
_FLAT_MM = 2.5
"""Arcs that rise less than this may be lines, mm."""
_PLAINLY = 0.85
"""Share of a stretch along which a step is seen that leaves no doubt."""
_UNEVEN_SHARE, _UNEVEN_MM = 0.1, 1.5
"""An edge of whose samples this share lies farther from it than so many mm is not seen evenly: a
shadow, print or a cut face leads some of them astray."""
_LEAST_SAMPLES = 10
"""Fewer samples tell no share."""
_UNSURE_MM = 0.75
"""Standard uncertainty of an edge's place from which a fitter should look at it, mm."""


def doubts(traced: Traced) -> tuple[Finding, ...]:
    """Findings about a traced outline, each with its place.

    Edges whose boundary is hardly seen, or whose place is unsure; corners that are worn or torn;
    curves that are no lines and arcs.

    Args:
        traced: The outline in its final plane, its edges named, with its samples.
    """
    found: list[Finding] = []
    for number, ring in enumerate(traced.outline.rings):
        samples = samples_of_ring(traced, number)
        both = zip(ring.edges, samples, strict=True)
        for name, parts in groupby(both, lambda pair: pair[0].whole):
            edges, own = zip(*parts, strict=True)
            found += _of_edge(name, edges, own)
        found += worn_corners(ring, samples)
        found += _nearly_one(ring)
    return tuple(found)


def _nearly_one(ring: Ring) -> list[Finding]:
    """Lines that hardly turn from one to the next, and arcs that hardly rise."""
    found = []
    for before, edge in zip([ring.edges[-1], *ring.edges[:-1]], ring.edges, strict=True):
        if edge.whole != edge.name:
            continue
        if isinstance(edge.curve, Arc):
            rise = edge.curve.radius * (1 - math.cos(min(abs(edge.curve.sweep_rad), math.pi) / 2))
            if rise < _FLAT_MM:
                found.append(_flat(edge, rise))
        elif isinstance(before.curve, Line) and before is not edge:
            turn = math.dist(before.curve.direction(), edge.curve.direction())
            if turn < _HARDLY_RAD:
                found.append(_hardly_turns(before, edge, turn))
    return found


def _flat(edge: Edge, rise_mm: float) -> Finding:
    return Finding(
        Level.CHECK,
        edge.name,
        f"{edge.name} is traced as an arc that rises {rise_mm:.1f} mm over"
        f" {edge.curve.length:.0f} mm.",
        "Lay a straight edge along it; if it is straight, give its neighbours in corrections or"
        " photograph it again in even light.",
        edge.curve.at(0.5),
    )


def _hardly_turns(before: Edge, edge: Edge, turn_rad: float) -> Finding:
    return Finding(
        Level.CHECK,
        f"{before.name}/{edge.name}",
        f"{before.name} and {edge.name} turn by only {math.degrees(turn_rad):.1f}°; they may be one"
        " edge that light or print seems to bend.",
        f'If so, state corrections: one = ["{before.name}", "{edge.name}"].',
        edge.curve.start,
    )


def _of_edge(name: str, edges: Sequence[Edge], samples: Sequence[EdgeSamples]) -> list[Finding]:
    length = sum(edge.curve.length for edge in edges)
    gaps = [
        (high - low, edge.curve.at((low + high) / 2 / edge.curve.length))
        for edge, own in zip(edges, samples, strict=True)
        for low, high in _unseen(own.along_mm, edge.curve.length)
    ]
    share = 1.0 - sum(gap for gap, _ in gaps) / length
    longest = max(edges, key=lambda edge: edge.u_mm or 0.0)
    found = []
    if share < _CONFIRMED:
        found.append(_hardly_seen(name, share, max(gaps)[1]))
    elif longest.u_mm is not None and longest.u_mm > _UNSURE_MM:
        found.append(_unsure(name, longest.u_mm, longest.curve.at(0.5)))
    elif (astray := _astray_mm(edges[0], samples[0])) > _UNEVEN_MM:
        found.append(_uneven(name, astray, edges[0].curve.at(0.5)))
    if len(edges) > 1:
        found.append(_curve(name, len(edges), length))
    return found


def _unseen(along_mm: NDArray[np.float64], length_mm: float) -> list[tuple[float, float]]:
    """Stretches of an edge without samples, from and to, mm."""
    ends = np.concatenate([[0.0], along_mm, [length_mm]])
    wide = np.flatnonzero(np.diff(ends) > min(_UNSEEN_MM, 0.9 * length_mm))
    return [(float(ends[k]), float(ends[k + 1])) for k in wide]


def _astray_mm(edge: Edge, samples: EdgeSamples) -> float:
    """How far the worst of an edge's samples, but for that share, are from most of them."""
    if len(samples.mm) < _LEAST_SAMPLES:
        return 0.0
    inside = inside_mm(edge.curve, samples.mm)
    return float(np.quantile(np.abs(inside - np.median(inside)), 1 - _UNEVEN_SHARE))


def unseen_hole(photo: str, place_px: Points) -> Finding:
    """The finding about a patch that looks like a hole but has no clear edge.

    Args:
        photo: Name of a picture.
        place_px: (2,) the patch's middle in it, pixels.
    """
    return Finding(
        Level.CHECK,
        near_pixel(photo, *place_px),
        "A patch within the template looks like the floor but has no clear edge; it is left uncut.",
        "Look at the place; if it is a hole, photograph it again in even light.",
    )


def passing(passed: Passed, photo: str, place_px: Points) -> Finding:
    """The finding about a place where the outline runs on past something, or might.

    Args:
        passed: The place.
        photo: Name of a picture.
        place_px: (2,) the place in it, pixels.
    """
    where = near_pixel(photo, *place_px)
    if not passed.taken:
        return Finding(
            Level.CHECK,
            where,
            f"The template's edge may run on there for about {passed.length_mm:.0f} mm: the picture"
            " shows it in part, but print, glare or something beside it looks like the edge.",
            "Compare the outline with the template; state corrections where it runs on.",
        )
    return Finding(
        Level.NOTE if passed.shown >= _PLAINLY else Level.CHECK,
        where,
        f"The outline runs on for about {passed.length_mm:.0f} mm past print, glare or something"
        " beside the template, since the picture shows the template's edge there.",
        "If it is cut out there, state on_floor under [template.hints] with a pixel of the floor.",
    )


def _hardly_seen(name: str, share: float, place: Point) -> Finding:
    return Finding(
        Level.SERIOUS if share < _GUESSED else Level.CHECK,
        name,
        f"The outline is seen along only {100 * share:.0f} % of {name}.",
        "Compare the edge with the template, or photograph it again on a floor it contrasts with,"
        " with no card over it.",
        place,
    )


def _uneven(name: str, astray_mm: float, place: Point) -> Finding:
    return Finding(
        Level.CHECK,
        name,
        f"The edge is not seen evenly along {name}: places in the pictures lie up to"
        f" {astray_mm:.0f} mm beside it, where a shadow, print or its cut face may be.",
        "Compare the edge with the template, or photograph it again in even light.",
        place,
    )


def _unsure(name: str, u_mm: float, place: Point) -> Finding:
    return Finding(
        Level.CHECK,
        name,
        f"The place of {name} is known only to ±{2 * u_mm:.1f} mm.",
        "Add a photograph from the other side, so that the edge is seen from behind.",
        place,
    )


def _curve(name: str, count: int, length_mm: float) -> Finding:
    return Finding(
        Level.NOTE,
        name,
        f"{name} is a smooth curve, {length_mm:.0f} mm long, that is no line or arc; {count} arcs"
        f" that run into each other follow it within {CARRIED_WITHIN_MM:g} mm.",
    )
