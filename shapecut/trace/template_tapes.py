"""Distances taped over the template: they hold the scale that the printed cards leave unsure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapecut.errors import TraceError
from shapecut.findings import Finding, Level
from shapecut.shape.outline import Edge, Outline, Ring
from shapecut.shape.placement import Point
from shapecut.survey.scale import scale_by_tape
from shapecut.survey.survey import Survey
from shapecut.trace.traced import Traced

__all__ = ["TemplateTape", "scaled_by_tapes"]

MISTYPED = 5.0
"""A tape this many combined standard uncertainties off what was measured is not believed."""


@dataclass(frozen=True)
class TemplateTape:
    """A distance taped between two corners of the template.

    Attributes:
        start: One corner, by the two edges that meet there, e.g. `E3/E4`.
        end: The other.
        length_mm: As taped.
        u_mm: Its standard uncertainty.
    """

    start: str
    end: str
    length_mm: float
    u_mm: float

    def __str__(self) -> str:
        """As a person would point at it."""
        return f"tape from {self.start} to {self.end}"


@dataclass(frozen=True)
class _Corner:
    place: Point
    u_mm: float


def scaled_by_tapes(
    survey: Survey, traced: Traced, tapes: Sequence[TemplateTape]
) -> tuple[Survey, Traced]:
    """Let taped distances over the template speak for the scale, one after the other.

    Args:
        survey: In the plane of the outline.
        traced: The outline, its edges named.
        tapes: The distances.

    Returns:
        Survey and outline in the plane with its distances corrected, and what became of each tape
        among the findings; a tape that contradicts the measurement is reported, not used.

    Raises:
        TraceError: If a tape names no corner of the outline.
    """
    for tape in tapes:
        start, end = (_corner(traced.outline, name, tape) for name in (tape.start, tape.end))
        measured = math.dist(start.place, end.place)
        if measured == 0:
            raise TraceError(f"The {tape} goes from a corner to itself: name two corners.")
        taped = scale_by_tape(
            survey,
            measured_mm=measured,
            shape_u_mm=math.hypot(start.u_mm, end.u_mm),
            taped_mm=tape.length_mm,
            tape_u_mm=tape.u_mm,
        )
        if taped.off > MISTYPED:
            finding = _contradicting(tape, measured, survey.relative_u * measured)
        else:
            survey = survey.scaled(taped.factor, relative_u=taped.relative_u)
            traced = _scaled(traced, taped.factor)
            finding = _taken_up(tape, measured, taped.relative_u)
        traced = replace(traced, findings=(*traced.findings, finding))
    return survey, traced


def _corner(outline: Outline, name: str, tape: TemplateTape) -> _Corner:
    """Where two neighbouring edges meet, and how sure that is."""
    names = {part.strip() for part in name.split("/")}
    for ring in outline.rings:
        for before, after in zip(ring.edges, (*ring.edges[1:], *ring.edges[:1]), strict=True):
            if names in ({before.name, after.name}, {before.whole, after.whole}):
                return _Corner(before.curve.end, _corner_u_mm(before, after))
    raise TraceError(
        f"The {tape} names {name}, which is no corner of the outline: write the two edges that "
        "meet there, such as E1/E2."
    )


def _corner_u_mm(before: Edge, after: Edge) -> float:
    """Two edges that cross at an angle φ hold their corner to √(u₁² + u₂²) / sin φ."""
    (ax, ay), (bx, by) = before.curve.direction(1.0), after.curve.direction(0.0)
    sine = max(abs(ax * by - ay * bx), 0.1)
    return math.hypot(before.u_mm or 0.0, after.u_mm or 0.0) / sine


def _scaled(traced: Traced, factor: float) -> Traced:
    def ring_scaled(ring: Ring) -> Ring:
        edges = (replace(edge, curve=edge.curve.scaled(factor)) for edge in ring.edges)
        return Ring(tuple(edges))

    outer, *holes = map(ring_scaled, traced.outline.rings)
    samples = (replace(samples, mm=samples.mm * factor) for samples in traced.samples)
    return replace(
        traced,
        outline=Outline(outer, tuple(holes)),
        samples=tuple(samples),
        setting_out=traced.setting_out.scaled(factor),
    )


def _taken_up(tape: TemplateTape, measured_mm: float, relative_u: float) -> Finding:
    return Finding(
        Level.NOTE,
        str(tape),
        f"It says {tape.length_mm:.1f} mm where {measured_mm:.1f} mm was measured; with it every "
        f"length is known to ± {2e3 * relative_u:.2f} mm a metre as far as scale goes (95 %).",
    )


def _contradicting(tape: TemplateTape, measured_mm: float, u_mm: float) -> Finding:
    return Finding(
        Level.SERIOUS,
        str(tape),
        f"It says {tape.length_mm:.1f} mm where {measured_mm:.1f} ± {2 * u_mm:.1f} mm was "
        "measured; it was not used.",
        "Tape that distance again and correct it in the job; if it stays, measure the check bars.",
    )
