"""How the shape shows in the pictures: as what was cut out, as a drawn line, or as an opening."""

from dataclasses import dataclass
from enum import StrEnum

from shapecut.trace.hints import NO_HINTS, Hints

__all__ = ["Drawn", "LineSide", "ShownAs"]


class Drawn(StrEnum):
    """What the outline follows."""

    SILHOUETTE = "silhouette"
    """The edge of a template that was cut out."""
    LINE = "line"
    """A closed line drawn on paper or board with a pencil or a marker."""
    OPENING = "opening"
    """The rim of an opening in a frame on whose face the cards lie; there is no template."""


class LineSide(StrEnum):
    """Which side of a drawn line is the outline; within the closed line is inner."""

    CENTRE = "centre"
    INNER = "inner"
    OUTER = "outer"


@dataclass(frozen=True)
class ShownAs:
    """How the shape shows.

    Attributes:
        drawn: What the outline follows.
        line_side: Which side of it where it is a line.
        setting_out: Whether to look for crosses, lines and arrows drawn within it.
        hints: What a person says of where a template lies.
    """

    drawn: Drawn = Drawn.SILHOUETTE
    line_side: LineSide = LineSide.CENTRE
    setting_out: bool = False
    hints: Hints = NO_HINTS
