"""Mark a piece out for the saw: the numbers of its cut card, rounded as they are printed."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import shapely

from shapecut.layout.layout import Piece
from shapecut.papers.cut_card import CardCut, CardMark, Compass, CutCard, ReliefHole, RoundHole
from shapecut.papers.round_openings import round_opening
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point
from shapecut.shape.polygons import region_polygon
from shapecut.shape.region import Loop, Side
from shapecut.units import MM_PER_INCH

__all__ = ["cut_card", "rounding_step"]

ROUNDED_MM = 0.5
"""Millimetres on a card are rounded to this: half a pencil line."""

WIDEST_COMPASS_MM = 300.0
"""Curves of a greater radius are wide: they are marked at places along them."""

CURVE_FLATNESS_MM = 0.12
"""Chords between the marks along a wide curve stay this close to it, a quarter of the rounding."""

CURVE_STEP_MM = 50.0
"""Marks along a wide curve are at most this far apart."""

INSIDE_RAD = math.radians(3.0)
"""A contour that turns into the piece by less than this is no inside corner."""

SQUARE_WITHIN_DEG = 0.2
"""A cut no farther than this off square, or off the board's length, is called that: a saw is hardly
set finer."""

STEEPEST_DEG = 60.0
"""A cut farther than this off square is told by its angle to the board's length instead."""


def rounding_step(units: str, denominator: int) -> float:
    """To how many mm lengths are rounded on a card: half a mm, or a fraction of an inch."""
    return MM_PER_INCH / denominator if units == "in" else ROUNDED_MM


def cut_card(
    piece: Piece,
    board_width_mm: float,
    *,
    step_mm: float = ROUNDED_MM,
    relief_mm: float = 10.0,
    beside: Sequence[Piece] = (),
) -> CutCard:
    """Write down one piece for the saw.

    Args:
        piece: Lying face up, as laid.
        board_width_mm: Of its board.
        step_mm: Lengths are rounded to this (see `rounding_step`).
        relief_mm: Diameter of relief holes.
        beside: What else is cut from the same length of board, in the piece's frame: no hole is
            drilled into it.
    """
    loops: list[tuple[CardMark, ...]] = []
    cuts: list[CardCut] = []
    inside: list[str] = []
    relief: list[ReliefHole] = []
    count = 0
    rounded = _Rounded(step_mm, board_width_mm)
    holes: list[RoundHole] = []
    for loop in piece.region.loops:
        if opening := round_opening(loop):
            holes.append(rounded.round_hole(*opening))
            continue
        sides = rounded.markable(_from_the_reference_corner(loop))
        names = [str(count + k + 1) for k in range(len(sides))]
        count += len(sides)
        marks: list[CardMark] = []
        for k, side in enumerate(sides):
            marks += rounded.marks(names[k], side.curve)
            last = names[(k + 1) % len(names)]
            if not rounded.is_board_edge(side.curve):
                cuts.append(_cut(side, names[k], last, rounded.compass(side.curve)))
            before = sides[k - 1].curve
            if _turn(before, side.curve) < -INSIDE_RAD:
                inside.append(names[k])
                relief += rounded.relief_hole(names[k], before, side.curve, relief_mm)
        loops.append(tuple(marks))
    return CutCard(
        piece.label,
        piece.row,
        piece.length_mm,
        board_width_mm,
        tuple(loops),
        tuple(cuts),
        tuple(inside),
        tuple(hole for hole in relief if not _bores_into(hole, beside)),
        tuple(holes),
    )


@dataclass(frozen=True)
class _Rounded:
    """Lengths as they are printed."""

    step_mm: float
    width_mm: float

    def along(self, length_mm: float) -> float:
        return round(length_mm / self.step_mm) * self.step_mm

    def across(self, across_mm: float) -> tuple[float, str]:
        """Rounded, with the edge of the board that it lies on as far as anyone can mark."""
        if abs(across_mm) <= self.step_mm / 2:
            return 0.0, "lower"
        if abs(across_mm - self.width_mm) <= self.step_mm / 2:
            return self.width_mm, "upper"
        return self.along(across_mm), ""

    def is_board_edge(self, curve: Curve) -> bool:
        """Whether the board has a curve already, as far as anyone can mark."""
        edges = {self.across(y)[1] for _, y in (curve.start, curve.end)}
        return isinstance(curve, Line) and edges in ({"lower"}, {"upper"})

    def markable(self, loop: Loop) -> Loop:
        """The sides without those so short that both their ends have the same mark."""
        kept = tuple(side for side in loop if not self._vanishes(side.curve))
        return kept if len(kept) > 2 else loop

    def _vanishes(self, curve: Curve) -> bool:
        first, last = ((self.along(x), *self.across(y)) for x, y in (curve.start, curve.end))
        return first == last and curve.length < 2 * self.step_mm

    def marks(self, name: str, curve: Curve) -> Iterator[CardMark]:
        """The mark where a curve begins, and those along it."""
        parts = _parts(curve)
        for part in range(parts):
            x, y = curve.at(part / parts)
            yield CardMark(
                f"{name}.{part}" if part else name, self.along(x), *self.across(y), (x, y)
            )

    def round_hole(self, centre: Point, diameter_mm: float) -> RoundHole:
        """A whole circle."""
        x, y = centre
        return RoundHole(self.along(x), self.along(y), round(diameter_mm, 1))

    def compass(self, curve: Curve) -> Compass | None:
        """How a curve is drawn that is not wide."""
        if not isinstance(curve, Arc) or curve.radius > WIDEST_COMPASS_MM:
            return None
        x, y = curve.centre
        return Compass(self.along(x), self.along(y), round(curve.radius, 1), curve.ccw)

    def relief_hole(
        self, name: str, before: Curve, after: Curve, diameter_mm: float
    ) -> Iterator[ReliefHole]:
        """The hole that touches both cuts of an inside corner from the waste, if it fits."""
        (u0, v0), (u1, v1) = before.direction(1.0), after.direction(0.0)
        waste_rad = math.pi + _turn(before, after)
        shorter = min(before.length, after.length)
        # Where it touches the cuts they must still run: r / tan(waste / 2) from the corner.
        touches_within = shorter * math.tan(waste_rad / 2) >= diameter_mm / 2
        if shorter < diameter_mm or not touches_within:
            return
        u, v = u1 - u0, v1 - v0
        reach = diameter_mm / 2 / math.sin(waste_rad / 2) / math.hypot(u, v)
        x, y = after.start
        yield ReliefHole(name, self.along(x + reach * u), self.along(y + reach * v), diameter_mm)


def _bores_into(hole: ReliefHole, pieces: Sequence[Piece]) -> bool:
    """Whether a hole would take something of one of the pieces."""
    middle = shapely.Point(hole.along_mm, hole.across_mm)
    near = hole.diameter_mm / 2 + ROUNDED_MM
    return any(region_polygon(piece.region).distance(middle) < near for piece in pieces)


def _from_the_reference_corner(loop: Loop) -> Loop:
    """The loop begun at the corner nearest to the reference end and the lower edge."""
    first = min(range(len(loop)), key=lambda k: sum(loop[k].curve.start))
    return (*loop[first:], *loop[:first])


def _parts(curve: Curve) -> int:
    """Into how many parts marks divide a curve."""
    if isinstance(curve, Line) or curve.radius <= WIDEST_COMPASS_MM:
        return 1
    flat = math.sqrt(8 * curve.radius * CURVE_FLATNESS_MM)
    return math.ceil(curve.length / min(CURVE_STEP_MM, flat))


def _turn(before: Curve, after: Curve) -> float:
    """How far the contour turns left from one curve to the next, rad."""
    (u0, v0), (u1, v1) = before.direction(1.0), after.direction(0.0)
    return math.atan2(u0 * v1 - v0 * u1, u0 * u1 + v0 * v1)


def _cut(side: Side, first: str, last: str, compass: Compass | None) -> CardCut:
    curve = side.curve
    u, v = curve.direction(0.5)
    # Material is on the left, towards (-v, u).
    if abs(v) >= abs(u):
        keep = "the side of the reference end" if v > 0 else "the side of the other end"
    else:
        keep = "the side of the upper edge" if u > 0 else "the side of the lower edge"
    return CardCut(first, last, _angle(curve), keep, side.source or "", compass)


def _angle(curve: Curve) -> str:
    """How the saw is set for a cut."""
    if isinstance(curve, Arc):
        return "curve, rounded" if curve.ccw else "curve, hollow"
    u, v = curve.direction()
    off_square = math.degrees(math.atan2(abs(u), abs(v)))
    if off_square <= SQUARE_WITHIN_DEG:
        return "square"
    if off_square <= STEEPEST_DEG:
        return f"{off_square:.1f}° off square"
    off_length = 90 - off_square
    if off_length <= SQUARE_WITHIN_DEG:
        return "along the board"
    return f"{off_length:.1f}° off the board's length"
