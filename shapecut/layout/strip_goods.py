"""Goods sold by the reel or the length and laid along edges: light strip, edging, trim.

Glossary:
    run: neighbouring edges, one after the other round the outline.
    pitch: distance of the places where the goods may be cut; a light strip has one.
    rest: what of a run no cut at a pitch fills.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from shapecut.errors import LayoutError
from shapecut.findings import Finding, Level
from shapecut.layout.drill_marks import refuse_too_many
from shapecut.layout.piece_labels import piece_letters
from shapecut.shape.outline import Edge, Outline
from shapecut.shape.turning import turn_between
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["StripCorner", "StripPiece", "StripRules", "StripRuns", "strip_runs"]


@dataclass(frozen=True)
class StripRules:
    """Strip goods along edges.

    Attributes:
        name: Of the goods.
        edges: Along which they lie.
        longest_mm: Of one piece: a reel or a length as sold.
        pitch_mm: Of the places where they may be cut; None for anywhere.
        bends: Whether they go round corners in one piece; if not, each edge has its own.
        lengths: How findings and refusals write lengths.
    """

    name: str
    edges: tuple[str, ...]
    longest_mm: float
    pitch_mm: float | None = None
    bends: bool = False
    lengths: LengthStyle = MILLIMETRES


@dataclass(frozen=True)
class StripPiece:
    """One piece.

    Attributes:
        label: Name of the goods, a number for the run or edge and a letter for the part.
        edges: That it lies along.
        length_mm: That it is cut to.
    """

    label: str
    edges: tuple[str, ...]
    length_mm: float


@dataclass(frozen=True)
class StripCorner:
    """A corner within a run; the turn is to the left, negative at inside corners."""

    edges: tuple[str, str]
    turn_rad: float


@dataclass(frozen=True)
class StripRuns:
    """All pieces of one kind of goods.

    Attributes:
        rules: What they were made from.
        pieces: To cut.
        corners: Within runs, to bend round or to connect.
        runs_mm: Length of each run or edge.
        rests_mm: What is left bare of each.
        findings: What a fitter must know.
    """

    rules: StripRules
    pieces: tuple[StripPiece, ...]
    corners: tuple[StripCorner, ...]
    runs_mm: tuple[float, ...]
    rests_mm: tuple[float, ...]
    findings: tuple[Finding, ...] = ()

    @property
    def length_mm(self) -> float:
        """Of all pieces together."""
        return sum(piece.length_mm for piece in self.pieces)


def strip_runs(outline: Outline, rules: StripRules) -> StripRuns:
    """Cut strip goods for some edges; arcs are followed by their length.

    Raises:
        LayoutError: If an edge does not exist, or the pitch is longer than what is sold.
    """
    names = [edge.name for edge in outline.edges]
    unknown = next((edge for edge in rules.edges if edge not in names), None)
    if unknown:
        raise LayoutError(
            f'{rules.name} is to lie along "{unknown}", but the outline has no such edge: it has '
            f"{', '.join(names)}."
        )
    pitch = rules.pitch_mm
    if pitch and pitch > rules.longest_mm:
        raise LayoutError(
            f"{rules.name} can be cut every {rules.lengths(pitch)} and is sold "
            f"{rules.lengths(rules.longest_mm)} long: state a lesser pitch or a longer reel."
        )
    runs = list(_runs(outline, rules))
    stretches = runs if rules.bends else [[edge] for run in runs for edge in run]
    pieces: list[StripPiece] = []
    lengths, rests = list[float](), list[float]()
    for number, stretch in enumerate(stretches, start=1):
        length = sum(edge.curve.length for edge in stretch)
        cut = list(_cut(length, rules))
        edges = tuple(edge.name for edge in stretch)
        pieces += [
            StripPiece(_label(rules.name, number, n, len(cut)), edges, part)
            for n, part in enumerate(cut)
        ]
        lengths.append(length)
        rests.append(length - sum(cut))
    corners = tuple(
        StripCorner((before.name, after.name), turn_between(before.curve, after.curve))
        for run in runs
        for before, after in pairwise(run)
    )
    bare = tuple(_bare(stretches, lengths, rests, rules))
    return StripRuns(rules, tuple(pieces), corners, tuple(lengths), tuple(rests), bare)


def _label(name: str, number: int, part: int, parts: int) -> str:
    return f"{name} {number}" + (piece_letters(part) if parts > 1 else "")


def _runs(outline: Outline, rules: StripRules) -> Iterator[list[Edge]]:
    """The chosen edges, neighbours joined; a whole ring starts at its first edge."""
    for ring in outline.rings:
        chosen = [edge.name in rules.edges for edge in ring.edges]
        if all(chosen):
            yield list(ring.edges)
            continue
        # Begin behind an edge without strip, so that no run is broken where the ring begins.
        first = chosen.index(False)
        run: list[Edge] = []
        for edge in (*ring.edges[first:], *ring.edges[: first + 1]):
            if edge.name in rules.edges:
                run.append(edge)
            elif run:
                yield run
                run = []


def _cut(length_mm: float, rules: StripRules) -> Iterator[float]:
    """The pieces of one stretch: the longest that can be had, then what is left."""
    step = rules.pitch_mm
    longest = math.floor(rules.longest_mm / step + 1e-9) * step if step else rules.longest_mm
    left = math.floor(length_mm / step + 1e-9) * step if step else length_mm
    refuse_too_many(left / longest, f"pieces of {rules.name}")
    while left > longest + 1e-6:
        yield longest
        left -= longest
    if left > 1e-6:
        yield left


def _bare(
    stretches: Sequence[Sequence[Edge]],
    lengths: Sequence[float],
    rests: Sequence[float],
    rules: StripRules,
) -> Iterator[Finding]:
    for stretch, length, rest in zip(stretches, lengths, rests, strict=True):
        if rules.pitch_mm and rest > length / 2:
            edges = ", ".join(edge.name for edge in stretch)
            yield Finding(
                Level.CHECK,
                f"{rules.name} along {edges}",
                f"The run of {rules.lengths(length)} takes only {rules.lengths(length - rest)}, "
                f"since it is cut every {rules.lengths(rules.pitch_mm)}.",
                "Leave the edge out, or take goods with a finer pitch.",
            )
