"""The job file's `[template.hints]`: what a person points at where the pictures do not tell.

Pixel positions are [x, y] from the top left of the picture as it stands upright.
"""

from collections.abc import Mapping

from pydantic import Field

from shapecut.job.values import Table
from shapecut.trace.hints import Hints, Pointed

__all__ = ["HintsTable"]

Pixel = tuple[float, float]


class HintsTable(Table):
    """Where the template and the floor are, by picture."""

    on_template: Mapping[str, Pixel] = Field(
        {}, description="for a picture by name a place [x, y] on the template, clear of print"
    )
    on_floor: Mapping[str, Pixel] = Field(
        {}, description="for a picture by name a place [x, y] on the floor"
    )
    box: Mapping[str, tuple[Pixel, Pixel]] = Field(
        {}, description="for a picture by name two opposite corners of a box round the template"
    )

    @property
    def pictures(self) -> frozenset[str]:
        """Names of all pictures that something is pointed at in."""
        return frozenset((*self.on_template, *self.on_floor, *self.box))

    @property
    def hints(self) -> Hints:
        """As the tracing takes them."""
        return Hints(
            tuple(Pointed(name, (place,)) for name, place in self.on_template.items()),
            tuple(Pointed(name, (place,)) for name, place in self.on_floor.items()),
            tuple(Pointed(name, corners) for name, corners in self.box.items()),
        )
