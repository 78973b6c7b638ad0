"""What holds the boards down: clips in the gaps, starter fixings, and screws through the face.

Glossary:
    clip: sits in the grooves of two neighbours over a joist.
    starter fixing: holds the outer groove of the first row.
    face screw: through the board's face, where no clip can hold.

Common practice, no rule of a code: an edge without groove, an outer edge other than the first
row's, and boards that belong to no row are screwed through the face.  What holds in a given case is
for the makers of boards and fixings to say.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from shapecut.errors import LayoutError
from shapecut.findings import Finding, Level, listed
from shapecut.layout.border_joints import lies_across
from shapecut.layout.cross_section import stretches_at
from shapecut.layout.joists import Joists
from shapecut.layout.layout import Layout, Piece
from shapecut.layout.seats import LongEdge, ScrewPlace, Seat, screw_places, seats_of
from shapecut.shape.monotone import bounds
from shapecut.shape.placement import Point
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["Fastener", "Fasteners", "FasteningRules", "Fixing", "fasteners_of", "with_spare"]

MOST_LISTED = 8
"""Labels listed in one sentence."""


class Fixing(StrEnum):
    """A kind of fastener."""

    CLIP = "hidden clip"
    STARTER = "starter fixing"
    SCREW = "face screw"


@dataclass(frozen=True)
class FasteningRules:
    """How boards are fastened.

    Attributes:
        hidden: By clips in grooves where that is possible; otherwise by face screws throughout.
        screws: Face screws at each seat of a board that is screwed throughout.
        edge_mm: From a screw to the board's long edge, at least.
        end_mm: From a screw to the end of its piece, at least.
        spare: Part of the count that is bought on top.
        lengths: How findings and refusals write lengths.
    """

    hidden: bool = True
    screws: int = 2
    edge_mm: float = 20.0
    end_mm: float = 25.0
    spare: float = 0.1
    lengths: LengthStyle = MILLIMETRES


@dataclass(frozen=True)
class Fastener:
    """One fastener.

    Attributes:
        kind: What it is.
        labels: Of the pieces that it holds.
        joist: Index of the joist that it goes into; None where the board runs along the joists.
        place: In the plane.
        to_end_mm: Of a screw: how near the end of its piece it comes.
    """

    kind: Fixing
    labels: tuple[str, ...]
    joist: int | None
    place: Point
    to_end_mm: float = math.inf


@dataclass(frozen=True)
class Fasteners:
    """All fasteners, and what a fitter must know."""

    places: tuple[Fastener, ...]
    findings: tuple[Finding, ...] = ()

    def counts(self) -> dict[Fixing, int]:
        """How many of each kind, without spare."""
        counted = Counter(fastener.kind for fastener in self.places)
        return {kind: counted[kind] for kind in Fixing if counted[kind]}


def with_spare(count: int, spare: float) -> int:
    """What to buy for a count: with a part of it on top, rounded up.

    >>> with_spare(100, 0.1), with_spare(101, 0.1)
    (110, 112)
    """
    return math.ceil(count * (1 + spare) - 1e-9)


def fasteners_of(layout: Layout, joists: Joists, rules: FasteningRules) -> Fasteners:
    """Place the fasteners of all boards over their joists.

    Args:
        layout: Rows, and boards that belong to no row.
        joists: What they lie on; rows must lie across them.
        rules: How boards are fastened.

    Raises:
        LayoutError: If rows run along the joists, or the edge distance is more than half a board.
    """
    width = layout.board.width_mm
    if 2 * rules.edge_mm > width:
        raise LayoutError(
            f"Screws cannot be {rules.lengths(rules.edge_mm)} from both edges of a board "
            f"{rules.lengths(width)} wide: state a lesser edge distance under [fasteners]."
        )
    rows, screwed = list[Seat](), list[Seat]()
    places: list[Fastener] = []
    for piece in layout.pieces:
        if piece.row and rules.hidden:
            rows += seats_of(piece, joists, width)
        elif piece.row or lies_across(joists, piece.placement.turn_rad):
            screwed += seats_of(piece, joists, width)
        else:
            places += _along_joists(piece, joists, rules)
    places = [
        *_hidden(layout, rows, rules),
        *(one for seat in screwed for one in _screws(seat, _row_of_screws(seat, rules), rules)),
        *places,
    ]
    return Fasteners(tuple(places), tuple(_near_ends(places, rules)))


def _hidden(layout: Layout, seats: Sequence[Seat], rules: FasteningRules) -> Iterator[Fastener]:
    """Clips between rows, starters along the first, screws where neither can hold."""
    by_place: dict[tuple[int, int], list[Seat]] = {}
    for seat in seats:
        by_place.setdefault((seat.piece.row, seat.joist), []).append(seat)
    upwards = [row.number for row in sorted(layout.rows, key=lambda row: row.across_mm)]
    above = {**dict(pairwise(upwards)), upwards[-1]: 0}
    below = {above[number]: number for number in upwards}
    half_gap = layout.board.gap_mm / 2
    for (row, joist), here in by_place.items():
        beyond = by_place.get((above[row], joist), [])
        yield from _clips(here, beyond, half_gap)
        neighbours = (by_place.get((below.get(row, 0), joist), []), beyond)
        for seat in here:
            yield from _unclipped(seat, neighbours, half_gap, rules)


def _clips(lower: Sequence[Seat], upper: Sequence[Seat], half_gap_mm: float) -> Iterator[Fastener]:
    """Clips in the gap between the seats of two rows on one joist.

    At a joint each of the two ends has a clip of its own.
    """
    if not lower or not upper:
        return
    from_below = [seat for seat in lower if seat.grooved[LongEdge.UPPER]]
    from_above = [seat for seat in upper if seat.grooved[LongEdge.LOWER]]
    edge, seats = LongEdge.UPPER, from_below
    if len(from_above) > len(from_below):
        edge, seats = LongEdge.LOWER, from_above
    for n, seat in enumerate(seats):
        facing = upper if edge is LongEdge.UPPER else lower
        labels = sorted({seat.piece.label, facing[min(n, len(facing) - 1)].piece.label})
        place = seat.beside(edge, half_gap_mm)
        yield Fastener(Fixing.CLIP, tuple(labels), seat.joist, place)


def _unclipped(
    seat: Seat,
    neighbours: tuple[Sequence[Seat], Sequence[Seat]],
    half_gap_mm: float,
    rules: FasteningRules,
) -> Iterator[Fastener]:
    """What holds those edges of a seat that no clip holds."""
    screwed = []
    for edge in LongEdge:
        if seat.grooved[edge] and neighbours[edge]:
            continue
        if seat.grooved[edge] and seat.piece.row == 1:
            place = seat.beside(edge, half_gap_mm)
            yield Fastener(Fixing.STARTER, (seat.piece.label,), seat.joist, place)
        else:
            screwed.append(_from_edge(seat, edge, rules))
    yield from _screws(seat, sorted(set(screwed)), rules)


def _from_edge(seat: Seat, edge: LongEdge, rules: FasteningRules) -> float:
    """Where a screw goes beside an edge, but no farther in than the piece's middle."""
    low, high = seat.across_mm
    inwards = min(rules.edge_mm, (high - low) / 2)
    return low + inwards if edge is LongEdge.LOWER else high - inwards


def _row_of_screws(seat: Seat, rules: FasteningRules) -> Sequence[float]:
    """Where the screws go across a board that is screwed throughout."""
    first, last = (_from_edge(seat, edge, rules) for edge in LongEdge)
    if rules.screws == 1 or last - first < rules.edge_mm / 2:
        return ((first + last) / 2,)
    step = (last - first) / (rules.screws - 1)
    return [first + k * step for k in range(rules.screws)]


def _screws(seat: Seat, across_mm: Sequence[float], rules: FasteningRules) -> Iterator[Fastener]:
    for screw in screw_places(seat, across_mm, rules.end_mm):
        yield _screw(seat.piece, seat.joist, screw)


def _screw(piece: Piece, joist: int | None, screw: ScrewPlace) -> Fastener:
    return Fastener(Fixing.SCREW, (piece.label,), joist, screw.place, screw.to_end_mm)


def _along_joists(piece: Piece, joists: Joists, rules: FasteningRules) -> Iterator[Fastener]:
    """Screws of a board along the joists, into blocking no further apart than the joists."""
    spacing = min((b - a for a, b in pairwise(joists.lines_mm)), default=piece.length_mm)
    inner = piece.length_mm - 2 * rules.end_mm
    count = max(1, math.ceil(inner / spacing - 1e-9))
    _, low, _, high = bounds(side.curve for side in piece.region.outer)
    inwards = min(rules.edge_mm, (high - low) / 2)
    across = {low + inwards, high - inwards}
    for k in range(count + 1):
        along = rules.end_mm + k * inner / count
        for y in sorted(across):
            if any(a <= along <= b for a, b in stretches_at(piece.region, y)):
                place = piece.placement.to_plane((along, y))
                yield _screw(piece, None, ScrewPlace(place, math.inf))


def _near_ends(placed: Sequence[Fastener], rules: FasteningRules) -> Iterator[Finding]:
    near = [one for one in placed if one.to_end_mm < rules.end_mm - 1e-6]
    if near:
        labels = list(dict.fromkeys(one.labels[0] for one in near))
        nearest = min(one.to_end_mm for one in near)
        yield Finding(
            Level.CHECK,
            "fasteners",
            f"Screws nearer than {rules.lengths(rules.end_mm)} to the end of their piece: "
            f"{len(near)} ({listed(labels, MOST_LISTED)}), the nearest "
            f"{rules.lengths(nearest)}, since the piece covers no more of the joist there.",
            "Pre-drill them, or double the joist under the ends.",
        )
