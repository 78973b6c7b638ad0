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
from shapecut.layout.joists import Joists
from shapecut.layout.joists_behind import joists_behind
from shapecut.layout.piece_labels import piece_letters
from shapecut.shape.curves import Line
from shapecut.shape.outline import Edge, Outline
from shapecut.shape.turning import turn_between

__all__ = ["Fascia", "FasciaPart", "FasciaRules", "fascia_of"]


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
    """

    edges: tuple[str, ...]
    thickness_mm: float
    width_mm: float
    longest_mm: float
    shortest_mm: float = 0.0
    away_from: str | None = None
    screws: ScrewPattern | None = None


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
        joists: Behind it, for holes at joists.

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
                f"{edge.curve.radius:.0f} mm, {edge.curve.length:.0f} mm long, for which a board "
                f"has to be bent; leave it out of fascia.edges and take it off by hand."
            )
        mitres = (_mitre(before, edge, rules), _mitre(edge, after, rules))
        towards_start = _is_far_start(outline, edge, rules)
        made = list(_run(f"F{number}", name, edge.curve, mitres, towards_start, rules))
        if len(made) > 1:
            findings.append(_joint_finding(name, made))
        parts += [_drilled(part, edge.curve, rules, joists) for part in made]
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


def _run(
    label: str,
    edge: str,
    line: Line,
    mitres: tuple[float, float],
    towards_start: bool | None,
    rules: FasciaRules,
) -> Iterator[FasciaPart]:
    """The parts of one run, from left to right."""
    reach = [rules.thickness_mm * math.tan(mitre) for mitre in mitres]
    points = [max(0.0, past) for past in reach]
    cuts = _cuts(line.length, points, towards_start, rules)
    stops = [0.0, *cuts, line.length]
    for n, (start, end) in enumerate(pairwise(stops)):
        first, last = n == 0, n == len(cuts)
        back = end - start
        yield FasciaPart(
            label=label + (piece_letters(n) if cuts else ""),
            edge=edge,
            back_mm=back,
            face_mm=back + (reach[0] if first else 0.0) + (reach[1] if last else 0.0),
            length_mm=back + (points[0] if first else 0.0) + (points[1] if last else 0.0),
            mitres_rad=(mitres[0] if first else 0.0, mitres[1] if last else 0.0),
            from_mm=start,
        )


def _cuts(
    back_mm: float, points: Sequence[float], towards_start: bool | None, rules: FasciaRules
) -> list[float]:
    """Where a run is joined, along its back from the start.

    Evenly; or, away from a named edge, with the longest parts from the end that is nearer to it.
    """
    whole = back_mm + sum(points)
    refuse_too_many(whole / rules.longest_mm, "boards of fascia")
    count = max(1, math.ceil(whole / rules.longest_mm - 1e-9))
    if towards_start is None:
        return [k * whole / count - points[0] for k in range(1, count)]
    near, far = points if not towards_start else points[::-1]
    cuts = [k * rules.longest_mm - near for k in range(1, count)]
    if cuts and back_mm + far - cuts[-1] < rules.shortest_mm:
        # The last part but one gives what the last lacks, if it stays long enough itself.
        cuts[-1] = max(
            back_mm + far - rules.shortest_mm, (cuts[-2] if len(cuts) > 1 else -near) + 1.0
        )
    return cuts if not towards_start else [back_mm - cut for cut in reversed(cuts)]


def _drilled(part: FasciaPart, line: Line, rules: FasciaRules, joists: Joists | None) -> FasciaPart:
    """The part with its holes."""
    if rules.screws is None:
        return part
    past = rules.thickness_mm * math.tan(part.mitres_rad[0])
    behind = joists_behind(joists, line) if joists else ()
    along = [one.along_mm - part.from_mm + past for one in behind]
    marks = pattern_marks(part.label, part.face_mm, rules.width_mm, rules.screws, along)
    return replace(part, marks=marks)


def _joint_finding(edge: str, parts: Sequence[FasciaPart]) -> Finding:
    places = ", ".join(f"{part.from_mm:.0f}" for part in parts[1:])
    return Finding(
        Level.NOTE,
        f"fascia along {edge}",
        f"It is joined {places} mm along the edge from its left end: the run is longer than the "
        f"longest board.",
        "Fix both ends at each joint to one joist or block.",
    )


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
