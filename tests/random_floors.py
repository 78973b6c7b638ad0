"""Random floors with boards laid over them, all seeded: for what many different jobs must hold."""

import math
import random

from shapecut.layout.layout import Board, Layout
from shapecut.layout.rows import lay_rows
from shapecut.layout.rules import LayoutRules
from shapecut.shape.curves import Arc
from shapecut.shape.region import Loop, Region, Side
from tests.scenes import rounded

__all__ = ["random_floor"]


def random_floor(seed: int) -> Layout:
    """Boards over a floor of 0.6 to 3 m with corners cut off, out of square, some with a post."""
    rng = random.Random(seed)
    width, depth = rng.uniform(700, 3000), rng.uniform(400, 1600)

    def loose() -> float:
        return rng.uniform(-40, 40)

    corners = [
        (loose(), loose()),
        (width + loose(), loose()),
        (width + loose(), depth * 0.6 + loose()),
        (width * 0.75 + loose(), depth + loose()),
        (width * 0.4 + loose(), depth + loose()),
        (width * 0.4 + loose(), depth * 0.75 + loose()),
        (loose(), depth * 0.75 + loose()),
    ]
    radii = {0: rng.uniform(60, 180)} if rng.random() < 0.5 else {}
    outer = tuple(Side(curve, f"E{n}") for n, curve in enumerate(rounded(corners, radii), 1))
    holes: tuple[Loop, ...] = ()
    if rng.random() < 0.4:
        holes = (round_hole((width * 0.3, depth * 0.35), rng.uniform(20, 90)),)
    board = Board(rng.choice([90.0, 120.0, 145.0, 190.0]), 28.0, rng.choice([3.0, 5.0, 8.0]))
    direction = rng.choice([0.0, 0.0, math.pi / 2, rng.uniform(0, math.pi)])
    return lay_rows(Region(outer, holes), board, LayoutRules(direction_rad=direction))


def round_hole(centre: tuple[float, float], radius: float) -> Loop:
    """A clockwise circle of two arcs."""
    x, y = centre
    left, right = (x - radius, y), (x + radius, y)
    return (
        Side(Arc(left, right, centre, ccw=False), "H1"),
        Side(Arc(right, left, centre, ccw=False), "H2"),
    )
