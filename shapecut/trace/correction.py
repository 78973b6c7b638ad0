"""What a person may correct about a traced outline, by the names of its edges and corners."""

from dataclasses import dataclass

from shapecut.shape.placement import Point

__all__ = ["APPLIED", "Correction", "KnownLength", "MovedCorner", "OneEdge", "Shadow", "TwoEdges"]


@dataclass(frozen=True)
class MovedCorner:
    """A corner lies elsewhere.

    Attributes:
        corner: By the two edges that meet there, such as E3/E4.
        to: Where it lies, mm in the outline's plane; None where it is moved by a distance.
        by: How far it moves along x and y, mm; None where its place is given.
    """

    corner: str
    to: Point | None = None
    by: Point | None = None

    def __str__(self) -> str:
        """As a person would point at it."""
        return f"move {self.corner}"


@dataclass(frozen=True)
class OneEdge:
    """Edges that are one, with whatever was taken for edges between them.

    Attributes:
        edges: Two or more names; the edge that they make has the first.
    """

    edges: tuple[str, ...]

    def __str__(self) -> str:
        """As a person would point at it."""
        return f"{' and '.join(self.edges)} are one"


@dataclass(frozen=True)
class TwoEdges:
    """An edge that is two.

    Attributes:
        edge: Its name.
        corner: At its end, from which the place is measured.
        at_mm: Where the two meet, along the edge from that corner.
    """

    edge: str
    corner: str
    at_mm: float

    def __str__(self) -> str:
        """As a person would point at it."""
        return f"{self.edge} is two"


@dataclass(frozen=True)
class Shadow:
    """An edge, or a stretch of one, where something else was taken for the boundary.

    Attributes:
        edge: Its name.
        corner: At the end of the edge from which the stretch is measured.
        within_mm: Where it begins and ends along the edge, from that corner; None where the whole
            edge is none, and its neighbours meet.
    """

    edge: str
    corner: str = ""
    within_mm: tuple[float, float] | None = None

    def __str__(self) -> str:
        """As a person would point at it."""
        return f"shadow on {self.edge}"


@dataclass(frozen=True)
class KnownLength:
    """The true length of an edge, or distance of two corners.

    Attributes:
        of: The edge, or two corners.
        length_mm: As taped.
        u_mm: Its standard uncertainty.
    """

    of: tuple[str] | tuple[str, str]
    length_mm: float
    u_mm: float

    def __str__(self) -> str:
        """As a person would point at it."""
        return f"length of {self.of[0]}" if len(self.of) == 1 else f"{self.of[0]} to {self.of[1]}"


Correction = MovedCorner | OneEdge | TwoEdges | Shadow | KnownLength

APPLIED = (Shadow, OneEdge, TwoEdges, MovedCorner, KnownLength)
"""Kinds of corrections in the order in which they are applied, whatever order they are given in."""
