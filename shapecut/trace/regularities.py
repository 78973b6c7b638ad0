"""Edges that are square, parallel or equal as far as was measured: offered, and applied on request.

A regularity is offered only where the measurement agrees with it and would have shown it wrong had
it been off by little more than a saw's width.  Applying one moves all edges together, each as
little as its uncertainty lets it (see `conditions`); one that the measurement contradicts is
refused.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

from shapecut.errors import TraceError
from shapecut.findings import Finding, Level
from shapecut.shape.curves import Line
from shapecut.trace.conditions import Condition, Settled, gap_and_u, gap_of, settle
from shapecut.trace.figure import Figure, centre_gap, figure_of
from shapecut.trace.primitives import CircleFit, LineFit
from shapecut.trace.regularity import Regularity, Relation
from shapecut.trace.traced import ByHand, Traced

__all__ = ["offered_regularities", "with_regularities"]

COVERAGE = 1.96
"""Standard uncertainties in half a 95 % interval of a normal law."""
_CHI2_95 = (0.0, 3.841, 5.991, 7.815)
"""95 % quantiles of chi-square by degrees of freedom (R. A. Fisher's table)."""
_TIGHT_DEG = 0.3
"""An angle known less closely than this, at 95 %, says nothing about being meant."""
_TIGHT_MM = 1.5
"""The same of a length, a radius or a place."""


def with_regularities(
    traced: Traced, regularities: Sequence[Regularity], fixed: Sequence[str] = ()
) -> Traced:
    """Apply what a person says of the edges, one after the other.

    Args:
        traced: The outline, its edges named.
        regularities: What is said.
        fixed: Corners, such as E3/E4, that the person placed and that stay.

    Returns:
        The outline with those applied that the measurement does not contradict at 95 %, each shown
        as the person's; a finding for each refused.

    Raises:
        TraceError: If one names no edge, or edges that cannot be so.
    """
    figure = figure_of(traced.outline)
    kept = [figure.corner_after(name, "corrections") for name in fixed]
    accepted = figure.standing(kept)
    now = settle(figure.primitives, figure.covariances, accepted)
    by_hand, findings = [], []
    for regularity in regularities:
        asked = _conditions(figure, regularity)
        then = settle(figure.primitives, figure.covariances, [*accepted, *asked])
        if _contradicted(now, then):
            findings.append(_refused(figure, regularity, asked))
            continue
        by_hand.append(_applied(figure, regularity, asked))
        accepted, now = [*accepted, *asked], then
    if not by_hand:
        return replace(traced, findings=(*traced.findings, *findings))
    return replace(
        traced,
        outline=figure.redrawn(now.primitives),
        findings=(*traced.findings, *findings),
        by_hand=(*traced.by_hand, *by_hand),
    )


def offered_regularities(traced: Traced) -> tuple[Finding, ...]:
    """A note on the regularities that the measurement agrees with, ready to be written in a job."""
    figure = figure_of(traced.outline)
    offers = [*_straight_offers(figure), *_equal_offers(figure)]
    if not offers:
        return ()
    listed = "; ".join(f"{regularity} within {within}" for regularity, within in offers)
    lines = ", ".join(f'"{regularity}"' for regularity, _ in offers)
    return (
        Finding(
            Level.NOTE,
            "outline",
            f"As far as was measured (95 %), {listed}.",
            f"Where that was meant, state it under [template]: regular = [{lines}].",
        ),
    )


def _straight_offers(figure: Figure) -> Iterator[tuple[Regularity, str]]:
    """Each line against the longest one that it is square or parallel to."""
    lines = {
        k: edge.curve
        for k, edge in enumerate(figure.edges)
        if isinstance(edge.curve, Line) and edge.name == edge.whole
    }
    roots: list[int] = []
    for k in sorted(lines, key=lambda k: -lines[k].length):
        for root in roots:
            relation = _nearer_direction(lines[k], lines[root])
            offer = _offer(figure, k, relation, root)
            if offer:
                in_line = _offer(figure, k, Relation.IN_LINE, root)
                yield in_line if relation is Relation.PARALLEL and in_line else offer
                break
        else:
            roots.append(k)


def _equal_offers(figure: Figure) -> Iterator[tuple[Regularity, str]]:
    """Lines of one length, arcs of one radius or centre; each edge once, against the first."""
    plain = [k for k, edge in enumerate(figure.edges) if edge.name == edge.whole]
    for relation in (Relation.LENGTH, Relation.CENTRE, Relation.RADIUS):
        taken: set[int] = set()
        for root, k in combinations(plain, 2):
            pair = (figure.primitives[root], figure.primitives[k])
            arcs = all(isinstance(one, CircleFit) for one in pair)
            lines = all(isinstance(one, LineFit) for one in pair)
            if k in taken or root in taken or (figure.before[k] == root and arcs):
                continue
            if lines if relation is Relation.LENGTH else arcs:
                offer = _offer(figure, k, relation, root)
                if offer:
                    taken.add(k)
                    yield offer


def _offer(figure: Figure, k: int, relation: Relation, root: int) -> tuple[Regularity, str] | None:
    """A regularity that the measurement agrees with closely enough to mean something."""
    regularity = Regularity(figure.edges[k].name, relation, figure.edges[root].name)
    conditions = _conditions(figure, regularity)
    angle = relation in (Relation.SQUARE, Relation.PARALLEL)
    tight = math.radians(_TIGHT_DEG) if angle else _TIGHT_MM
    # What is off by more than the widest interval that means something is not worth its interval.
    if any(abs(gap_of(one, figure.primitives)) > tight for one in conditions):
        return None
    measured = [gap_and_u(one, figure.primitives, figure.covariances) for one in conditions]
    within = COVERAGE * max(u for _, u in measured)
    if within > tight or any(abs(gap) > COVERAGE * u for gap, u in measured):
        return None
    return regularity, f"{math.degrees(within):.2f}°" if angle else f"{within:.1f} mm"


def _nearer_direction(first: Line, second: Line) -> Relation:
    (ax, ay), (bx, by) = first.direction(), second.direction()
    square = abs(ax * by - ay * bx) > abs(ax * bx + ay * by)
    return Relation.SQUARE if square else Relation.PARALLEL


def _contradicted(before: Settled, after: Settled) -> bool:
    """Whether what was asked for last is beyond 95 % of what the measurement leaves open."""
    freedom = min(max(after.freedom - before.freedom, 1), len(_CHI2_95) - 1)
    return after.chi2 - before.chi2 > _CHI2_95[freedom] or not math.isfinite(after.worst_gap)


def _conditions(figure: Figure, regularity: Regularity) -> list[Condition]:
    """What a regularity asks for.

    Raises:
        TraceError: If it names no edge, or edges that cannot be so.
    """
    asked_by = f'template.regular "{regularity}"'
    pair = tuple(figure.index(name, asked_by) for name in (regularity.first, regularity.second))
    kind = CircleFit if regularity.relation in (Relation.RADIUS, Relation.CENTRE) else LineFit
    for name, k in zip((regularity.first, regularity.second), pair, strict=True):
        if not isinstance(figure.primitives[k], kind):
            wanted = "an arc" if kind is CircleFit else "straight"
            raise TraceError(f"{asked_by}: {name} is not {wanted}; name other edges.")
    first, second = pair
    match regularity.relation:
        case Relation.SQUARE:
            return [Condition(pair, _square_gap)]
        case Relation.PARALLEL:
            return [Condition(pair, _parallel_gap)]
        case Relation.IN_LINE:
            return [Condition(pair, _parallel_gap), Condition(pair, _offset_gap)]
        case Relation.RADIUS:
            return [Condition(pair, lambda a, b: a.radius - b.radius)]
        case Relation.CENTRE:
            return [Condition(pair, centre_gap(axis)) for axis in (0, 1)]
        case Relation.LENGTH:
            members = tuple(j for k in pair for j in (figure.before[k], k, figure.after(k)))
            return [
                Condition(
                    members,
                    lambda *moved: (
                        figure.length(first, *moved[:3]) - figure.length(second, *moved[3:])
                    ),
                )
            ]


def _parallel_gap(first: LineFit, second: LineFit) -> float:
    """Angle between two lines, whichever way they run; -π/2 to π/2."""
    (ax, ay), (bx, by) = first.direction, second.direction
    return math.remainder(math.atan2(by, bx) - math.atan2(ay, ax), math.pi)


def _square_gap(first: LineFit, second: LineFit) -> float:
    """What is missing from a right angle; -π/2 to π/2."""
    (ax, ay), (bx, by) = first.direction, second.direction
    return math.remainder(math.atan2(by, bx) - math.atan2(ay, ax) - math.pi / 2, math.pi)


def _offset_gap(first: LineFit, second: LineFit) -> float:
    """How far the second line's middle is from the first line, mm."""
    (x, y), (dx, dy) = first.point, first.direction
    return dx * (second.point[1] - y) - dy * (second.point[0] - x)


def _missing(figure: Figure, asked: Sequence[Condition], relation: Relation) -> tuple[str, str]:
    """The gap that contradicts most, and its 95 % interval, with units."""
    measured = [gap_and_u(one, figure.primitives, figure.covariances) for one in asked]
    gap, u = max(measured, key=lambda pair: abs(pair[0]) / pair[1])
    if asked[0].gap in (_parallel_gap, _square_gap) and relation is not Relation.IN_LINE:
        return f"{abs(math.degrees(gap)):.2f}°", f"{math.degrees(COVERAGE * u):.2f}°"
    if relation is Relation.IN_LINE:
        gap, u = measured[1]
    return f"{abs(gap):.1f} mm", f"{COVERAGE * u:.1f} mm"


def _applied(figure: Figure, regularity: Regularity, asked: Sequence[Condition]) -> ByHand:
    gap, within = _missing(figure, asked, regularity.relation)
    return ByHand(
        (regularity.first, regularity.second),
        f"{regularity} by choice; measured {gap} off it, known to ± {within}.",
    )


def _refused(figure: Figure, regularity: Regularity, asked: Sequence[Condition]) -> Finding:
    gap, within = _missing(figure, asked, regularity.relation)
    return Finding(
        Level.CHECK,
        f"{regularity.first}, {regularity.second}",
        f'"{regularity}" was not applied: they were measured {gap} off it, known to ± {within}'
        " (95 %), what was applied before it included.",
        "Check the template with a square or a tape; take it out of template.regular.",
    )
