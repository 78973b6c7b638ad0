"""Light that is not even: a sun with shadows in its way, slow gradients, patches of glare.

Light falls on the plane as a part from the sun, which shadows take away, and the rest from the sky,
which reaches everywhere.  Shadows are fields over the plane, so that they run across floor, cards
and template alike; at a height above the floor they are displaced against the sun.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

__all__ = ["EVEN", "Band", "Glare", "Lighting"]

Field = NDArray[np.float32]


@dataclass(frozen=True)
class Band:
    """A straight band of shadow, or many of them side by side.

    Attributes:
        middle_mm: Distance of its middle line from the plane's origin, along its normal.
        width_mm: Across.
        normal_rad: Direction of its normal from the plane's x axis.
        softness_mm: Width over which either side of it goes from light to dark.
        every_mm: Distance from one band to the next; None for a single one.
    """

    middle_mm: float
    width_mm: float
    normal_rad: float
    softness_mm: float = 2.0
    every_mm: float | None = None

    def shade(self, x: Field, y: Field) -> Field:
        """Part of the sun taken away at plane points, 0 to 1."""
        across = x * np.float32(np.cos(self.normal_rad)) + y * np.float32(np.sin(self.normal_rad))
        away = across - np.float32(self.middle_mm)
        if self.every_mm is not None:
            away -= np.float32(self.every_mm) * np.round(away / np.float32(self.every_mm))
        inside = np.float32(self.width_mm / 2) - np.abs(away)
        part = np.clip(inside / np.float32(max(self.softness_mm, 1e-3)) + np.float32(0.5), 0, 1)
        return np.asarray(part * part * (3 - 2 * part))


@dataclass(frozen=True)
class Glare:
    """Light mirrored by a smooth place, which adds to whatever colour is there.

    Attributes:
        centre_mm: In the plane.
        radii_mm: Along x and y, one standard deviation of its bell.
        strength: Of its middle, 1 being a white surface.
    """

    centre_mm: tuple[float, float]
    radii_mm: tuple[float, float]
    strength: float

    def light(self, x: Field, y: Field) -> Field:
        """What it adds at plane points."""
        u = (x - np.float32(self.centre_mm[0])) / np.float32(self.radii_mm[0])
        v = (y - np.float32(self.centre_mm[1])) / np.float32(self.radii_mm[1])
        return np.asarray(np.float32(self.strength) * np.exp(-(u * u + v * v) / 2))


@dataclass(frozen=True)
class Lighting:
    """What shines on the scene.

    Attributes:
        sun: Part of the light that shadows take away.
        sky: Colour of the rest, beside that of the sun.
        lean: (x, y) by which a shadow moves across the floor per millimetre of height of what
            throws it.
        bands: Shadows of things out of sight.
        gradient: (x, y) by which the light grows across a metre, as a power of e.
        glares: Mirrored light.
    """

    sun: float = 0.0
    sky: tuple[float, float, float] = (1.0, 1.0, 1.0)
    lean: tuple[float, float] = (0.0, 0.0)
    bands: tuple[Band, ...] = ()
    gradient: tuple[float, float] = (0.0, 0.0)
    glares: tuple[Glare, ...] = ()

    def light(self, x: Field, y: Field, height_mm: float, sunless: Field | None = None) -> Field:
        """Light (…, 3) on level surfaces at plane points, 1 where it is even.

        Args:
            x: Of the points, mm.
            y: Of the points, mm.
            height_mm: Above the floor.
            sunless: Part of the sun that the template itself takes away there.
        """
        throw_x, throw_y = (np.float32(height_mm * lean) for lean in self.lean)
        lit = np.ones_like(x) if sunless is None else 1 - sunless
        for band in self.bands:
            lit = lit * (1 - band.shade(x + throw_x, y + throw_y))
        level = np.exp(
            x * np.float32(self.gradient[0] / 1e3) + y * np.float32(self.gradient[1] / 1e3)
        )
        sky = np.array(self.sky, np.float32) * np.float32(1 - self.sun)
        return np.asarray((np.float32(self.sun) * lit[..., None] + sky) * level[..., None])

    def glare(self, x: Field, y: Field) -> Field:
        """Mirrored light at plane points."""
        total = np.zeros_like(x)
        for glare in self.glares:
            total = total + glare.light(x, y)
        return total


EVEN = Lighting()
