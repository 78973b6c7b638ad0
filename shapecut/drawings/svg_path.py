"""SVG path data: the `d` of a path as Bézier curves and elliptic arcs.

Grammar and meaning follow W3C, Scalable Vector Graphics 1.1 (second edition), chapter 8.3; arcs
from their end points to their centres by its appendix F.6.5.
"""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass

from shapecut.drawings.drawn_curves import Bezier, DrawnCurve, EllipticArc
from shapecut.errors import ShapeError
from shapecut.shape.placement import Point

__all__ = ["SubPath", "elliptic_arc", "subpaths"]

_BLANKS = " \t\r\n\f,"
_SPACE = rf"[{_BLANKS}]*"
_NUMBER = re.compile(_SPACE + r"([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)")
_FLAG = re.compile(_SPACE + "([01])")
_COMMAND = re.compile(_SPACE + "([MmLlHhVvCcSsQqTtAaZz])")

_ARGUMENTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}
"""How many numbers a command takes; it may be repeated without its letter."""

_ARC_FLAGS = (3, 4)
"""Places of an arc's two flags among its numbers; they may stand without a space between them."""


@dataclass(frozen=True)
class SubPath:
    """One connected part of a path, in its own units."""

    pieces: tuple[DrawnCurve, ...]
    closed: bool


def subpaths(data: str) -> Iterator[SubPath]:
    """Yield the connected parts of a path.

    Raises:
        ShapeError: Data that break the grammar.
    """
    pen = _Pen()
    for letter, numbers in _steps(data):
        if letter in "Mm" and pen.pieces:
            yield SubPath(tuple(pen.pieces), False)
        pen.draw(letter, numbers)
        if letter in "Zz":
            yield SubPath(tuple(pen.pieces), True)
            pen.pieces = []
    if pen.pieces:
        yield SubPath(tuple(pen.pieces), False)


def _steps(data: str) -> Iterator[tuple[str, list[float]]]:
    """Yield each command with its numbers; repeated ones each with the letter they stand for."""
    at, letter = 0, ""
    end = len(data.rstrip(_BLANKS))
    while at < end:
        match = _COMMAND.match(data, at)
        if match:
            letter, at = match[1], match.end()
        elif letter in ("", "Z", "z"):
            raise _broken(data, at)
        numbers = []
        for place in range(_ARGUMENTS[letter.upper()]):
            pattern = _FLAG if letter in "Aa" and place in _ARC_FLAGS else _NUMBER
            number = pattern.match(data, at)
            if not number:
                raise _broken(data, at)
            numbers.append(float(number[1]))
            at = number.end()
        yield letter, numbers
        # What follows a move without a letter is a line.
        letter = {"M": "L", "m": "l"}.get(letter, letter)


def _broken(data: str, at: int) -> ShapeError:
    return ShapeError(
        f'its data cannot be read at character {at + 1} ("{data[at : at + 12].strip()}"): save '
        "it again."
    )


class _Pen:
    """Where a path has come to."""

    def __init__(self) -> None:
        self.pieces: list[DrawnCurve] = []
        self.start: Point = (0.0, 0.0)
        self.at: Point = (0.0, 0.0)
        self.control: Point | None = None
        self.control_of = ""

    def draw(self, letter: str, numbers: list[float]) -> None:
        """Carry out one command."""
        command = letter.upper()
        base = self.at if letter.islower() else (0.0, 0.0)
        if command == "Z":
            self.at, self.control = self.start, None
        elif command == "A":
            rx, ry, turn_deg, large, sweep, x, y = numbers
            end = (base[0] + x, base[1] + y)
            arc = elliptic_arc(self.at, end, (rx, ry), turn_deg, large=large > 0, sweep=sweep > 0)
            self._add(arc, end)
        elif command in "HV":
            x, y = (base[0] + numbers[0], self.at[1])
            if command == "V":
                x, y = (self.at[0], base[1] + numbers[0])
            self._add(Bezier((self.at, (x, y))), (x, y))
        else:
            places = [(base[0] + x, base[1] + y)
                      for x, y in zip(numbers[::2], numbers[1::2], strict=True)]  # fmt: skip
            self._to(command, places)

    def _to(self, command: str, places: list[Point]) -> None:
        """Move, or draw a line or a Bézier curve, to the last of some places."""
        if command == "M":
            self.pieces = []
            self.start = self.at = places[0]
            self.control = None
            return
        if command in "ST":
            places = [self._mirrored("CS" if command == "S" else "QT"), *places]
        self._add(Bezier((self.at, *places)), places[-1])
        if command in "CSQT":
            self.control, self.control_of = places[-2], command

    def _mirrored(self, kinds: str) -> Point:
        """The last control point mirrored in the pen's place, where it was of such a kind."""
        if self.control is None or self.control_of not in kinds:
            return self.at
        return (2 * self.at[0] - self.control[0], 2 * self.at[1] - self.control[1])

    def _add(self, piece: DrawnCurve, end: Point) -> None:
        if not self.pieces:
            self.start = self.at
        if self.at != end:
            self.pieces.append(piece)
        self.at, self.control = end, None


def elliptic_arc(
    start: Point, end: Point, radii: Point, turn_deg: float, *, large: bool, sweep: bool
) -> DrawnCurve:
    """An arc by its ends, as SVG gives it.

    Args:
        start: First point.
        end: Last point.
        radii: Half axes; a line is drawn where one is nought, and both grow where they are too
            short to reach.
        turn_deg: From the x axis to the first half axis, towards the y axis.
        large: Whether it runs through more than half a turn.
        sweep: Whether angles grow along it.
    """
    rx, ry = abs(radii[0]), abs(radii[1])
    if rx == 0 or ry == 0 or start == end:
        return Bezier((start, end))
    turn = math.radians(turn_deg)
    c, s = math.cos(turn), math.sin(turn)
    hx, hy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    # Half the chord in units of the half axes, and the centre from the chord's middle.
    px, py = (c * hx + s * hy) / rx, (c * hy - s * hx) / ry
    reach = math.hypot(px, py)
    grown = max(reach, 1.0)
    away = math.sqrt(max((grown - reach) * (grown + reach), 0.0)) / max(reach, 1e-300)
    away = -away if large == sweep else away
    qx, qy = away * py, -away * px
    rx, ry = rx * grown, ry * grown
    u, v = (rx * c, rx * s), (-ry * s, ry * c)
    qx, qy = qx / grown, qy / grown
    px, py = px / grown, py / grown
    centre = (
        (start[0] + end[0]) / 2 + qx * u[0] + qy * v[0],
        (start[1] + end[1]) / 2 + qx * u[1] + qy * v[1],
    )
    first = math.atan2(py - qy, px - qx)
    last = math.atan2(-py - qy, -px - qx)
    turned = (last - first) % math.tau
    return EllipticArc(centre, u, v, first, turned if sweep else turned - math.tau)
