"""DXF entities as drawn paths in the drawing's own units, seen from above.

Group codes and meanings follow the DXF reference for release 2010.  Entities that have a plane of
their own (circles, arcs, polylines) may lie face up or face down; any other plane is not flat.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from ezdxf.entities.boundary_paths import ArcEdge, EllipseEdge, LineEdge, PolylinePath, SplineEdge
from ezdxf.entities.dxfentity import DXFEntity
from ezdxf.lldxf.const import DXFError
from ezdxf.math import BSpline
from numpy.typing import NDArray

from shapecut.drawings.affine import Affine
from shapecut.drawings.drawn_curves import EllipticArc
from shapecut.errors import ShapeError
from shapecut.shape.biarcs import lines_and_arcs
from shapecut.shape.bulge import bulged
from shapecut.shape.curves import Curve, Line
from shapecut.shape.placement import Point

__all__ = ["FILLED", "SOLID_TYPES", "Shape", "shapes_of"]

Array = NDArray[np.float64]

FILLED = "HATCH"
"""Filled areas; some programs write polygons as nothing else."""

SOLID_TYPES = frozenset(
    {"3DFACE", "3DSOLID", "BODY", "EXTRUDEDSURFACE", "LOFTEDSURFACE", "MESH", "REVOLVEDSURFACE",
     "SURFACE", "SWEPTSURFACE"}
)  # fmt: skip
"""Entities that are solid, or faces of something solid."""

FACE_UP = 1e-6
"""An entity's plane is level when the other two parts of its unit normal are smaller."""

SPLINE_FRAME = 16
"""Flag of a polyline's vertex that only guides the curve (VERTEX, group 70)."""


@dataclass(frozen=True)
class Shape:
    """One connected part of an entity.

    Attributes:
        curves: In mm.
        closed: Whether it returns to its start, by a line if need be.
        heights_mm: Least and greatest z.
    """

    curves: tuple[Curve, ...]
    closed: bool
    heights_mm: tuple[float, float]


def shapes_of(entity: DXFEntity, mm_per_unit: float) -> Iterator[Shape] | None:
    """The shapes that an entity draws; None for a kind that draws no outline.

    Raises:
        ShapeError: For an entity that stands up out of the plane.
    """
    reader = _READERS.get(entity.dxftype())
    return reader(entity, mm_per_unit) if reader else None


def _line(entity: Any, scale: float) -> Iterator[Shape]:
    start, end = entity.dxf.start, entity.dxf.end
    yield Shape((Line(_xy(start, scale), _xy(end, scale)),), False, _heights((start, end), scale))


def _arc(entity: Any, scale: float) -> Iterator[Shape]:
    dxf = entity.dxf
    start, sweep = 0.0, math.tau
    if entity.dxftype() == "ARC":
        start = math.radians(dxf.start_angle)
        sweep = math.radians((dxf.end_angle - dxf.start_angle) % 360.0) or math.tau
    arc = _round(dxf.center, dxf.radius, start, sweep).mapped(_from_above(entity, scale))
    height = _facing(entity) * dxf.center.z * scale
    yield Shape(arc.curves(), False, (height, height))


def _round(centre: Any, radius: float, start_rad: float, sweep_rad: float) -> EllipticArc:
    return EllipticArc((centre.x, centre.y), (radius, 0.0), (0.0, radius), start_rad, sweep_rad)


def _ellipse(entity: Any, scale: float) -> Iterator[Shape]:
    dxf = entity.dxf
    facing = _facing(entity)
    sweep = (dxf.end_param - dxf.start_param) % math.tau or math.tau
    arc = _oval(dxf.center, dxf.major_axis, facing * dxf.ratio, dxf.start_param, sweep)
    ends = (dxf.center - dxf.major_axis, dxf.center + dxf.major_axis)
    yield Shape(arc.mapped(Affine.scaling(scale, scale)).curves(), False, _heights(ends, scale))


def _oval(centre: Any, axis: Any, ratio: float, start_rad: float, sweep_rad: float) -> EllipticArc:
    minor = (-axis.y * ratio, axis.x * ratio)
    return EllipticArc((centre.x, centre.y), (axis.x, axis.y), minor, start_rad, sweep_rad)


def _lwpolyline(entity: Any, scale: float) -> Iterator[Shape]:
    height = _facing(entity) * entity.dxf.elevation * scale
    vertices = entity.get_points("xyb")
    curves = _bulged_chain(vertices, entity.closed, _from_above(entity, scale))
    yield Shape(curves, entity.closed, (height, height))


def _polyline(entity: Any, scale: float) -> Iterator[Shape]:
    if not (entity.is_2d_polyline or entity.is_3d_polyline):
        raise ShapeError("a POLYLINE is the mesh of something solid: draw the outline flat.")
    kept = [v for v in entity.vertices if not v.dxf.flags & SPLINE_FRAME]
    places = [v.dxf.location for v in kept]
    affine = Affine.scaling(scale, scale)
    if entity.is_2d_polyline:
        affine = _from_above(entity, scale)
    vertices = [(p.x, p.y, v.dxf.bulge) for p, v in zip(places, kept, strict=True)]
    curves = _bulged_chain(vertices, entity.is_closed, affine)
    yield Shape(curves, entity.is_closed, _heights(places, scale))


def _bulged_chain(
    vertices: Iterable[tuple[float, float, float]], closed: bool, affine: Affine
) -> tuple[Curve, ...]:
    """The curves of a polyline; vertices drawn twice count once."""
    mirrored = math.copysign(1.0, affine.determinant)
    chain = [
        (affine.point((float(x), float(y))), mirrored * float(bulge)) for x, y, bulge in vertices
    ]
    if closed:
        chain += chain[:1]
    return tuple(
        bulged(start, end, bulge) for (start, bulge), (end, _) in pairwise(chain) if start != end
    )


def _spline(entity: Any, scale: float) -> Iterator[Shape]:
    tool = _spline_tool(entity, f"SPLINE on layer {entity.dxf.layer}")
    curves = _spline_curves(tool, Affine.scaling(scale, scale))
    yield Shape(curves, False, _heights(tool.control_points, scale))


def _spline_tool(entity: Any, where: str) -> BSpline:
    try:
        tool: BSpline = entity.construction_tool()
    except (DXFError, ArithmeticError, LookupError, TypeError, ValueError):
        raise ShapeError(f"a {where} has points that make no curve: draw it again.") from None
    return tool


def _spline_curves(tool: BSpline, affine: Affine) -> tuple[Curve, ...]:
    knots = tool.knots()
    inner = knots[tool.order - 1 : len(knots) - tool.order + 1]
    return lines_and_arcs(_Spline(tool, affine), sorted(set(inner)))


@dataclass(frozen=True)
class _Spline:
    """A B-spline, rational or not, under an affine map."""

    tool: BSpline
    affine: Affine

    def points(self, parameters: Array) -> Array:
        return self.affine.points(np.array([p.vec2 for p in self.tool.points(parameters)]))

    def derivatives(self, parameters: Array) -> Array:
        firsts = [first.vec2 for _, first in self.tool.derivatives(parameters, n=1)]
        linear = Affine(self.affine.a, self.affine.b, self.affine.c, self.affine.d)
        return linear.points(np.array(firsts))


def _filled(entity: Any, scale: float) -> Iterator[Shape]:
    height = _facing(entity) * entity.dxf.elevation.z * scale
    affine = _from_above(entity, scale)
    for path in entity.paths:
        if isinstance(path, PolylinePath):
            curves = _bulged_chain(path.vertices, True, affine)
            yield Shape(curves, True, (height, height))
        else:
            for edge in path.edges:
                yield Shape(_edge_curves(edge, affine), False, (height, height))


def _edge_curves(edge: Any, affine: Affine) -> tuple[Curve, ...]:
    """The curves of one edge round a filled area; its sense does not matter."""
    if isinstance(edge, LineEdge):
        start, end = (affine.point((p.x, p.y)) for p in (edge.start, edge.end))
        return (Line(start, end),) if start != end else ()
    if isinstance(edge, ArcEdge):
        start_rad = math.radians(edge.start_angle)
        sweep = math.radians((edge.end_angle - edge.start_angle) % 360.0) or math.tau
        return _round(edge.center, edge.radius, start_rad, sweep).mapped(affine).curves()
    if isinstance(edge, EllipseEdge):
        sweep = (edge.end_param - edge.start_param) % math.tau or math.tau
        arc = _oval(edge.center, edge.major_axis, edge.ratio, edge.start_param, sweep)
        return arc.mapped(affine).curves()
    if isinstance(edge, SplineEdge):
        return _spline_curves(_spline_tool(edge, "spline round a HATCH"), affine)
    return ()


_READERS: dict[str, Any] = {
    "LINE": _line,
    "ARC": _arc,
    "CIRCLE": _arc,
    "ELLIPSE": _ellipse,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
    FILLED: _filled,
}


def _facing(entity: Any) -> int:
    """1 for an entity seen from its front, -1 for one seen from its back."""
    normal = entity.dxf.extrusion.normalize()
    if math.hypot(normal.x, normal.y) > FACE_UP:
        raise ShapeError(
            f"a {entity.dxftype()} on layer {entity.dxf.layer} stands up out of the plane: draw "
            "the outline flat, seen from above."
        )
    return 1 if normal.z > 0 else -1


def _from_above(entity: Any, scale: float) -> Affine:
    """From an entity's own plane to the drawing's, in mm.

    Face down, x runs the other way (DXF reference, arbitrary axis algorithm).
    """
    return Affine.scaling(_facing(entity) * scale, scale)


def _xy(place: Any, scale: float) -> Point:
    return (place.x * scale, place.y * scale)


def _heights(places: Iterable[Any], scale: float) -> tuple[float, float]:
    heights = [place.z * scale for place in places]
    return (min(heights, default=0.0), max(heights, default=0.0))
