"""One edge that a person says is two: each part fitted to its own samples."""

from dataclasses import replace

from shapecut.errors import TraceError
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Point
from shapecut.trace.correction import TwoEdges
from shapecut.trace.edge_fit import (
    between_ends,
    fitted_to,
    is_at_end,
    meeting,
    only,
    places_of,
    refuse_few,
)
from shapecut.trace.edge_samples import samples_of_ring
from shapecut.trace.figure import Figure, figure_of, primitive_of
from shapecut.trace.primitives import Primitive
from shapecut.trace.traced import ByHand, Traced

__all__ = ["divided"]

_NEAR = 0.5
"""The parts meet no farther from where the person says than this share of the shorter of them."""


def divided(traced: Traced, two: TwoEdges) -> Traced:
    """An edge as two, which meet near a place; where they hardly turn, in that place.

    The parts have the edge's name with .1 and .2, in the order in which edges are numbered, so
    that the edge's own name stands for both.

    Raises:
        TraceError: If there is no such edge or place on it, or hardly a sample of a part.
    """
    asked_by = f'corrections: "{two}"'
    figure = figure_of(traced.outline)
    edge = figure.edges[figure.index(two.edge, asked_by)]
    if edge.name != edge.whole:
        raise TraceError(f"{asked_by}: {two.edge} is a part of {edge.whole}; it stays one.")
    length = edge.curve.length
    if not 0 < two.at_mm < length:
        raise TraceError(
            f"{asked_by}: {two.at_mm:.0f} mm from {two.corner} lies beyond {two.edge}, which is "
            f"{length:.0f} mm long."
        )
    from_end = is_at_end(figure, edge, two.corner, asked_by)
    at_mm = length - two.at_mm if from_end else two.at_mm
    number, (k,) = places_of(traced.outline, (two.edge,), asked_by)
    own = samples_of_ring(traced, number)[k]
    halves = [only(own, own.along_mm < at_mm), only(own, own.along_mm >= at_mm)]
    for half in halves:
        refuse_few(half, asked_by)
    fits = [fitted_to(half, curved=isinstance(edge.curve, Arc)) for half in halves]
    place = edge.curve.at(at_mm / length)
    ends = _ends(figure, edge, fits, place, _NEAR * min(at_mm, length - at_mm))
    names = (f"{edge.name}.1", f"{edge.name}.2")
    parts = [
        replace(
            edge,
            name=name,
            curve=between_ends(fit, *span),
            u_mm=max(edge.u_mm or 0.0, fit.u_mm),
        )
        for name, fit, span in zip(
            names if number else names[::-1], fits, (ends[:2], ends[1:]), strict=True
        )
    ]
    said = f"{two.edge} taken for two, {names[0]} and {names[1]}, that meet {two.at_mm:.0f} mm from"
    return replace(
        traced,
        outline=_with_parts(traced.outline, number, k, parts),
        by_hand=(*traced.by_hand, ByHand(names, f"{said} {two.corner}.")),
    )


def _ends(
    figure: Figure, edge: Edge, fits: list[Primitive], place: Point, reach_mm: float
) -> tuple[Point, Point, Point]:
    """Start of the first part, where the parts meet, and end of the second."""
    k = figure.edges.index(edge)
    before, after = (primitive_of(figure.edges[j]) for j in (figure.before[k], figure.after(k)))
    first, second = fits
    return (
        meeting(before, first, edge.curve.start, edge.curve.length / 2),
        meeting(first, second, place, reach_mm),
        meeting(second, after, edge.curve.end, edge.curve.length / 2),
    )


def _with_parts(outline: Outline, number: int, k: int, parts: list[Edge]) -> Outline:
    """The outline with two edges in place of one; its neighbours end where they begin."""
    edges = list(outline.rings[number].edges)
    before, after = (k - 1) % len(edges), (k + 1) % len(edges)
    edges[before] = _spanning(edges[before], edges[before].curve.start, parts[0].curve.start)
    edges[after] = _spanning(edges[after], parts[1].curve.end, edges[after].curve.end)
    ring = Ring((*edges[:k], *parts, *edges[k + 1 :]))
    rings = [ring if at == number else other for at, other in enumerate(outline.rings)]
    return Outline(rings[0], tuple(rings[1:]))


def _spanning(edge: Edge, start: Point, end: Point) -> Edge:
    return replace(edge, curve=between_ends(primitive_of(edge), start, end))
