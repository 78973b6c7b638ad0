"""Random jobs of pieces with slanted ends, all seeded."""

import math
import random
from collections.abc import Sequence

from shapecut.stock.cutplan import Blank
from shapecut.stock.ends import SQUARE, End

WIDTH_MM = 140.0


def slanted(degrees: float, width_mm: float = WIDTH_MM) -> End:
    """A straight end so far off square; positive where it stands back at the lower edge."""
    depth = round(width_mm * math.tan(math.radians(abs(degrees))), 3)
    if not depth:
        return SQUARE
    return ((depth, 0.0), (0.0, width_mm)) if degrees > 0 else ((0.0, 0.0), (depth, width_mm))


def angled_job(seed: int, count: int, angles: Sequence[float]) -> list[Blank]:
    """Blanks of 300 to 1500 mm whose ends are square or at one of a few angles."""
    rng = random.Random(seed)
    return [
        Blank(
            f"{i}a",
            round(rng.uniform(300, 1500), 1),
            slanted(rng.choice([0.0, *angles])),
            slanted(rng.choice([0.0, *angles])),
        )
        for i in range(1, count + 1)
    ]
