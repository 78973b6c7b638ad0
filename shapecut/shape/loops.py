"""From loops of sides to regions."""

from collections.abc import Sequence
from dataclasses import replace

from shapecut.shape.monotone import encloses
from shapecut.shape.region import Loop, Region, Side

__all__ = ["mended", "regions"]


def mended(sides: Sequence[Side]) -> Loop:
    """Sides as a loop in which each starts where the one before it ends, exactly.

    For sides whose ends agree within a tolerance far below what matters; the start gives way.
    """
    return tuple(
        side
        if side.curve.start == before.curve.end
        else Side(replace(side.curve, start=before.curve.end), side.source)
        for before, side in zip([sides[-1], *sides[:-1]], sides, strict=True)
    )


def regions(loops: Sequence[Loop], *, thinnest_mm: float) -> tuple[Region, ...]:
    """Give each hole to the outer loop round it.

    Args:
        loops: Counter-clockwise round material, clockwise round holes, not crossing.
        thinnest_mm: Loops of a mean width (twice the area over the length) below this are dropped.

    Returns:
        One region for each outer loop, in the order of the loops.
    """
    outers: list[Loop] = []
    holes: list[Loop] = []
    for loop in loops:
        area = sum(side.curve.area_term() for side in loop)
        if abs(area) > thinnest_mm * sum(side.curve.length for side in loop) / 2:
            (outers if area > 0 else holes).append(loop)
    if len(outers) == 1:
        return (Region(outers[0], tuple(holes)),)
    return tuple(
        Region(outer, tuple(hole for hole in holes if encloses(outer, hole[0].curve.at(0.5))))
        for outer in outers
    )
