"""From drawn paths to an outline: rings, which of them is the outer one, names for the edges."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from shapecut.drawings.chains import DrawnRing, closed_rings
from shapecut.drawings.drawn import MOST_CURVES, Drawn, DrawnPath, place_text
from shapecut.drawings.polyline_arcs import with_arcs
from shapecut.errors import ShapeError
from shapecut.findings import Finding, Level
from shapecut.shape.biarcs import FREEFORM_MM
from shapecut.shape.curves import Curve
from shapecut.shape.monotone import Bounds, bounds, winding
from shapecut.shape.naming import named_outline
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Point
from shapecut.shape.setting_out import SettingOut
from shapecut.shape.validity import check_outline

__all__ = ["GivenOutline", "drawn_outline"]

SAME_PLACE_MM = 1e-3
"""Curves drawn twice agree in their ends and middles to this, mm."""

LEAST_AREA_MM2 = 1e-3
"""A ring of less area is a line there and back, mm²."""

NAMED_RINGS = 4
"""How many of several outer rings a sentence names."""


@dataclass(frozen=True)
class GivenOutline:
    """An outline that a person gave, what is to be known of it, and the marks given with it."""

    outline: Outline
    findings: tuple[Finding, ...] = ()
    marks: SettingOut = field(default_factory=SettingOut)


def drawn_outline(drawn: Drawn, name: str) -> GivenOutline:
    """Make the outline that a drawing shows.

    Args:
        drawn: Its paths.
        name: The file's name, for the sentences.

    Returns:
        One outer ring and the holes in it, edges named as of a measured outline.

    Raises:
        ShapeError: No closed ring, a gap, several outer rings, or what `check_outline` refuses.
    """
    try:
        return _outline(drawn, name)
    except ShapeError as error:
        raise ShapeError(f"{name}: {error}{_layers_hint(drawn)}") from None


def _layers_hint(drawn: Drawn) -> str:
    if len(drawn.layers) < 2:
        return ""
    return (
        f" Name the outline's layers in template.outline_layers; there are "
        f"{', '.join(drawn.layers)}."
    )


def _outline(drawn: Drawn, name: str) -> GivenOutline:
    count = sum(len(path.curves) for path in drawn.paths)
    if count > MOST_CURVES:
        raise ShapeError(
            f"it has {count:,} lines and arcs, more than the {MOST_CURVES:,} of any outline: "
            "leave only the outline in it."
        )
    paths = _distinct(drawn.paths)
    drawn_rings = closed_rings(paths)
    rings = [replace(ring, curves=with_arcs(ring.curves)) for ring in drawn_rings]
    if not rings:
        raise ShapeError("nothing in it encloses anything: draw the outline as a closed ring.")
    _refuse_lines(rings)
    outer, holes = _told_apart(rings)
    outline = named_outline(
        [(curve, None) for curve in _in_sense(outer, 1)],
        [[(curve, None) for curve in _in_sense(hole, -1)] for hole in holes],
    )
    check_outline(outline)
    findings = list(drawn.findings)
    twice = len(drawn.paths) - len(paths)
    if twice:
        findings.append(_drawn_twice(name, twice))
    fewer = sum(len(ring.curves) for ring in drawn_rings) - len(outline.edges)
    if fewer:
        findings.append(_arcs_found(name, fewer, len(outline.edges)))
    return GivenOutline(outline, tuple(findings))


def _refuse_lines(rings: Sequence[DrawnRing]) -> None:
    """Refuse rings that run back along themselves."""
    for ring in rings:
        if len(ring.curves) == 2 and abs(ring.signed_area) <= LEAST_AREA_MM2:
            raise ShapeError(f"{ring.where} encloses nothing: it runs back along itself.")


def _drawn_twice(name: str, count: int) -> Finding:
    what = "1 line is" if count == 1 else f"{count} lines are"
    return Finding(Level.NOTE, name, f"{what} drawn twice, and counted once.")


def _arcs_found(name: str, fewer: int, left: int) -> Finding:
    return Finding(
        Level.NOTE,
        name,
        f"Its curves are drawn as many short lines; arcs within {FREEFORM_MM:g} mm took their "
        f"place, which leaves {left} edges of {fewer + left}.",
    )


def _distinct(paths: Sequence[DrawnPath]) -> tuple[DrawnPath, ...]:
    """The paths without those that repeat another, whichever way they run."""
    seen: set[frozenset[object]] = set()
    kept = []
    for path in paths:
        trace = frozenset(
            (frozenset((_rounded(curve.start), _rounded(curve.end))), _rounded(curve.at(0.5)))
            for curve in path.curves
        )
        if trace not in seen:
            seen.add(trace)
            kept.append(path)
    return tuple(kept)


def _rounded(point: Point) -> tuple[int, int]:
    return (round(point[0] / SAME_PLACE_MM), round(point[1] / SAME_PLACE_MM))


def _told_apart(rings: Sequence[DrawnRing]) -> tuple[DrawnRing, tuple[DrawnRing, ...]]:
    """The outer ring and its holes.

    A ring inside an even number of others bounds material from outside.
    """
    boxes = [bounds(ring.curves) for ring in rings]
    depths = [
        sum(
            _within(boxes[k], boxes[j]) and winding(other.curves, _inside_of(ring)) != 0
            for j, other in enumerate(rings)
            if j != k
        )
        for k, ring in enumerate(rings)
    ]
    outers = [k for k, depth in enumerate(depths) if depth % 2 == 0]
    if len(outers) > 1:
        named = [_described(rings[k], boxes[k]) for k in outers[:NAMED_RINGS]]
        more = f" and {len(outers) - NAMED_RINGS} more" if len(outers) > NAMED_RINGS else ""
        raise ShapeError(
            f"it has {len(outers)} outer rings ({'; '.join(named)}{more}), but one job is for one: "
            "leave only one of them, with its holes."
        )
    if not outers:
        places = " and ".join(_described(rings[k], boxes[k]) for k in range(2))
        raise ShapeError(f"{places} lie upon each other: leave only one of them.")
    return rings[outers[0]], tuple(ring for k, ring in enumerate(rings) if k != outers[0])


def _inside_of(ring: DrawnRing) -> Point:
    """A point of the ring that is hardly another ring's corner too."""
    return max(ring.curves, key=lambda curve: curve.length).at(0.4321)


def _within(inner: Bounds, outer: Bounds) -> bool:
    return (
        inner[0] >= outer[0]
        and inner[1] >= outer[1]
        and inner[2] <= outer[2]
        and inner[3] <= outer[3]
    )


def _described(ring: DrawnRing, box: Bounds) -> str:
    left, low, right, high = box
    return f"{ring.where}, {right - left:.0f} × {high - low:.0f} mm at {place_text((left, low))}"


def _in_sense(ring: DrawnRing, sense: int) -> tuple[Curve, ...]:
    """The curves counter-clockwise for sense 1, clockwise for -1."""
    if ring.signed_area * sense >= 0:
        return ring.curves
    return tuple(curve.reversed() for curve in reversed(ring.curves))
