"""Evenly spaced points along an edge or a riser, for lights and balusters, clear of joists.

Common practice, and for guards IRC R312.1.3 (openings must not let a ball of 4 in (102 mm) pass up
to the height that the code states): balusters have one clear distance all along.
"""

from dataclasses import dataclass

from shapecut.errors import LayoutError
from shapecut.findings import Finding, Level
from shapecut.layout.drill_marks import Ends, evenly_spaced
from shapecut.layout.joists import Joists
from shapecut.layout.joists_behind import JoistBehind, joists_behind
from shapecut.shape.curves import Curve, Line
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Point
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["PointRow", "PointRowRules", "SpacedPoint", "point_row"]


@dataclass(frozen=True)
class PointRowRules:
    """A row of points.

    Attributes:
        name: Of the row; its points are named after it.
        edge: The outline edge that they lie along; or
        length_mm: the length of a riser or rail that is no edge.
        count: How many; or
        at_most_mm: the greatest clear distance.
        size_mm: Of what stands at each point, along the row.
        margin_mm: Left out at both ends.
        ends: What is left there besides.
        clear_mm: Least distance from the side of a thing to the side of a joist behind it; None
            where joists do not matter.
        lengths: How findings and refusals write lengths.
    """

    name: str
    edge: str | None = None
    length_mm: float | None = None
    count: int | None = None
    at_most_mm: float | None = None
    size_mm: float = 0.0
    margin_mm: float = 0.0
    ends: Ends = Ends.HALF
    clear_mm: float | None = None
    lengths: LengthStyle = MILLIMETRES


@dataclass(frozen=True)
class SpacedPoint:
    """One point.

    Attributes:
        name: Row's name and number.
        along_mm: From the left end, as seen from outside.
        place: In the plane, where the row lies along an edge.
    """

    name: str
    along_mm: float
    place: Point | None


@dataclass(frozen=True)
class PointRow:
    """A row of points.

    Attributes:
        rules: What it was made from.
        length_mm: Of the edge or riser.
        clear_mm: Between the sides of two neighbours.
        points: From the left.
        findings: Clashes with joists.
    """

    rules: PointRowRules
    length_mm: float
    clear_mm: float
    points: tuple[SpacedPoint, ...]
    findings: tuple[Finding, ...] = ()


def point_row(outline: Outline, rules: PointRowRules, joists: Joists | None = None) -> PointRow:
    """Space the points of a row.

    Raises:
        LayoutError: If the edge does not exist, or the points have no room on it.
    """
    curve = _curve(outline, rules) if rules.edge else None
    length = curve.length if curve else rules.length_mm or 0.0
    try:
        places, clear = evenly_spaced(
            length,
            count=rules.count,
            at_most_mm=rules.at_most_mm,
            size_mm=rules.size_mm,
            margin_mm=rules.margin_mm,
            ends=rules.ends,
            lengths=rules.lengths,
        )
    except LayoutError as error:
        raise LayoutError(f"{rules.name}: {error}") from None
    points = tuple(
        SpacedPoint(f"{rules.name} {n}", at, curve.at(at / length) if curve else None)
        for n, at in enumerate(places, start=1)
    )
    behind: tuple[JoistBehind, ...] = ()
    if joists and isinstance(curve, Line) and rules.clear_mm is not None:
        behind = joists_behind(joists, curve)
    clashes = tuple(f for p in points for f in [_clash(p, behind, rules)] if f)
    return PointRow(rules, length, clear, points, clashes)


def _curve(outline: Outline, rules: PointRowRules) -> Curve:
    curves = {edge.name: edge.curve for edge in outline.edges}
    if rules.edge not in curves:
        raise LayoutError(
            f'{rules.name}: the points are to lie along "{rules.edge}", but the outline has no '
            f"such edge: it has {', '.join(curves)}."
        )
    return curves[rules.edge]


def _clash(
    point: SpacedPoint, behind: tuple[JoistBehind, ...], rules: PointRowRules
) -> Finding | None:
    """What to do about a point with a joist behind it."""
    clear = rules.clear_mm or 0.0
    for one in behind:
        keep = one.half_mm + rules.size_mm / 2 + clear
        off = point.along_mm - one.along_mm
        if abs(off) < keep - 1e-6:
            by, way = keep - abs(off), "right" if off >= 0 else "left"
            return Finding(
                Level.CHECK,
                point.name,
                f"It is {rules.lengths(point.along_mm)} from the left end, "
                f"{rules.lengths(abs(off))} from the centre line of joist J{one.joist + 1} behind "
                f"it, where {rules.lengths(keep)} are asked.",
                f"Move it {rules.lengths(by)} to the {way}, or move the whole row.",
                point.place,
            )
    return None
