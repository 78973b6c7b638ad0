"""Random outlines, boards and lines for property tests.

Every outline is valid by construction: a rectangle whose corners may be sharp, cut off or rounded,
whose sides may have a notch or be bowed out or in, with up to two posts in the middle, turned and
moved anywhere.

         ____________
        /     __     \\        corner: chamfer, fillet or sharp
       |     |__|    |        side: straight, notch (square or slanted), bow out, bow in
       |   o      <>  )       hole: round or square, any turn
       |______________|
"""

import math
from itertools import pairwise

from hypothesis import strategies as st

from shapecut.layout.layout import Board
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.placement import Placement, Point

__all__ = ["boards", "jagged_outlines", "outlines", "placements", "turns"]

turns = st.one_of(
    st.sampled_from([0.0, math.pi / 2, math.pi, -math.pi / 2, math.pi / 4]),
    st.floats(-math.pi, math.pi),
)
"""Any turn, square ones among them."""

placements = st.builds(Placement, st.tuples(st.floats(-3000, 3000), st.floats(-3000, 3000)), turns)


@st.composite
def boards(draw: st.DrawFn, *, narrowest_mm: float = 60.0, widest_mm: float = 250.0) -> Board:
    """A board with a gap of nothing to 12 mm."""
    width = draw(st.floats(narrowest_mm, widest_mm))
    return Board(width, 28.0, draw(st.one_of(st.just(0.0), st.floats(1.0, 12.0))))


def outlines(
    *, smallest_mm: float = 300.0, largest_mm: float = 6000.0, curved: bool = True
) -> st.SearchStrategy[Outline]:
    """Valid outlines of any turn and place, with arcs if `curved`; see the module's picture."""
    return st.builds(_placed, _local_outlines(smallest_mm, largest_mm, curved), placements)


@st.composite
def jagged_outlines(draw: st.DrawFn) -> Outline:
    """Straight edges with sharp points and clefts, 300 to 1000 mm: stars of 4 to 8 tips."""
    count = draw(st.integers(4, 8))
    # Tips in sectors of their own, so that the star winds round its centre once.
    points = []
    for k in range(count):
        angle = (k + draw(st.floats(0.1, 0.9))) * math.tau / count
        reach = draw(st.floats(150, 500))
        points.append((reach * math.cos(angle), reach * math.sin(angle)))
    curves: list[Curve] = [Line(a, b) for a, b in pairwise([*points, points[0]])]
    return Outline(_ring(curves, "E", 1, draw))


@st.composite
def _local_outlines(
    draw: st.DrawFn, smallest_mm: float, largest_mm: float, curved: bool
) -> Outline:
    sizes = st.one_of(
        st.floats(smallest_mm, largest_mm),
        st.integers(math.ceil(smallest_mm / 100), int(largest_mm / 100)).map(lambda n: n * 100.0),
    )
    width, height = draw(sizes), draw(sizes)
    unit = min(width, height)
    corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
    cuts = [draw(_corner_cuts(unit, curved)) for _ in corners]
    curves: list[Curve] = []
    for here in range(4):
        there = (here + 1) % 4
        start = _towards(corners[here], corners[there], cuts[here][1])
        end = _towards(corners[there], corners[here], cuts[there][1])
        curves += draw(_sides(start, end, unit, curved))
        curves += _corner(corners[there], cuts[there], end, corners[(there + 1) % 4])
    outer = _ring(curves, "E", 1, draw)
    places = draw(st.lists(st.sampled_from([0.3, 0.6]), max_size=2, unique=True))
    holes: list[Ring] = []
    count = len(curves)
    for place in places:
        centre = (
            draw(st.floats(place, place + 0.1)) * width,
            draw(st.floats(0.35, 0.65)) * height,
        )
        hole = draw(_holes(centre, draw(st.floats(0.01, 0.045)) * unit, curved))
        holes.append(_ring(hole, "E", count + 1, draw))
        count += len(hole)
    return Outline(outer, tuple(holes))


def _corner_cuts(unit: float, curved: bool) -> st.SearchStrategy[tuple[str, float]]:
    cut = st.sampled_from(["chamfer", "fillet"] if curved else ["chamfer"])
    size = st.floats(0.01, 0.1).map(lambda part: part * unit)
    return st.one_of(st.just(("sharp", 0.0)), st.tuples(cut, size))


def _corner(corner: Point, cut: tuple[str, float], start: Point, after: Point) -> list[Curve]:
    kind, size = cut
    if kind == "sharp":
        return []
    end = _towards(corner, after, size)
    if kind == "chamfer":
        return [Line(start, end)]
    centre = (start[0] + end[0] - corner[0], start[1] + end[1] - corner[1])
    return [Arc(start, end, centre, True)]


@st.composite
def _sides(draw: st.DrawFn, start: Point, end: Point, unit: float, curved: bool) -> list[Curve]:
    kinds = ["straight", "notch", "out", "in"] if curved else ["straight", "notch"]
    kind = draw(st.sampled_from(kinds))
    length = math.dist(start, end)
    if kind == "straight":
        return [Line(start, end)]
    if kind == "notch":
        depth = draw(st.floats(0.02, 0.2)) * unit
        slant = draw(st.one_of(st.just(0.0), st.floats(0.0, 0.05))) * unit
        first, last = draw(st.floats(0.3, 0.45)) * length, draw(st.floats(0.5, 0.7)) * length
        slant = min(slant, (last - first) / 3)
        mouth = _towards(start, end, first), _towards(start, end, last)
        inner = [
            _left_of(start, end, _towards(start, end, reach), depth)
            for reach in (first + slant, last - slant)
        ]
        points = [start, mouth[0], *inner, mouth[1], end]
        return [Line(a, b) for a, b in pairwise(points)]
    sagitta = draw(st.floats(0.005, 0.1)) * min(unit, length)
    radius = length**2 / (8 * sagitta) + sagitta / 2
    middle = _towards(start, end, length / 2)
    bow_out = kind == "out"
    offset = (radius - sagitta) if bow_out else -(radius - sagitta)
    return [Arc(start, end, _left_of(start, end, middle, offset), bow_out)]


@st.composite
def _holes(draw: st.DrawFn, centre: Point, radius: float, curved: bool) -> list[Curve]:
    turn = draw(turns)
    count = draw(st.sampled_from([2, 4] if curved else [4]))
    points = [
        (
            centre[0] + radius * math.cos(turn - k * math.tau / count),
            centre[1] + radius * math.sin(turn - k * math.tau / count),
        )
        for k in range(count)
    ]
    pairs = list(zip(points, points[1:] + points[:1], strict=True))
    if count == 2:
        return [Arc(a, b, centre, False) for a, b in pairs]
    return [Line(a, b) for a, b in pairs]


def _ring(curves: list[Curve], prefix: str, first: int, draw: st.DrawFn) -> Ring:
    treatments = st.sampled_from(list(Treatment))
    return Ring(
        tuple(
            Edge(f"{prefix}{number}", curve, None, draw(treatments))
            for number, curve in enumerate(curves, start=first)
        )
    )


def _placed(outline: Outline, placement: Placement) -> Outline:
    def moved(ring: Ring) -> Ring:
        return Ring(
            tuple(
                Edge(edge.name, edge.curve.placed(placement), edge.u_mm, edge.treatment)
                for edge in ring.edges
            )
        )

    return Outline(moved(outline.outer), tuple(moved(hole) for hole in outline.holes))


def _towards(start: Point, end: Point, reach: float) -> Point:
    part = reach / math.dist(start, end)
    return (start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1]))


def _left_of(start: Point, end: Point, point: Point, offset: float) -> Point:
    length = math.dist(start, end)
    ux, uy = (end[0] - start[0]) / length, (end[1] - start[1]) / length
    return (point[0] - offset * uy, point[1] + offset * ux)
