"""Points found again by where they are, without looking at all of them."""

import math
from collections import defaultdict
from collections.abc import Iterable
from itertools import product

from shapecut.shape.placement import Point

__all__ = ["NearPoints"]


class NearPoints:
    """Numbered points in square cells, of which only those round a place are looked at."""

    def __init__(self, within_mm: float, points: Iterable[Point] = ()) -> None:
        """Take up points under the numbers 0, 1, 2, …; they are near within a distance."""
        self._within = within_mm
        self._cells: defaultdict[tuple[int, int], list[tuple[int, Point]]] = defaultdict(list)
        for number, point in enumerate(points):
            self.add(number, point)

    def add(self, number: int, point: Point) -> None:
        """Take up one point more."""
        self._cells[self._cell(point)].append((number, point))

    def near(self, place: Point) -> list[int]:
        """The numbers of the points near a place, least first."""
        column, row = self._cell(place)
        return sorted(
            number
            for across, up in product((-1, 0, 1), repeat=2)
            for number, point in self._cells.get((column + across, row + up), ())
            if math.dist(point, place) <= self._within
        )

    def _cell(self, point: Point) -> tuple[int, int]:
        return (math.floor(point[0] / self._within), math.floor(point[1] / self._within))
