"""The outline of the place to be boarded: named edges with what they meet and how sure they are.

Glossary:
    edge: one line or arc of the outline; its name (`E1`, `E2`, …) can be pointed at in a plan.
        A freeform curve E4 is a chain of arcs E4.1, E4.2, … tangent to each other.
    ring: a closed chain of edges; each edge starts where the one before it ends.  Outer rings run
        counter-clockwise and holes clockwise, so the material is always on the left of an edge.
    treatment: what the boards meet at an edge, in trade words; it decides the allowance.
    corner: where two edges meet; `E3/E4` is the corner at the end of E3.
"""

import re
from dataclasses import dataclass
from enum import StrEnum

from shapecut.shape.curves import Curve

__all__ = ["Edge", "Outline", "Ring", "Treatment", "whole_name"]


class Treatment(StrEnum):
    """What the boards meet at an edge."""

    WALL = "wall"
    """A wall or post: leave an expansion gap."""
    COVERED = "covered"
    """Fascia or trim hides the cut."""
    EXPOSED = "exposed"
    """The cut stays in sight: cut outside the line and sand to it."""
    OVERHANG = "overhang"
    """A nosing that reaches past the frame."""
    BUTT = "butt"
    """Another board: leave the board gap."""


@dataclass(frozen=True)
class Edge:
    """One named line or arc of an outline.

    Attributes:
        name: Unique within the outline.
        curve: In the template plane, mm, material on its left.
        u_mm: Standard uncertainty of the edge's place across itself, mm; None when not measured
            (an outline typed by hand).
        treatment: What the boards meet there.
    """

    name: str
    curve: Curve
    u_mm: float | None = None
    treatment: Treatment = Treatment.COVERED

    @property
    def whole(self) -> str:
        """Name of the freeform curve that the edge is a part of, E4 for E4.2; or its own name."""
        return whole_name(self.name)


@dataclass(frozen=True)
class Ring:
    """A closed chain of edges; see the module's glossary for its sense."""

    edges: tuple[Edge, ...]

    @property
    def signed_area(self) -> float:
        """Area in mm², positive when the ring runs counter-clockwise."""
        return sum(edge.curve.area_term() for edge in self.edges)


@dataclass(frozen=True)
class Outline:
    """One outer ring and any number of holes, in the template plane (mm, x right, y up)."""

    outer: Ring
    holes: tuple[Ring, ...] = ()

    @property
    def rings(self) -> tuple[Ring, ...]:
        """The outer ring first, then the holes."""
        return (self.outer, *self.holes)

    @property
    def edges(self) -> tuple[Edge, ...]:
        """All edges in the order of their names: E2 before E10, whichever way their ring runs."""
        edges = (edge for ring in self.rings for edge in ring.edges)
        return tuple(sorted(edges, key=lambda edge: _in_counting_order(edge.name)))

    @property
    def area(self) -> float:
        """Area in mm², holes taken out."""
        return sum(ring.signed_area for ring in self.rings)


def whole_name(name: str) -> str:
    """Name of the freeform curve that an edge of this name is a part of, or the name itself."""
    return re.sub(r"\.\d+$", "", name)


def _in_counting_order(name: str) -> tuple[tuple[int, str], ...]:
    """A sorting key under which numbers within names count as numbers."""
    parts = re.findall(r"\d+|\D+", name)
    return tuple((int(part), "") if part.isdecimal() else (-1, part) for part in parts)
