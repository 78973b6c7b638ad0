"""The joists under the boards: parallel lines, where they cross the rows.

Glossary:
    joist: a straight support, `width_mm` wide, running through the whole place.
    spacing: from one joist's centre line to the next, at right angles to them.
    skew: how far the joists are from square to the boards.
    joist frame: x along the joists, y across them; a joist's line is the y of its centre line.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shapecut.errors import LayoutError
from shapecut.shape.curves import Arc
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["LEAST_BEARING_MM", "Crossings", "JoistRules", "Joists", "joists_under"]

LEAST_BEARING_MM = 10.0
"""A board lies on a joist if it covers this much of it along the board; a judgement, no rule."""

PARALLEL_RAD = math.radians(2.0)
"""An edge that joists are measured from may be out of parallel with them by this much."""

LEAST_ANGLE_RAD = math.radians(30.0)
"""Joists at a lesser angle to the boards run along them rather than under them."""

ROUNDING = 1e-9
"""An angle that falls short by so little is that angle."""

MOST_JOISTS = 1000
"""More joists come from a spacing in the wrong unit."""


@dataclass(frozen=True)
class Crossings:
    """Where joists cross one board.

    Attributes:
        along_mm: Of each centre line on the board's lower edge (y = 0), rising.
        numbers: Index of each among the joists' lines.
        slope: How far the centre lines move along the board for each mm across it.
        half_mm: Half of a joist's width, measured along the board.
    """

    along_mm: tuple[float, ...]
    numbers: tuple[int, ...]
    slope: float
    half_mm: float

    def at(self, across_mm: float) -> tuple[float, ...]:
        """Where the centre lines are at a distance from the board's lower edge."""
        return tuple(along + self.slope * across_mm for along in self.along_mm)


@dataclass(frozen=True)
class Joists:
    """Parallel joists.

    Attributes:
        frame: The joist frame in the plane.
        lines_mm: Centre lines in the joist frame, rising.
        width_mm: Of each joist.
    """

    frame: Placement
    lines_mm: tuple[float, ...]
    width_mm: float = 38.0

    def skew_rad(self, boards_turn_rad: float) -> float:
        """How far the joists are from square to boards of some turn, 0 to π/2."""
        return math.acos(min(1.0, abs(math.sin(self.frame.turn_rad - boards_turn_rad))))

    def crossings(self, board: Placement) -> Crossings:
        """Where the joists cross a board.

        Args:
            board: Its frame in the plane, x along it.

        Raises:
            LayoutError: If the joists run along the board.
        """
        inner = board.inverse().after(self.frame)
        sine, cosine = math.sin(inner.turn_rad), math.cos(inner.turn_rad)
        if abs(sine) < math.sin(LEAST_ANGLE_RAD) - ROUNDING:
            raise LayoutError(
                f"The joists are {math.degrees(math.asin(abs(sine))):.0f}° to the boards: boards "
                f"lie across their joists, by at least {math.degrees(LEAST_ANGLE_RAD):.0f}°; turn "
                f"the boards or the joists."
            )
        # A centre line holds the points whose distance across the joists is its own.
        points = [
            (number, inner.to_plane((0.0, line))) for number, line in enumerate(self.lines_mm)
        ]
        slope = cosine / sine
        found = sorted((x - slope * y, number) for number, (x, y) in points)
        return Crossings(
            tuple(along for along, _ in found),
            tuple(number for _, number in found),
            slope,
            self.width_mm / 2 / abs(sine),
        )


@dataclass(frozen=True)
class JoistRules:
    """How joists lie; either listed or evenly spaced.

    Attributes:
        direction_rad: Of the joists in the plane.
        spacing_mm: Of evenly spaced joists.
        first_mm: From the edge, or from the plane's origin, to the centre of the first joist.
        from_edge: The outline edge that distances are measured from, into the place; None for the
            plane's origin, from which they count to the left of the joists' direction.
        lines_mm: Distances of listed joists, in place of spacing and first.
        width_mm: Of each joist.
        lengths: How refusals write lengths.
    """

    direction_rad: float
    spacing_mm: float | None = None
    first_mm: float = 0.0
    from_edge: str | None = None
    lines_mm: tuple[float, ...] = ()
    width_mm: float = 38.0
    lengths: LengthStyle = MILLIMETRES


def joists_under(outline: Outline, rules: JoistRules) -> Joists:
    """The joists under an outline.

    Evenly spaced ones go on to the outline's far side; from the origin, to both sides.

    Raises:
        LayoutError: If there are none, more than `MOST_JOISTS`, or the edge does not exist or is
            not parallel to them.
    """
    frame = Placement(turn_rad=rules.direction_rad)
    to_joists = frame.inverse()
    curves = [edge.curve.placed(to_joists) for edge in outline.edges]
    _, low, _, high = bounds(curves)
    zero, sense = _measured_from(outline, rules, to_joists)
    if rules.lines_mm:
        lines = rules.lines_mm
    elif rules.spacing_mm:
        reach = sorted(sense * (end - zero) for end in (low, high))
        lines = _spaced(reach, rules.spacing_mm, rules)
    else:
        raise LayoutError("There are no joists: state their spacing, or list their lines.")
    half = rules.width_mm / 2
    under = sorted(zero + sense * line for line in lines)
    under = [line for line in under if low - half <= line <= high + half]
    if not under:
        raise LayoutError(
            f"No joist lies under the place: it reaches from {rules.lengths(low)} to "
            f"{rules.lengths(high)} across the joists as measured from the origin; check their "
            f"first line and what it is measured from."
        )
    return Joists(frame, tuple(under), rules.width_mm)


def _spaced(reach_mm: Sequence[float], spacing_mm: float, rules: JoistRules) -> tuple[float, ...]:
    """Evenly spaced distances that cover a stretch."""
    low, high = (end - rules.first_mm for end in reach_mm)
    half = rules.width_mm / 2
    first = 0 if rules.from_edge else math.ceil((low - half) / spacing_mm)
    last = math.floor((high + half) / spacing_mm)
    if last - first > MOST_JOISTS:
        raise LayoutError(
            f"Joists {rules.lengths.fine(spacing_mm)} apart would be about {last - first}, and "
            f"{MOST_JOISTS} are the most: check their spacing."
        )
    return tuple(rules.first_mm + step * spacing_mm for step in range(first, last + 1))


def _measured_from(outline: Outline, rules: JoistRules, to_joists: Placement) -> tuple[float, int]:
    """Where distances begin in the joist frame, and which way they count."""
    if rules.from_edge is None:
        return 0.0, 1
    edges = {edge.name: edge.curve for edge in outline.edges}
    curve = edges.get(rules.from_edge)
    if curve is None:
        raise LayoutError(
            f'The joists are measured from "{rules.from_edge}", but the outline has no such edge: '
            f"it has {', '.join(edges)}."
        )
    if isinstance(curve, Arc):
        raise LayoutError(
            f"The joists cannot be measured from {rules.from_edge}: it is an arc; choose a "
            f"straight edge along them."
        )
    dx, dy = curve.placed(to_joists).direction()
    if abs(dy) > math.sin(PARALLEL_RAD):
        raise LayoutError(
            f"The joists cannot be measured from {rules.from_edge}: it is "
            f"{math.degrees(math.atan2(abs(dy), abs(dx))):.1f}° off their direction; choose an "
            f"edge along them."
        )
    # Material is on the left of the edge: above it where it runs the way of the joists.
    middle = curve.placed(to_joists).at(0.5)
    return middle[1], 1 if dx > 0 else -1
