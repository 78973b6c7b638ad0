"""What is decided about a border, and its words.

Glossary:
    border board: a board laid along an edge of the field, its face on the field's own side.
    course: one ring of border boards; the first lies at the edge, the next a gap further in.
    depth: what the courses take with the gap behind each.
    corner: where the sides of two edges meet; an inside corner turns to the right.
    mitred: cut along the bisector, which holds both corners of the two boards, whatever the angle.
    butted: one board runs through to the far side of the other, which stops a gap before it.
    turn: how far the boundary turns at a corner; each mitre is cut half of it off square.
"""

from dataclasses import dataclass
from enum import StrEnum

from shapecut.layout.layout import Board
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["NO_ROW", "BorderCorner", "BorderRules", "Corners", "behind"]

NO_ROW = 0
"""Row number of boards that belong to no row."""


class Corners(StrEnum):
    """How border boards meet at a corner."""

    MITRED = "mitred"
    BUTTED = "butted"


@dataclass(frozen=True)
class BorderRules:
    """A border.

    Attributes:
        edges: Names of the edges that it follows; of two that are butted, the one named first
            runs through.
        courses: Boards side by side.
        corners: How they meet.
        corner_gap_mm: Left open at mitres, at right angles to the cut.
        lengths: How findings and refusals write lengths.
    """

    edges: tuple[str, ...]
    courses: int = 1
    corners: Corners = Corners.MITRED
    corner_gap_mm: float = 0.0
    lengths: LengthStyle = MILLIMETRES

    def depth_mm(self, board: Board) -> float:
        """What the courses take, with the gap behind each."""
        return self.courses * (board.width_mm + board.gap_mm)


@dataclass(frozen=True)
class BorderCorner:
    """A corner where two border boards meet.

    Attributes:
        edges: The edge that ends there and the one that starts.
        turn_rad: To the left; negative at inside corners.
        through: The edge whose board runs through; None where they are mitred.
    """

    edges: tuple[str, str]
    turn_rad: float
    through: str | None = None

    @property
    def mitre_rad(self) -> float:
        """How far off square each board is cut for a mitre: half of the turn."""
        return abs(self.turn_rad) / 2


def behind(edge: str) -> str:
    """Name of the field's side behind the border along an edge."""
    return f"{edge}-border"
