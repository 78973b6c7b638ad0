"""Apply a person's corrections to a traced outline, and show them as the person's.

Stretches of shadow go first, then edges that are one, then those that are two, all fitted again to
the samples that remain; then corners move, and last the known lengths draw all edges together.
"""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from shapecut.errors import TraceError
from shapecut.findings import Finding, Level
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Point
from shapecut.trace.conditions import Condition, gap_and_u, settle
from shapecut.trace.corners import between
from shapecut.trace.correction import (
    APPLIED,
    Correction,
    KnownLength,
    MovedCorner,
    OneEdge,
    Shadow,
    TwoEdges,
)
from shapecut.trace.divided import divided
from shapecut.trace.figure import Figure, corner_names, figure_of
from shapecut.trace.primitives import Primitive
from shapecut.trace.refitted import dropped, merged, without_shadow
from shapecut.trace.traced import ByHand, Traced

__all__ = ["corrected"]

_BEYOND_REASON = 5.0
"""A correction this many combined standard uncertainties off what was seen is questioned."""
_LEAST_DOUBT_MM = 2.0
"""Corrections smaller than this are not questioned."""
_AGREE = 3.0
"""Two lengths given for one thing agree within so many of their standard uncertainties."""


def corrected(traced: Traced, corrections: Sequence[Correction]) -> Traced:
    """Apply corrections.

    Args:
        traced: The outline in its final plane, with the samples that it was fitted to.
        corrections: What the person says; names are those of this outline.

    Returns:
        The outline corrected, each correction in `by_hand`; edges with an end that the person
        placed have no uncertainty, since they are no longer as measured.  A finding names each
        correction that the photographs contradict beyond reason.

    Raises:
        TraceError: If a correction names no edge or corner, or two contradict each other.
    """
    _refuse_contradictions(corrections)
    for each in sorted(corrections, key=lambda one: APPLIED.index(type(one))):
        match each:
            case Shadow(within_mm=None):
                traced = dropped(traced, each)
            case Shadow():
                traced = without_shadow(traced, each)
            case OneEdge():
                traced = merged(traced, each)
            case TwoEdges():
                traced = divided(traced, each)
            case MovedCorner():
                traced = _with_corner(traced, each)
    moved = [each for each in corrections if isinstance(each, MovedCorner)]
    lengths = [each for each in corrections if isinstance(each, KnownLength)]
    return _with_lengths(traced, lengths, [each.corner for each in moved]) if lengths else traced


def _refuse_contradictions(corrections: Sequence[Correction]) -> None:
    for k, one in enumerate(corrections):
        for other in corrections[:k]:
            if isinstance(one, MovedCorner) and isinstance(other, MovedCorner):
                contradict = corner_names(one.corner) == corner_names(other.corner)
            elif isinstance(one, OneEdge) and isinstance(other, OneEdge):
                contradict = bool({*one.edges} & {*other.edges})
            elif isinstance(one, TwoEdges) and isinstance(other, TwoEdges):
                contradict = one.edge == other.edge
            elif isinstance(one, KnownLength) and isinstance(other, KnownLength):
                apart = abs(one.length_mm - other.length_mm)
                unsure = _AGREE * math.hypot(one.u_mm, other.u_mm)
                contradict = _same_length(one, other) and apart > unsure
            else:
                contradict = False
            if contradict:
                raise TraceError(
                    f'corrections: "{other}" and "{one}" contradict each other; keep one of them.'
                )


def _same_length(one: KnownLength, other: KnownLength) -> bool:
    return {frozenset(corner_names(name)) for name in one.of} == {
        frozenset(corner_names(name)) for name in other.of
    }


def _with_corner(traced: Traced, moved: MovedCorner) -> Traced:
    """A corner placed by the person; its two edges keep their other ends."""
    figure = figure_of(traced.outline)
    second = figure.corner_after(moved.corner, f'corrections: "{moved}"')
    first = figure.before[second]
    old = figure.edges[second].curve.start
    new = moved.to or _shifted(old, moved.by or (0.0, 0.0))
    ends = {
        first: (figure.edges[first].curve.start, new),
        second: (new, figure.edges[second].curve.end),
    }
    if any(math.dist(*pair) == 0 for pair in ends.values()):
        raise TraceError(
            f'corrections: "{moved}" puts it onto the next corner; say that edges are one instead.'
        )
    curves = [
        between(figure.primitives[k], *map(np.array, ends[k])) if k in ends else edge.curve
        for k, edge in enumerate(figure.edges)
    ]
    outline = _unmeasured(figure.with_curves(curves), {figure.edges[k].name for k in ends})
    distance, u_mm = math.dist(old, new), _corner_u_mm(figure, first, second)
    found = _questioned(moved, distance, u_mm, "from where the photographs show it", new)
    said = f"{moved.corner} placed at ({new[0]:.1f}, {new[1]:.1f}) mm, {distance:.1f} mm from where"
    return replace(
        traced,
        outline=outline,
        findings=(*traced.findings, *found),
        by_hand=(
            *traced.by_hand,
            ByHand(tuple(figure.edges[k].name for k in ends), f"{said} it was measured."),
        ),
    )


def _shifted(point: Point, by: Point) -> Point:
    return (point[0] + by[0], point[1] + by[1])


def _corner_u_mm(figure: Figure, first: int, second: int) -> float:
    (ax, ay), (bx, by) = (
        figure.edges[first].curve.direction(1.0),
        figure.edges[second].curve.direction(0.0),
    )
    u_mm = math.hypot(*(figure.edges[k].u_mm or 0.0 for k in (first, second)))
    return u_mm / max(abs(ax * by - ay * bx), 0.1)


def _unmeasured(outline: Outline, names: set[str]) -> Outline:
    """The outline with no uncertainty stated for some edges."""

    def edge_unmeasured(edge: Edge) -> Edge:
        return replace(edge, u_mm=None) if edge.name in names else edge

    outer, *holes = (Ring(tuple(map(edge_unmeasured, ring.edges))) for ring in outline.rings)
    return Outline(outer, tuple(holes))


def _with_lengths(traced: Traced, lengths: Sequence[KnownLength], placed: Sequence[str]) -> Traced:
    """All edges moved together to known lengths, as little as their uncertainties let them."""
    figure = figure_of(traced.outline)
    fixed = [figure.corner_after(name, "corrections") for name in placed]
    standing = figure.standing(fixed)
    asked = [_length_condition(figure, known) for known in lengths]
    settled = settle(figure.primitives, figure.covariances, [*standing, *asked])
    by_hand, findings = [], []
    for known, condition in zip(lengths, asked, strict=True):
        gap, u = gap_and_u(condition, figure.primitives, figure.covariances)
        left, _ = gap_and_u(condition, settled.primitives, figure.covariances)
        if abs(left) > abs(gap):
            raise TraceError(
                f'corrections: "{known}": given as {known.length_mm:.1f} mm, where '
                f"{known.length_mm + gap:.1f} mm was measured; no outline near what the "
                "photographs show has that length. Measure it again."
            )
        came_to = f"{known.length_mm + left:.1f} mm"
        by_hand.append(
            ByHand(
                _edges_of(figure, known),
                f"{known} given as {known.length_mm:.1f} ± {2 * known.u_mm:.1f} mm, where"
                f" {known.length_mm + gap:.1f} mm was measured; together they give {came_to}.",
            )
        )
        findings += _questioned(
            known,
            abs(gap),
            u,
            "from what the photographs show",
            done=f"weighed against them, and {came_to} came out",
        )
    return replace(
        traced,
        outline=figure.redrawn(settled.primitives),
        findings=(*traced.findings, *findings),
        by_hand=(*traced.by_hand, *by_hand),
    )


def _length_condition(figure: Figure, known: KnownLength) -> Condition:
    asked_by = f'corrections: "{known}"'
    if len(known.of) == 1:
        k = figure.index(known.of[0], asked_by)
        members = (figure.before[k], k, figure.after(k))
        return Condition(
            members, lambda *moved: figure.length(k, *moved) - known.length_mm, known.u_mm
        )
    first, second = (figure.corner_after(name, asked_by) for name in known.of)
    if first == second:
        raise TraceError(f"{asked_by}: it goes from a corner to itself; name two corners.")

    def gap(*moved: Primitive) -> float:
        start = figure.corner(first, moved[0], moved[1])
        end = figure.corner(second, moved[2], moved[3])
        return float(np.hypot(*(end - start))) - known.length_mm

    return Condition((figure.before[first], first, figure.before[second], second), gap, known.u_mm)


def _edges_of(figure: Figure, known: KnownLength) -> tuple[str, ...]:
    return tuple(name for corner in known.of for name in corner.split("/"))


def _questioned(
    correction: Correction,
    off_mm: float,
    u_mm: float,
    whence: str,
    place: Point | None = None,
    *,
    done: str = "applied",
) -> list[Finding]:
    """A finding about a correction that is beyond reason, its place, and what was done with it."""
    if off_mm <= max(_BEYOND_REASON * u_mm, _LEAST_DOUBT_MM):
        return []
    return [
        Finding(
            Level.SERIOUS,
            str(correction),
            f"This correction is {off_mm:.1f} mm {whence}, which is known to"
            f" ± {2 * u_mm:.1f} mm; it was {done}.",
            "Measure the place again on the template before anything is cut.",
            place,
        )
    ]
