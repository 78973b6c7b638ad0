"""The report's edges of the outline: what each is, how sure, and what the boards meet there."""

import math
from collections.abc import Mapping, Sequence, Set
from itertools import groupby

from shapecut.papers.length_uncertainty import COVERAGE, length_u95_mm
from shapecut.papers.markup import Lengths, section, table
from shapecut.papers.report_settings import ReportSettings
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Edge, Outline, Treatment
from shapecut.survey.survey import Survey
from shapecut.trace.traced import Traced

__all__ = ["edges_section"]

TREATMENT_WORDS = {
    Treatment.WALL: "wall or post, gap left",
    Treatment.COVERED: "under fascia or trim",
    Treatment.EXPOSED: "stays in sight, cut outside and sand to it",
    Treatment.OVERHANG: "nosing past the frame",
    Treatment.BUTT: "meets another board",
}


def edges_section(
    outline: Outline, survey: Survey | None, traced: Traced | None, settings: ReportSettings
) -> str:
    """Write the table of edges."""
    relative_u = survey.relative_u if survey else 0.0
    by_name = {
        edge.name: length_u95_mm(ring, index, relative_u=relative_u)
        for ring in outline.rings
        for index, edge in enumerate(ring.edges)
    }
    by_hand = {name for one in (traced.by_hand if traced else ()) for name in one.edges}
    rows = [
        _edge_row(name, list(parts), by_name, by_hand, settings)
        for name, parts in groupby(outline.edges, lambda edge: edge.whole)
    ]
    header = (
        "edge", "kind", "length", "length, 95 %", "lies within, 95 %", "what the boards meet",
        "allowance",
    )  # fmt: skip
    caption = "Every edge by its name, clockwise; a length's uncertainty includes the scale's"
    return section("edges", "Edges of the outline", table(caption, header, rows))


def _edge_row(
    name: str,
    parts: Sequence[Edge],
    by_name: Mapping[str, float | None],
    by_hand: Set[str],
    settings: ReportSettings,
) -> tuple[str, ...]:
    """One edge, or a freeform curve with all its parts."""
    written = settings.lengths
    lengths = [by_name[edge.name] for edge in parts]
    u_mm = [edge.u_mm for edge in parts]
    first = parts[0]
    allowance = dict(settings.allowances).get(first.treatment)
    settled = " (settled by you)" if by_hand & {edge.name for edge in parts} else ""
    return (
        name,
        _kind(parts, written) + settled,
        written(sum(edge.curve.length for edge in parts)),
        "not measured" if None in lengths else written.within(math.hypot(*filter(None, lengths))),
        "not measured"
        if None in u_mm
        else written.within(COVERAGE * max(filter(None, u_mm), default=0), 2),
        f"{first.treatment.value}: {TREATMENT_WORDS[first.treatment]}",
        "" if allowance is None else _allowance(allowance, written),
    )


def _kind(parts: Sequence[Edge], lengths: Lengths) -> str:
    """What an edge is, in a word."""
    if len(parts) > 1:
        return f"curve of {len(parts)} arcs"
    curve = parts[0].curve
    return f"arc, radius {lengths(curve.radius)}" if isinstance(curve, Arc) else "straight"


def _allowance(reach_mm: float, lengths: Lengths) -> str:
    """How far boards reach past an edge (positive) or stay back from it."""
    if reach_mm == 0:
        return "none"
    return f"{lengths(abs(reach_mm))} {'past' if reach_mm > 0 else 'back'}"
