"""Where taped points lie, roughly: one after the other from two distances each.

Two distances put a point where two circles cross: left or right of the line between the points
taped from.  Which of the two, a third distance tells, otherwise the side of the base line that the
point was said to lie on.
"""

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from shapecut.errors import JobFileError
from shapecut.shape.placement import Point
from shapecut.survey.tapes import Tape
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["rough_places"]

CLEAR_MM = 10.0
"""A third distance tells the side when the two candidates' misses differ by more than this, mm."""

SLACK = 0.02
"""Two distances whose circles miss each other by less than this share of the points' own distance
still place a point, on the line between the two."""


@dataclass(frozen=True)
class _Candidates:
    """Where two tapes put a point."""

    name: str
    places: tuple[Point, Point]
    width: float
    """How squarely the two circles cross, 0 to 1."""


def rough_places(
    tapes: Sequence[Tape],
    base: tuple[str, str],
    right: Collection[str],
    style: LengthStyle = MILLIMETRES,
) -> dict[str, Point]:
    """Place every taped point.

    Args:
        tapes: Between the points.
        base: Two points; the first comes to (0, 0), the second to the right of it.
        right: Names of points that lie right of the line from the first to the second.
        style: How refusals write lengths.

    Returns:
        Places in mm, y up, good enough for an adjustment to start from.

    Raises:
        JobFileError: A base that was not taped, a point with too few distances or with distances
            that cannot meet, or one that could as well lie elsewhere.
    """
    lengths = {frozenset((tape.start, tape.end)): tape.length_mm for tape in tapes}
    names = dict.fromkeys(name for tape in tapes for name in (tape.start, tape.end))
    if frozenset(base) not in lengths:
        raise JobFileError(
            f"template.taped: the base {base[0]}–{base[1]} has no distance: tape it and add it."
        )
    places = {base[0]: (0.0, 0.0), base[1]: (lengths[frozenset(base)], 0.0)}
    while len(places) < len(names):
        missing = [name for name in names if name not in places]
        found = (_placed(name, places, lengths, right) for name in missing)
        name, place = next(((n, p) for n, p in zip(missing, found, strict=True) if p), ("", None))
        if place is None:
            raise JobFileError(_unplaced(missing, places, lengths, style))
        places[name] = place
    return places


def _placed(
    name: str,
    places: dict[str, Point],
    lengths: dict[frozenset[str], float],
    right: Collection[str],
) -> Point | None:
    """Where a point lies, if that is certain by now."""
    candidates = list(_candidates(name, places, lengths))
    if not candidates:
        return None
    best = max(candidates, key=lambda pair: pair.width)
    misses = [_miss(name, place, places, lengths) for place in best.places]
    if abs(misses[0] - misses[1]) > CLEAR_MM:
        return best.places[misses.index(min(misses))]
    side = -1 if name in right else 1
    allowed = [place for place in best.places if place[1] * side >= 0]
    if math.dist(*best.places) <= CLEAR_MM:
        return best.places[0]
    return allowed[0] if len(allowed) == 1 else None


def _candidates(
    name: str, places: dict[str, Point], lengths: dict[frozenset[str], float]
) -> Iterator[_Candidates]:
    """Yield where each two placed points put another."""
    known = [other for other in places if frozenset((name, other)) in lengths]
    for first, second in combinations(known, 2):
        (x, y), apart = places[first], math.dist(places[first], places[second])
        a, b = (lengths[frozenset((name, other))] for other in (first, second))
        foot = (apart + (a - b) * (a + b) / apart) / 2
        height = math.sqrt(max(a * a - foot * foot, 0.0))
        if max(abs(a - b) - apart, apart - a - b) > SLACK * apart:
            continue
        ux, uy = (places[second][0] - x) / apart, (places[second][1] - y) / apart
        pair = tuple((x + foot * ux - h * uy, y + foot * uy + h * ux) for h in (height, -height))
        yield _Candidates(name, (pair[0], pair[1]), height * apart / (a * b))


def _miss(
    name: str, place: Point, places: dict[str, Point], lengths: dict[frozenset[str], float]
) -> float:
    """By how much a place misses the distances to all placed points, at most."""
    return max(
        abs(math.dist(place, places[other]) - lengths[frozenset((name, other))])
        for other in places
        if frozenset((name, other)) in lengths
    )


def _unplaced(
    missing: Sequence[str],
    places: dict[str, Point],
    lengths: dict[frozenset[str], float],
    style: LengthStyle,
) -> str:
    """The sentence on the first point that cannot be placed."""
    counts = {
        name: [other for other in places if frozenset((name, other)) in lengths] for name in missing
    }
    name = max(missing, key=lambda name: len(counts[name]))
    known = counts[name]
    if len(known) < 2:
        return (
            f"template.taped: {name} has {'one distance' if known else 'no distance'} to points "
            f"that are held ({', '.join(places)}): tape it to two of them, better three."
        )
    if not list(_candidates(name, places, lengths)):
        first, second = known[:2]
        a, b = (lengths[frozenset((name, other))] for other in (first, second))
        apart = math.dist(places[first], places[second])
        return (
            f"template.taped: {name} cannot be {style(a)} from {first} and {style(b)} from "
            f"{second}, which lie {style(apart)} apart: tape these three again."
        )
    return (
        f"template.taped: {name} could lie on either side of {known[0]}–{known[1]}: tape it to a "
        "third point."
    )
