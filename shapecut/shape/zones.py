"""Regions with zones taken out of them, or joined to them.

Method: loops wind round what they enclose once; those of a zone that is taken out are turned round,
so that they wind round it once the other way.  What is left is wound round more than nought times
(see `outermost`).  Sides that a zone shares with the region, or two zones with each other, cancel.
"""

from collections.abc import Sequence

from shapecut.shape.loops import regions
from shapecut.shape.outermost import SAME_PLACE_MM, outermost
from shapecut.shape.region import Loop, Region, Side

__all__ = ["joined_with", "mean_width", "without"]


def mean_width(region: Region) -> float:
    """Twice the area over the length of the boundary, mm: that of a long strip is its width."""
    boundary = sum(side.curve.length for loop in region.loops for side in loop)
    return 2 * region.area / boundary


def without(region: Region, zones: Sequence[Region]) -> tuple[Region, ...]:
    """What a region has outside some zones.

    Args:
        region: In any frame, mm.
        zones: In the same; they may touch each other and overlap.

    Returns:
        The connected parts; sides along a zone keep the zone's source.
    """
    loops = [*region.loops, *(_turned_round(loop) for zone in zones for loop in zone.loops)]
    return regions(outermost(loops), thinnest_mm=SAME_PLACE_MM)


def joined_with(region: Region, zones: Sequence[Region]) -> tuple[Region, ...]:
    """A region and some zones as one, where they touch or overlap."""
    loops = [*region.loops, *(loop for zone in zones for loop in zone.loops)]
    return regions(outermost(loops), thinnest_mm=SAME_PLACE_MM)


def _turned_round(loop: Loop) -> Loop:
    return tuple(Side(side.curve.reversed(), side.source) for side in reversed(loop))
