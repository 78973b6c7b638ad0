"""Polylines of DXF files, as either release has them."""

from ezdxf.entities import DXFEntity

__all__ = ["entity_closed", "vertices_of"]


def vertices_of(entity: DXFEntity) -> list[tuple[float, float, float]]:
    """Places and bulges."""
    if entity.dxftype() == "LWPOLYLINE":
        return entity.get_points("xyb")
    return [(*v.dxf.location.vec2, v.dxf.get("bulge", 0.0)) for v in entity.vertices]


def entity_closed(entity: DXFEntity) -> bool:
    """Whether its last vertex is joined to its first."""
    return entity.closed if entity.dxftype() == "LWPOLYLINE" else entity.is_closed
