"""Fascia and trim along edges: lengths, mitres, joints, and screw holes to drill.

Glossary:
    back: the face on the frame, along the outline's edge.
    face: the side in sight, the fascia's thickness further out.
    turn: how far the outline turns at a corner; both boards there are cut half of it off square.
    left, right: as seen from outside, facing the place; the edge's start is on the left.

The face reaches past the corner by t · tan(turn / 2), t being the thickness; at inside corners,
where the turn is negative, it stops short of it by as much.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from shapecut.errors import LayoutError
from shapecut.findings import Finding, Level
from shapecut.layout.drill_marks import DrillMark, ScrewPattern, pattern_marks, refuse_too_many
from shapecut.layout.fewest_cuts import PartLengths, fewest_cuts
from shapecut.layout.joists import Joists
from shapecut.layout.joists_behind import JoistBehind, joists_behind
from shapecut.layout.piece_labels import piece_letters
from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Outline
from shapecut.shape.turning import turn_between
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["Fascia", "FasciaPart", "FasciaRules", "fascia_of"]

SAME_PLACE_MM = 1e-3
"""A joint this near to a joist's middle is over it."""


@dataclass(frozen=True)
class FasciaRules:
    """A fascia.

    Attributes:
        edges: That it covers.
        thickness_mm: Of the fascia's boards.
        width_mm: That they are ripped to.
        longest_mm: Longest part that can be had.
        shortest_mm: No part of a joined run is shorter, if that can be.
        away_from: The edge from which joints are to lie as far as can be; None to part runs evenly.
        screws: The holes in each part.
        lengths: How findings and refusals write lengths.
    """

    edges: tuple[str, ...]
    thickness_mm: float
    width_mm: float
    longest_mm: float
    shortest_mm: float = 0.0
    away_from: str | None = None
    screws: ScrewPattern | None = None
    lengths: LengthStyle = MILLIMETRES


@dataclass(frozen=True)
class FasciaPart:
    """One board of the fascia.

    Attributes:
        label: F1, F2, ... in the order of the edges; F3a, F3b where a run is joined.
        edge: That it lies along.
        back_mm: Length on the frame.
        face_mm: Length in sight.
        length_mm: Of the board that it is cut from, from point to point.
        mitres_rad: Left and right, off square; positive where the face is longer than the back,
            negative at inside corners, nought where the end is square.
        from_mm: Along the edge from its start to the left end of its back.
        marks: Holes, from the left end of the face and from its lower edge.
    """

    label: str
    edge: str
    back_mm: float
    face_mm: float
    length_mm: float
    mitres_rad: tuple[float, float]
    from_mm: float
    marks: tuple[DrillMark, ...] = ()


@dataclass(frozen=True)
class Fascia:
    """All parts of a fascia, and what a fitter must know."""

    parts: tuple[FasciaPart, ...]
    rules: FasciaRules
    findings: tuple[Finding, ...] = ()


def fascia_of(outline: Outline, rules: FasciaRules, joists: Joists | None = None) -> Fascia:
    """Cut the fascia for some edges.

    Args:
        outline: The frame.
        rules: Of the fascia.
        joists: Behind it, for joints and holes over them.

    Raises:
        LayoutError: If an edge does not exist or is an arc, or holes do not fit.
    """
    parts: list[FasciaPart] = []
    findings: list[Finding] = []
    for number, name in enumerate(rules.edges, start=1):
        before, edge, after = _with_neighbours(outline, name)
        if not isinstance(edge.curve, Line):
            raise LayoutError(
                f"No fascia can be mitred at {name}: it is an arc of radius "
                f"{rules.lengths(edge.curve.radius)}, {rules.lengths(edge.curve.length)} long, "
                f"for which a board has to be bent; leave it out of fascia.edges and take it off "
                f"by hand."
            )
        mitres = (_mitre(before, edge, rules), _mitre(edge, after, rules))
        towards_start = _is_far_start(outline, edge, rules)
        behind = joists_behind(joists, edge.curve) if joists else ()
        run = _Run(f"F{number}", name, edge.curve, mitres, behind)
        made = list(_parts(run, towards_start, rules))
        if len(made) > 1:
            findings.append(_joint_finding(run, made, rules))
        parts += [_drilled(part, run, rules) for part in made]
    return Fascia(tuple(parts), rules, (*findings, *_undrilled(parts, rules)))


def _with_neighbours(outline: Outline, name: str) -> tuple[Edge, Edge, Edge]:
    for ring in outline.rings:
        for place, edge in enumerate(ring.edges):
            if edge.name == name:
                return ring.edges[place - 1], edge, ring.edges[(place + 1) % len(ring.edges)]
    names = ", ".join(edge.name for edge in outline.edges)
    raise LayoutError(f'A fascia is to cover "{name}", but the outline has no such edge: {names}.')


def _mitre(before: Edge, after: Edge, rules: FasciaRules) -> float:
    """Half of the turn where both edges have a fascia; nought, for a square end, where not."""
    if before.name in rules.edges and after.name in rules.edges:
        return turn_between(before.curve, after.curve) / 2
    return 0.0


def _is_far_start(outline: Outline, edge: Edge, rules: FasciaRules) -> bool | None:
    """Whether joints are to lie towards the edge's start; None for wherever."""
    if rules.away_from is None:
        return None
    _, named, _ = _with_neighbours(outline, rules.away_from)

    def distance(fraction: float) -> float:
        at = edge.curve.at(fraction)
        return min(math.dist(at, named.curve.at(k / 16)) for k in range(17))

    return distance(0.0) > distance(1.0)


@dataclass(frozen=True)
class _Run:
    """All fascia along one edge.

    Attributes:
        label: Of the board, if one is enough.
        edge: Its name.
        line: Its course.
        mitres: Left and right, radians off square.
        behind: The joists that end behind it.
    """

    label: str
    edge: str
    line: Line
    mitres: tuple[float, float]
    behind: tuple[JoistBehind, ...]


def _parts(run: _Run, towards_start: bool | None, rules: FasciaRules) -> Iterator[FasciaPart]:
    """The parts of a run, from left to right."""
    reach = [rules.thickness_mm * math.tan(mitre) for mitre in run.mitres]
    points = (max(0.0, reach[0]), max(0.0, reach[1]))
    cuts = _cuts(run, points, towards_start, rules)
    stops = [0.0, *cuts, run.line.length]
    for n, (start, end) in enumerate(pairwise(stops)):
        first, last = n == 0, n == len(cuts)
        back = end - start
        yield FasciaPart(
            label=run.label + (piece_letters(n) if cuts else ""),
            edge=run.edge,
            back_mm=back,
            face_mm=back + (reach[0] if first else 0.0) + (reach[1] if last else 0.0),
            length_mm=back + (points[0] if first else 0.0) + (points[1] if last else 0.0),
            mitres_rad=(run.mitres[0] if first else 0.0, run.mitres[1] if last else 0.0),
            from_mm=start,
        )


def _cuts(
    run: _Run, points: tuple[float, float], towards_start: bool | None, rules: FasciaRules
) -> list[float]:
    """Where a run is joined, along its back from the start.

    Evenly; or, away from a named edge, with the longest parts from the end that is nearer to it.
    Over joists where that costs no joint more.

    Args:
        run: To be joined.
        points: How far its two mitres reach beyond its back.
        towards_start: Whether joints lie towards the start; None for evenly.
        rules: Of the fascia.
    """
    whole = run.line.length + sum(points)
    refuse_too_many(whole / rules.longest_mm, "boards of fascia")
    count = max(1, math.ceil(whole / rules.longest_mm - 1e-9))
    if count == 1:
        return []
    # From the end that joints are to lie away from, its point included.
    near = points[1] if towards_start else points[0]
    lengths = PartLengths(rules.longest_mm, rules.shortest_mm)
    joists = [one.along_mm for one in run.behind if 0 < one.along_mm < run.line.length]
    if towards_start:
        joists = [run.line.length - along for along in reversed(joists)]
    places = [near + along for along in joists]
    cuts = fewest_cuts(places, whole, lengths, late=towards_start is not None)
    if cuts is None or len(cuts) >= count:
        cuts = _anywhere(whole, count, lengths, evenly=towards_start is None)
    along = [cut - near for cut in cuts]
    return [run.line.length - at for at in reversed(along)] if towards_start else along


def _anywhere(
    whole_mm: float, count: int, parts: PartLengths, *, evenly: bool
) -> tuple[float, ...]:
    """Cuts into so many parts: evenly, or the longest first."""
    if evenly:
        return tuple(k * whole_mm / count for k in range(1, count))
    cuts = [k * parts.longest_mm for k in range(1, count)]
    if whole_mm - cuts[-1] < parts.shortest_mm:
        # The last part but one gives what the last lacks, if it stays long enough itself.
        before = cuts[-2] if len(cuts) > 1 else 0.0
        cuts[-1] = max(whole_mm - parts.shortest_mm, before + 1.0)
    return tuple(cuts)


def _drilled(part: FasciaPart, run: _Run, rules: FasciaRules) -> FasciaPart:
    """The part with its holes."""
    if rules.screws is None:
        return part
    past = rules.thickness_mm * math.tan(part.mitres_rad[0])
    along = [one.along_mm - part.from_mm + past for one in run.behind]
    marks = pattern_marks(part.label, part.face_mm, rules.width_mm, rules.screws, along)
    return replace(part, marks=marks)


def _joint_finding(run: _Run, parts: Sequence[FasciaPart], rules: FasciaRules) -> Finding:
    joists = [_joist_at(run, part.from_mm) for part in parts[1:]]
    places = ", ".join(
        rules.lengths(part.from_mm) + (f" (over joist J{joist + 1})" if joist is not None else "")
        for part, joist in zip(parts[1:], joists, strict=True)
    )
    return Finding(
        Level.NOTE,
        f"fascia along {run.edge}",
        f"It is joined {places} along the edge from its left end: the run is longer than the "
        f"longest board.",
        "Put a block behind each joint that no joist is behind, and fix both ends to it."
        if None in joists
        else "Fix both ends at each joint to the joist behind it.",
    )


def _joist_at(run: _Run, along_mm: float) -> int | None:
    """The joist whose middle is behind a place."""
    near = (one.joist for one in run.behind if abs(one.along_mm - along_mm) < SAME_PLACE_MM)
    return next(near, None)


def _undrilled(parts: Sequence[FasciaPart], rules: FasciaRules) -> Iterator[Finding]:
    """Parts whose holes were to be at joists where no joist ends."""
    if rules.screws is None or rules.screws.spacing_mm is not None:
        return
    bare = [part.label for part in parts if not part.marks]
    if bare:
        yield Finding(
            Level.CHECK,
            "fascia",
            f"No joist ends behind {', '.join(bare)}, so no holes are marked there.",
            "State a spacing of the columns under [fascia] instead.",
        )
