"""Blocking: short pieces of joist between two joists, under corners that nothing else carries."""

import math
from bisect import bisect
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shapecut.layout.joists import Joists
from shapecut.shape.placement import Point

__all__ = ["Block", "LooseCorner", "blocking"]


@dataclass(frozen=True)
class LooseCorner:
    """A corner of a piece, in the plane, with nothing under it."""

    label: str
    place: Point


@dataclass(frozen=True)
class Block:
    """One piece of blocking.

    Attributes:
        joists: Indices of the two joists it is fixed between; of the only one that it can be fixed
            to where there is none beyond.
        middle: The middle of its centre line, in the plane.
        turn_rad: Of its centre line in the plane: square to the joists.
        length_mm: From joist to joist; from the joist to the corner where there is none beyond.
        labels: The pieces it carries.
    """

    joists: tuple[int, ...]
    middle: Point
    turn_rad: float
    length_mm: float
    labels: tuple[str, ...]

    @property
    def is_held_at_both_ends(self) -> bool:
        """Whether a joist holds it at both ends."""
        return len(self.joists) == 2


def blocking(
    corners: Sequence[LooseCorner], joists: Joists, *, least_bearing_mm: float
) -> tuple[Block, ...]:
    """The blocking that carries some corners, one block for those that one block reaches.

    Args:
        corners: In the plane.
        joists: Blocks are as wide as these.
        least_bearing_mm: How much of a block's width has to lie under a corner.

    Returns:
        Bay by bay between the joists, along each.
    """
    to_joists = joists.frame.inverse()
    bays: dict[int, list[tuple[Point, str]]] = {}
    for corner in corners:
        place = to_joists.to_plane(corner.place)
        bays.setdefault(bisect(joists.lines_mm, place[1]), []).append((place, corner.label))
    reach = joists.width_mm - 2 * least_bearing_mm
    blocks = []
    for bay, found in sorted(bays.items()):
        free_from = -math.inf
        for group in _groups(sorted(found), reach):
            # Under the middle of its corners, but beside the block before it.
            along = max((group[0][0][0] + group[-1][0][0]) / 2, free_from)
            blocks.append(_block(bay, group, along, joists))
            free_from = along + joists.width_mm
    return tuple(blocks)


def _groups(
    found: Sequence[tuple[Point, str]], reach_mm: float
) -> Iterator[list[tuple[Point, str]]]:
    """Corners of one bay, those together that lie within a block's reach along the joists."""
    group: list[tuple[Point, str]] = []
    for corner in found:
        if group and corner[0][0] - group[0][0][0] > reach_mm:
            yield group
            group = []
        group.append(corner)
    if group:
        yield group


def _block(bay: int, group: Sequence[tuple[Point, str]], along: float, joists: Joists) -> Block:
    lines, half = joists.lines_mm, joists.width_mm / 2
    held = tuple(place for place in (bay - 1, bay) if 0 <= place < len(lines))
    heights = [place[1] for place, _ in group]
    low = lines[bay - 1] + half if bay > 0 else min(heights)
    high = lines[bay] - half if bay < len(lines) else max(heights)
    return Block(
        joists=held,
        middle=joists.frame.to_plane((along, (low + high) / 2)),
        turn_rad=joists.frame.turn_rad + math.pi / 2,
        length_mm=max(0.0, high - low),
        labels=tuple(sorted({label for _, label in group})),
    )
