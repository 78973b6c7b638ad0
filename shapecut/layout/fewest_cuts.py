"""Where one board is parted: as few cuts as can be, at given places."""

from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["PartLengths", "fewest_cuts"]


@dataclass(frozen=True)
class PartLengths:
    """How long the parts of a board may be, and what is left open between two of them, mm."""

    longest_mm: float
    shortest_mm: float = 0.0
    gap_mm: float = 0.0


def fewest_cuts(
    places: Sequence[float], length_mm: float, parts: PartLengths, *, late: bool = False
) -> tuple[float, ...] | None:
    """As few cuts as can be at some places.

    Dynamic programming over the stops, one more part at a time: for each stop that so many parts
    can reach, the best way there.

    >>> fewest_cuts((400.0, 800.0, 1000.0, 1600.0), 2000.0, PartLengths(1000.0))
    (1000.0,)
    >>> fewest_cuts((400.0, 800.0, 1200.0, 1600.0), 2000.0, PartLengths(1300.0))
    (800.0,)
    >>> fewest_cuts((400.0, 800.0, 1200.0, 1600.0), 2000.0, PartLengths(1300.0), late=True)
    (1200.0,)

    Args:
        places: Rising, along the board.
        length_mm: Of the board.
        parts: How long they may be.
        late: Of ways with as few cuts, whether each cut is to lie as far along as can be; else the
            longest part is to be as short as can be.

    Returns:
        The places taken; None where there is no way.
    """
    half = parts.gap_mm / 2
    stops = [-half, *places, length_mm + half]
    ways: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, ())}
    while ways and len(stops) - 1 not in ways:
        further: dict[int, tuple[float, tuple[int, ...]]] = {}
        for start, (longest, cuts) in ways.items():
            for stop in range(start + 1, len(stops)):
                part = stops[stop] - stops[start] - parts.gap_mm
                if parts.shortest_mm <= part <= parts.longest_mm:
                    # Stops count backwards where late ones are wanted, so that the least way wins.
                    cut = -stop if late else stop
                    way = (0.0 if late else max(longest, part), (*cuts, cut))
                    further[stop] = min(further.get(stop, way), way)
        ways = further
    found = ways.get(len(stops) - 1)
    return tuple(stops[abs(cut)] for cut in found[1][:-1]) if found else None
