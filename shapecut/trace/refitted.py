"""Edges fitted again to the samples that a person leaves them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from shapecut.errors import TraceError
from shapecut.findings import Finding, Level
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.trace.corners import corner
from shapecut.trace.correction import OneEdge, Shadow
from shapecut.trace.edge_fit import (
    between_ends,
    fitted_to,
    is_at_end,
    meeting,
    only,
    places_of,
    refuse_few,
)
from shapecut.trace.edge_samples import EdgeSamples, along_mm, nearest_edges, samples_of_ring
from shapecut.trace.figure import figure_of, primitive_of
from shapecut.trace.primitives import Primitive
from shapecut.trace.raster import Points
from shapecut.trace.traced import BoundarySamples, ByHand, Traced

__all__ = ["dropped", "merged", "without_shadow"]

_DROPPED_REACH = 2.0
"""Neighbours of an edge that is none meet within so many times its length."""
_MET_MM = 0.01
"""Nearer than this, edges meet."""
_BENT_MM = 3.0
"""Edges that are one and yet leave it by more than this are questioned."""


def without_shadow(traced: Traced, shadow: Shadow) -> Traced:
    """An edge fitted without the samples of a stretch.

    Raises:
        TraceError: If it names no edge or corner of it, or hardly a sample is left.
    """
    asked_by = f'corrections: "{shadow}"'
    figure = figure_of(traced.outline)
    edge = figure.edges[figure.index(shadow.edge, asked_by)]
    from_end = is_at_end(figure, edge, shadow.corner, asked_by)
    within = shadow.within_mm or (0.0, edge.curve.length)
    low, high = sorted(within)
    if low >= edge.curve.length:
        raise TraceError(
            f"{asked_by}: it begins {low:.0f} mm from {shadow.corner}, and {shadow.edge} is only "
            f"{edge.curve.length:.0f} mm long."
        )
    if from_end:
        low, high = edge.curve.length - high, edge.curve.length - low
    number, (k,) = places_of(traced.outline, (edge.name,), asked_by)
    own = samples_of_ring(traced, number)[k]
    left = only(own, (own.along_mm < low) | (own.along_mm > high))
    refuse_few(left, asked_by)
    fitted = fitted_to(left, curved=isinstance(edge.curve, Arc))
    kept = replace(edge, u_mm=max(edge.u_mm or 0.0, fitted.u_mm))
    said = f"{min(within):.0f} to {max(within):.0f} mm from {shadow.corner}"
    return replace(
        traced,
        outline=_replaced(traced.outline, number, [k], fitted, kept),
        samples=tuple(_without(every, traced, number, k, low, high) for every in traced.samples),
        by_hand=(
            *traced.by_hand,
            ByHand((edge.name,), f"{said} taken for a shadow; {edge.name} follows the rest of it."),
        ),
    )


def _without(
    samples: BoundarySamples, traced: Traced, number: int, k: int, low: float, high: float
) -> BoundarySamples:
    """A picture's samples without those along a stretch of an edge."""
    if samples.ring != number:
        return samples
    ring = traced.outline.rings[number]
    curve = ring.edges[k].curve
    along = along_mm(curve, samples.mm)
    kept = (nearest_edges(ring, samples.mm) != k) | (along < low) | (along > high)
    return replace(samples, px=samples.px[kept], mm=samples.mm[kept], u_mm=samples.u_mm[kept])


def dropped(traced: Traced, shadow: Shadow) -> Traced:
    """An edge, or all parts of a curve, taken out; its neighbours meet.

    Raises:
        TraceError: If there is no such edge, or its neighbours do not meet near it.
    """
    asked_by = f'corrections: "{shadow}"'
    number, run = places_of(traced.outline, (shadow.edge,), asked_by)
    ring = traced.outline.rings[number]
    count = len(ring.edges)
    run = _shortest_run(run, ring)
    before, after = ring.edges[run[0] - 1], ring.edges[(run[-1] + 1) % count]
    taken = [ring.edges[k] for k in run]
    reach_mm = _DROPPED_REACH * sum(edge.curve.length for edge in taken)
    middle = np.array(taken[len(taken) // 2].curve.at(0.5))
    place = corner(primitive_of(before), primitive_of(after), middle, reach_mm)
    met = max(float(abs(primitive_of(one).distances(place[None])[0])) for one in (before, after))
    if count - len(run) < 2 or met > _MET_MM:
        raise TraceError(
            f"{asked_by}: without it, {before.name} and {after.name} do not meet near by; give the"
            " stretch of it that is shadow."
        )
    meeting = (float(place[0]), float(place[1]))
    changed = {
        before.name: between_ends(primitive_of(before), before.curve.start, meeting),
        after.name: between_ends(primitive_of(after), meeting, after.curve.end),
    }
    kept = Ring(
        tuple(
            replace(edge, curve=changed.get(edge.name, edge.curve))
            for edge in ring.edges
            if edge not in taken
        )
    )
    rings = [kept if at == number else other for at, other in enumerate(traced.outline.rings)]
    said = f"{shadow.edge} taken for a shadow; {before.name} and {after.name} meet."
    return replace(
        traced,
        outline=Outline(rings[0], tuple(rings[1:])),
        by_hand=(*traced.by_hand, ByHand((before.name, after.name), said)),
    )


def merged(traced: Traced, one: OneEdge) -> Traced:
    """Edges that are one, fitted to the samples of those named.

    Raises:
        TraceError: If they are no edges of one ring, or hardly a sample is left.
    """
    asked_by = f'corrections: "{one}"'
    number, named = places_of(traced.outline, one.edges, asked_by)
    ring = traced.outline.rings[number]
    run = _shortest_run(named, ring)
    if len(ring.edges) - len(run) < 1:
        raise TraceError(f"{asked_by}: that would leave no outline; name fewer edges.")
    old = [ring.edges[k] for k in run if k in named]
    samples = samples_of_ring(traced, number)
    together = _joined([samples[k] for k in run if k in named])
    refuse_few(together, asked_by)
    fitted = fitted_to(together, curved=any(isinstance(edge.curve, Arc) for edge in old))
    longest = max(old, key=lambda edge: edge.curve.length)
    kept = replace(longest, name=one.edges[0], u_mm=max(longest.u_mm or 0.0, fitted.u_mm))
    ends = np.array([point for edge in old for point in (edge.curve.start, edge.curve.end)])
    off = np.abs(fitted.distances(ends))
    bent, place = float(off.max()), ends[int(np.argmax(off))]
    said = f"{' and '.join(one.edges)} taken for one edge, {kept.name}."
    return replace(
        traced,
        outline=_replaced(traced.outline, number, run, fitted, kept),
        findings=(*traced.findings, *([_bent(one, bent, place)] if bent > _BENT_MM else [])),
        by_hand=(*traced.by_hand, ByHand((kept.name,), said)),
    )


def _shortest_run(named: Sequence[int], ring: Ring) -> list[int]:
    """The edges in ring order from one of those named to another, the shorter way round."""
    count = len(ring.edges)
    outside = []
    for k, after in zip(named, [*named[1:], named[0]], strict=True):
        between_them = [(k + step) % count for step in range(1, (after - k) % count or count)]
        outside.append((sum(ring.edges[j].curve.length for j in between_them), len(between_them)))
    widest = outside.index(max(outside))
    first = named[(widest + 1) % len(named)]
    return [(first + step) % count for step in range(count - outside[widest][1])]


def _joined(parts: Sequence[EdgeSamples]) -> EdgeSamples:
    return EdgeSamples(
        np.concatenate([part.mm for part in parts]),
        np.concatenate([part.u_mm for part in parts]),
        np.concatenate([part.along_mm for part in parts]),
    )


def _replaced(
    outline: Outline, number: int, run: Sequence[int], fitted: Primitive, kept: Edge
) -> Outline:
    """The outline with one edge along a primitive in place of a run of edges of a ring."""
    edges = outline.rings[number].edges
    count = len(edges)
    first, last = edges[run[0]], edges[run[-1]]
    before, after = edges[(run[0] - 1) % count], edges[(run[-1] + 1) % count]
    one_neighbour = before is after and count - len(run) == 1
    start = meeting(primitive_of(before), fitted, first.curve.start, first.curve.length / 2)
    end = meeting(fitted, primitive_of(after), last.curve.end, last.curve.length / 2)
    changed = {id(before): between_ends(primitive_of(before), before.curve.start, start)}
    changed[id(after)] = between_ends(
        primitive_of(after), end, start if one_neighbour else after.curve.end
    )
    order = [run[0], *((run[-1] + 1 + step) % count for step in range(count - len(run)))]
    ring = Ring(
        tuple(
            replace(kept, curve=between_ends(fitted, start, end))
            if k == run[0]
            else replace(edges[k], curve=changed.get(id(edges[k]), edges[k].curve))
            for k in order
        )
    )
    rings = [ring if at == number else other for at, other in enumerate(outline.rings)]
    return Outline(rings[0], tuple(rings[1:]))


def _bent(one: OneEdge, off_mm: float, place: Points) -> Finding:
    return Finding(
        Level.CHECK,
        str(one),
        f"As one edge it passes {off_mm:.1f} mm from where the photographs show their ends; it was"
        " applied.",
        "Lay a straight edge along the template there.",
        (float(place[0]), float(place[1])),
    )
