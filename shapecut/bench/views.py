"""The outline as it is drawn over pictures: seen from straight above in mm, and as photographed.

A view is what one drawing shows, in the picture's own units with y down: mm for the flat one,
pixels for a photograph.
"""

import re
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from shapecut.bench.desk import Values
from shapecut.findings import Finding
from shapecut.papers.edge_bands import band_enlargement, band_round
from shapecut.papers.edge_points import points_beside
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Edge, Outline
from shapecut.shape.placement import Point
from shapecut.survey.view import View

__all__ = ["corner_values", "drawn_over", "flat_points", "named_edges", "photo_points"]

POINT_SPACING_MM = 10.0
"""Edges are drawn through points this close: lenses bend even straight lines."""

ROOM = 0.06
"""Free room round the outline, as a share of its longer side."""

Points = NDArray[np.float64]
Shown = Callable[[Points], Points]
"""Brings (N, 2) places of the plane into a view."""


def flat_points(points: Points) -> Points:
    """Places as they are drawn from straight above: mm, y down."""
    return np.asarray(points * np.array([1.0, -1.0]))


def photo_points(view: View, height_mm: float) -> Shown:
    """Where a photograph shows places at a height over the plane."""

    def shown(points: Points) -> Points:
        return view.px_from_mm(np.column_stack([points, np.full(len(points), height_mm)]))

    return shown


def drawn_over(outline: Outline, findings: Sequence[Finding], shown: Shown) -> Values:
    """An outline in one view: its edges with their bands, and the places of findings."""
    enlarged = band_enlargement(outline) or 1
    left, low, right, high = bounds(edge.curve for edge in outline.outer.edges)
    corners = np.array([[left, low], [right, low], [right, high], [left, high]])
    return {
        "box": _box(shown(corners)),
        "edges": [
            {
                "name": edge.name,
                "path": _path(shown(points_beside(edge.curve, 0.0, POINT_SPACING_MM))),
                "band": ""
                if (band := band_round(edge, enlarged, POINT_SPACING_MM)) is None
                else _path(shown(band)) + "Z",
                "middle": _place(shown, edge.curve.at(0.5)),
            }
            for edge in outline.edges
        ],
        "places": [
            None if (place := _place_of(finding, outline)) is None else _place(shown, place)
            for finding in findings
        ],
    }


def corner_values(outline: Outline) -> list[Values]:
    """The corners by the two edges that meet there, in the plane, and the corners beside them."""
    values = []
    for ring in outline.rings:
        count = len(ring.edges)
        for k, edge in enumerate(ring.edges if count > 1 else ()):
            before = ring.edges[k - 1]
            values.append(
                {
                    "name": "/".join(sorted((before.name, edge.name), key=_counted)),
                    "at": edge.curve.start,
                    "beside": [before.curve.start, edge.curve.end],
                }
            )
    return sorted(values, key=lambda corner: [_counted(name) for name in corner["name"].split("/")])


def named_edges(finding: Finding, outline: Outline) -> list[Edge]:
    """The edges that a finding is about, such as those of "E3/E4" or "E1, E3"."""
    words = re.split(r"[\s,/]+", finding.where)
    return [edge for edge in outline.edges if {edge.name, edge.whole} & {*words}]


def _place_of(finding: Finding, outline: Outline) -> Point | None:
    """Where a finding is to be looked at: its place, or the middle of an edge that it names."""
    named = named_edges(finding, outline)
    return finding.place_mm or (named[0].curve.at(0.5) if named else None)


def _counted(name: str) -> tuple[int, str]:
    """For E2 before E10."""
    return (len(name), name)


def _box(corners: Points) -> list[float]:
    low, high = corners.min(axis=0), corners.max(axis=0)
    room = ROOM * float((high - low).max())
    return [float(value) for value in (*(low - room), *(high - low + 2 * room))]


def _path(points: Points) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _place(shown: Shown, point: Point) -> list[float]:
    x, y = shown(np.array([point]))[0]
    return [float(x), float(y)]
