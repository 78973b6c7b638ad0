"""What a drawing by another program holds of an outline, whatever its format.

Glossary:
    drawn path: curves that the drawing itself joins end to start: one line, one polyline, one
        subpath.
    layer: whatever name the format groups its paths by.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from shapecut.errors import ShapeError
from shapecut.findings import Finding
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.placement import Point
from shapecut.shape.validity import FARTHEST_MM

__all__ = [
    "JOINED_MM",
    "MOST_CURVES",
    "Drawn",
    "DrawnPath",
    "distance_text",
    "drawn_path",
    "place_text",
    "refuse_unknown_layers",
]

JOINED_MM = 0.1
"""Ends this near to each other are joined, mm."""

MOST_CURVES = 50_000
"""A drawing of more lines and arcs is no outline for boards."""


@dataclass(frozen=True)
class DrawnPath:
    """Curves joined end to start.

    Attributes:
        curves: In mm, x right, y up; at least one.
        where: What a person would point at: `LINE on layer 0`, `path "step"`, `line 7`.
    """

    curves: tuple[Curve, ...]
    where: str

    @property
    def start(self) -> Point:
        """Where it begins."""
        return self.curves[0].start

    @property
    def end(self) -> Point:
        """Where it ends."""
        return self.curves[-1].end


@dataclass(frozen=True)
class Drawn:
    """A drawing's paths.

    Attributes:
        paths: All that count for the outline.
        layers: Names that paths may be selected by; empty where the format has none.
        findings: What was left aside or assumed.
    """

    paths: tuple[DrawnPath, ...]
    layers: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def drawn_path(curves: Iterable[Curve], where: str, *, closed: bool = False) -> Iterator[DrawnPath]:
    """Yield the path of some curves, or nothing if they have no extent.

    Args:
        curves: Each starting where the one before ends; those of no length are left out.
        where: See `DrawnPath`.
        closed: Whether a line leads from the last end back to the first start.

    Raises:
        ShapeError: A coordinate that is no number, or out of all reach.
    """
    chain = []
    for curve in curves:
        for x, y in (curve.start, curve.at(0.5), curve.end):
            if not (abs(x) <= FARTHEST_MM and abs(y) <= FARTHEST_MM):
                raise ShapeError(
                    f"{where} has a point at ({x:g}, {y:g}) mm, which is no number or more than "
                    f"{FARTHEST_MM:,.0f} mm from the origin: check the units, or move the drawing "
                    "near the origin."
                )
        if curve.start != curve.end:
            _refuse_endless_bend(curve, where)
            chain.append(curve)
    if closed and chain and chain[-1].end != chain[0].start:
        chain.append(Line(chain[-1].end, chain[0].start))
    if chain:
        yield DrawnPath(tuple(chain), where)


def _refuse_endless_bend(curve: Curve, where: str) -> None:
    """Refuse an arc so small or large beside its chord that no number tells how far it sweeps."""
    if isinstance(curve, Arc) and not 0 < abs(curve.sweep_rad) < math.tau:
        raise ShapeError(
            f"{where} has an arc at {place_text(curve.start)} whose bend is beyond all measure: "
            "draw it again."
        )


def refuse_unknown_layers(wanted: Sequence[str], known: Iterable[str], name: str) -> None:
    """Refuse a selection of layers that a drawing does not have.

    Raises:
        ShapeError: Naming those it has.
    """
    there = sorted(set(known))
    strange = next((layer for layer in wanted if layer not in there), None)
    if strange is not None:
        raise ShapeError(
            f"{name} has nothing drawn on a layer {strange} (template.outline_layers); it has "
            f"{', '.join(there) or 'no layers'}."
        )


def distance_text(distance_mm: float) -> str:
    """A gap's width, precise where it is narrow."""
    return f"{distance_mm:.3f} mm" if distance_mm < 1 else f"{distance_mm:.1f} mm"


def place_text(point: Point) -> str:
    """A point as a person finds it in the drawing."""
    x, y = (0.0 if math.isclose(v, 0.0, abs_tol=0.05) else v for v in point)
    return f"({x:.1f}, {y:.1f})"
