"""What a person marked on the template to set the work out by: crosses, lines and arrows.

Glossary:
    point: where a cross stands, for a screw hole or a light; named P1, P2, …
    line: a straight line, for a joist or a wall; named L1, L2, …
    arrow: a direction, for the boards; named A1, A2, …
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from shapecut.shape.placement import Placement, Point

__all__ = ["SetArrow", "SetLine", "SetPoint", "SettingOut", "setting_out"]


@dataclass(frozen=True)
class SetPoint:
    """A cross.

    Attributes:
        name: As a person points at it.
        at: Where its strokes cross, template-plane mm.
        u_mm: Standard uncertainty of its place, scale aside.
    """

    name: str
    at: Point
    u_mm: float


@dataclass(frozen=True)
class SetLine:
    """A straight line.

    Attributes:
        name: As a person points at it.
        start: One end, template-plane mm.
        end: The other.
        u_mm: Standard uncertainty across it, scale aside; its ends are good to about its width.
    """

    name: str
    start: Point
    end: Point
    u_mm: float


@dataclass(frozen=True)
class SetArrow:
    """An arrow.

    Attributes:
        name: As a person points at it.
        start: Where its shaft begins, template-plane mm.
        tip: Where it points.
        u_mm: Standard uncertainty across its shaft, scale aside.
    """

    name: str
    start: Point
    tip: Point
    u_mm: float


@dataclass(frozen=True)
class SettingOut:
    """All marks on a template, each kind numbered from left to right."""

    points: tuple[SetPoint, ...] = ()
    lines: tuple[SetLine, ...] = ()
    arrows: tuple[SetArrow, ...] = ()

    def placed(self, placement: Placement) -> "SettingOut":
        """The same marks with the template placed in a plane, numbered anew."""
        to_plane = placement.to_plane
        return setting_out(
            (replace(p, at=to_plane(p.at)) for p in self.points),
            (replace(s, start=to_plane(s.start), end=to_plane(s.end)) for s in self.lines),
            (replace(a, start=to_plane(a.start), tip=to_plane(a.tip)) for a in self.arrows),
        )

    def scaled(self, factor: float) -> "SettingOut":
        """The same marks with all coordinates multiplied by a factor."""

        def times(point: Point) -> Point:
            return (point[0] * factor, point[1] * factor)

        return SettingOut(
            tuple(replace(p, at=times(p.at)) for p in self.points),
            tuple(replace(s, start=times(s.start), end=times(s.end)) for s in self.lines),
            tuple(replace(a, start=times(a.start), tip=times(a.tip)) for a in self.arrows),
        )


def setting_out(
    points: Iterable[SetPoint], lines: Iterable[SetLine], arrows: Iterable[SetArrow]
) -> SettingOut:
    """Marks, numbered by kind from left to right; a line starts at its left end."""
    rightward = (
        line if line.start <= line.end else replace(line, start=line.end, end=line.start)
        for line in lines
    )
    return SettingOut(
        tuple(
            replace(point, name=f"P{k}")
            for k, point in enumerate(sorted(points, key=lambda point: point.at), 1)
        ),
        tuple(
            replace(line, name=f"L{k}")
            for k, line in enumerate(sorted(rightward, key=lambda line: line.start), 1)
        ),
        tuple(
            replace(arrow, name=f"A{k}")
            for k, arrow in enumerate(sorted(arrows, key=lambda arrow: arrow.start), 1)
        ),
    )
