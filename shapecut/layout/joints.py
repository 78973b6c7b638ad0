"""Long rows made of several pieces: butt joints over joists.

Glossary:
    joint: where two pieces of a row meet, cut along the joist's centre line and centred on it.
    end gap: what is left open between the two, at right angles to the joint.
    part: what a joint cuts off; pieces of a joined row are labelled along it like any others.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from enum import IntEnum

from shapecut.errors import LayoutError
from shapecut.layout.joists import LEAST_BEARING_MM, Crossings, Joists
from shapecut.layout.layout import Board, Joint, Piece, Row
from shapecut.layout.piece_labels import piece_letters
from shapecut.layout.row_joints import Choice, JointedRow, Stretch
from shapecut.layout.stagger import staggered
from shapecut.shape.clip import clip
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Placement
from shapecut.shape.region import Region
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["Joined", "JointPattern", "JointRules", "joined"]


LEAST_PART_MM = 50.0
"""No part is shorter than this, whatever a job states."""

LIKE_DECIMALS = 6
"""Of mm, to which rows are compared when joints are chosen."""


class JointPattern(IntEnum):
    """Which joists the joints of a row may lie over: every n-th, one further from row to row."""

    FREE = 1
    EVERY_SECOND = 2
    EVERY_THIRD = 3


@dataclass(frozen=True)
class JointRules:
    """How long rows are joined.

    Attributes:
        longest_mm: Longest piece that the stock gives.
        shortest_mm: No part of a joined piece is shorter.
        offset_mm: Joints of neighbouring rows lie at least so far apart along the boards.
        pattern: Which joists the rows take turns with.
        gap_mm: End gap.
        lengths: How refusals write lengths.
    """

    longest_mm: float
    shortest_mm: float = 0.0
    offset_mm: float = 600.0
    pattern: JointPattern = JointPattern.FREE
    gap_mm: float = 0.0
    lengths: LengthStyle = MILLIMETRES

    def __post_init__(self) -> None:
        if self.shortest_mm > self.longest_mm:
            raise LayoutError(
                f"No piece can be at least {self.lengths(self.shortest_mm)} long and at most "
                f"{self.lengths(self.longest_mm)}, which is what the longest board gives: state "
                f"a lesser smallest length, or longer boards."
            )


@dataclass(frozen=True)
class Joined:
    """The pieces of all rows after joining, the joints, and whether fewer were ruled out."""

    pieces: tuple[Piece, ...]
    joints: tuple[Joint, ...]
    proved: bool


def joined(
    rows: Sequence[Row],
    pieces: Sequence[Piece],
    board: Board,
    frame: Placement,
    joists: Joists,
    rules: JointRules,
) -> Joined:
    """Part every piece that is longer than the longest board.

    Args:
        rows: From the starting side.
        pieces: Row by row.
        board: Gives the width.
        frame: Of the row frame in the plane.
        joists: Joints lie over these.
        rules: For the joints.

    Returns:
        As few joints as can be, staggered as stated.

    Raises:
        LayoutError: If a row cannot be joined by these rules, or two neighbours cannot both.
    """
    too_long = [piece for piece in pieces if piece.length_mm > rules.longest_mm]
    if not too_long:
        return Joined(tuple(pieces), (), True)
    spans = [_Span.of(row, pieces, board, frame, joists, rules) for row in rows]
    found = staggered([span.jointed for span in spans], offset=rules.offset_mm)
    if isinstance(found, int):
        raise LayoutError(
            f"The joints of rows {rows[found - 1].number} and {rows[found].number} cannot be "
            f"{rules.lengths(rules.offset_mm)} apart over these joists with pieces of "
            f"{rules.lengths(rules.shortest_mm)} to {rules.lengths(rules.longest_mm)}: state a "
            f"lesser offset or another pattern, add joists, or take longer boards."
        )
    done: list[Piece] = []
    joints: list[Joint] = []
    for span, way in zip(spans, found.taken, strict=True):
        parted, over = span.parted(way, rules)
        done += parted
        joints += over
    return Joined(tuple(done), tuple(joints), found.proved)


@dataclass(frozen=True)
class _Span:
    """A row with the joists that cross it.

    Attributes:
        row: The row.
        pieces: Its pieces, unjoined.
        crossings: Of the joists, from the row frame's x = 0 on the board's lower edge.
        across_mm: Half of the board's width, where joints are measured.
        frame: Of the board in the plane, x = 0 at the row frame's.
        jointed: Where its joints may lie, among all crossings; a stretch for each piece that is
            longer than the longest board, in their order.
    """

    row: Row
    pieces: tuple[Piece, ...]
    crossings: Crossings
    across_mm: float
    frame: Placement
    jointed: JointedRow

    @classmethod
    def of(
        cls,
        row: Row,
        pieces: Sequence[Piece],
        board: Board,
        frame: Placement,
        joists: Joists,
        rules: JointRules,
    ) -> "_Span":
        mine = tuple(piece for piece in pieces if piece.row == row.number)
        at_zero = Placement(frame.to_plane((0.0, row.across_mm[0])), frame.turn_rad)
        crossings = joists.crossings(at_zero)
        places = tuple(map(_like, crossings.at(board.width_mm / 2)))
        span = cls(row, mine, crossings, board.width_mm / 2, at_zero, JointedRow(places))
        stretches = (span._stretch(p, rules) for p in mine if p.length_mm > rules.longest_mm)
        return replace(span, jointed=JointedRow(places, tuple(stretches)))

    def start(self, piece: Piece) -> float:
        """Along-coordinate of a piece's reference end."""
        return self.frame.to_local(piece.placement.origin)[0]

    def _stretch(self, piece: Piece, rules: JointRules) -> Stretch:
        """Where a piece may be joined, and how long its parts may be.

        Raises:
            LayoutError: If it cannot be joined at all.
        """
        start = self.start(piece)
        # A slanted joint reaches half its slant past the board's middle, on both of its parts.
        half = self.across_mm * abs(self.crossings.slope) - self._half_gap(rules)
        ends = (_like(start + half), _like(start + piece.length_mm - half))
        turns = int(rules.pattern)
        places = tuple(
            index
            for index, place in enumerate(self.jointed.places)
            if ends[0] < place < ends[1]
            and (self.crossings.numbers[index] - self.row.number) % turns == 0
        )
        stretch = Stretch(
            places,
            ends,
            shortest=max(rules.shortest_mm, LEAST_PART_MM) - 2 * half,
            longest=rules.longest_mm - 2 * half,
            tipping=self._tipping(piece, places),
        )
        if next(self.jointed.lean_choices(stretch), None) is None:
            raise LayoutError(
                f"Piece {piece.label}, {rules.lengths(piece.length_mm)} long, cannot be joined "
                f"over the joists from pieces of {rules.lengths(rules.shortest_mm)} to "
                f"{rules.lengths(rules.longest_mm)}: add joists, take longer boards, or state "
                f"another pattern of joints."
            )
        return stretch

    def _tipping(
        self, piece: Piece, places: Sequence[int]
    ) -> tuple[frozenset[int], frozenset[int]]:
        """Places of a first and of a last joint that leave what is outside them on one joist."""
        start = self.start(piece)
        reach = self.crossings.half_mm - LEAST_BEARING_MM
        bearings = [
            index
            for index, line in enumerate(self.jointed.places)
            if start - reach <= line <= start + piece.length_mm + reach
        ]
        return (
            frozenset(place for place in places if place == bearings[0]),
            frozenset(place for place in places if place == bearings[-1]),
        )

    def _half_gap(self, rules: JointRules) -> float:
        """Half of the end gap, measured along the board."""
        return rules.gap_mm / 2 * math.hypot(1.0, self.crossings.slope)

    def parted(self, way: Sequence[Choice], rules: JointRules) -> tuple[list[Piece], list[Joint]]:
        """The row's pieces, parted and labelled anew, and its joints."""
        regions: list[tuple[float, Region]] = []
        choices = iter(way)
        for piece in self.pieces:
            start = self.start(piece)
            choice = next(choices) if piece.length_mm > rules.longest_mm else ()
            cuts = [self.crossings.along_mm[index] - start for index in choice]
            parts = _parts(piece.region, cuts, self.crossings.slope, self._half_gap(rules))
            regions += [_with_start(part.placed(Placement((start, 0.0)))) for part in parts]
        regions.sort(key=lambda found: found[0])
        pieces = [
            self._piece(f"{self.row.number}{piece_letters(place)}", left, region)
            for place, (left, region) in enumerate(regions)
        ]
        return pieces, [
            Joint(
                self.row.number,
                self.crossings.numbers[index],
                self.frame.to_plane((self.jointed.places[index], self.across_mm)),
            )
            for index in sorted(index for choice in way for index in choice)
        ]

    def _piece(self, label: str, left: float, region: Region) -> Piece:
        _, _, right, _ = bounds(side.curve for side in region.outer)
        placement = Placement(self.frame.to_plane((left, 0.0)), self.frame.turn_rad)
        local = region.placed(Placement((-left, 0.0)))
        return Piece(label, self.row.number, local, placement, right - left)


def _like(along_mm: float) -> float:
    """A place along a row without the last digits, so that rows that are alike compare equal."""
    return round(along_mm, LIKE_DECIMALS)


def _with_start(region: Region) -> tuple[float, Region]:
    return bounds(side.curve for side in region.outer)[0], region


def _parts(
    region: Region, cuts: Sequence[float], slope: float, half_gap_mm: float
) -> Iterator[Region]:
    """Part a region at slanted lines: where each crosses y = 0, rising."""
    rest: tuple[Region, ...] = (region,)
    upwards = math.atan2(1.0, slope)
    for cut in cuts:
        # Material is kept on the left of a line: upwards keeps what is before the joint.
        before = Placement((cut - half_gap_mm, 0.0), upwards)
        behind = Placement((cut + half_gap_mm, 0.0), upwards + math.pi)
        yield from (part for each in rest for part in clip(each, before))
        rest = tuple(part for each in rest for part in clip(each, behind))
    yield from rest
