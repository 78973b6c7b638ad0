"""The gap that boards keep from walls and other boards, whatever the allowances next to them."""

import math
from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import ShapeError
from shapecut.shape.allowance import with_allowances
from shapecut.shape.curves import Arc, Line
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.placement import Point
from shapecut.shape.polygons import outline_polygon, region_polygon
from shapecut.shape.region import Region, Side
from tests.strategies import jagged_outlines, outlines

WALL, COVERED, EXPOSED = Treatment.WALL, Treatment.COVERED, Treatment.EXPOSED
OVERHANG, BUTT = Treatment.OVERHANG, Treatment.BUTT

REACH = {WALL: -6.0, COVERED: 0.0, EXPOSED: 2.0, OVERHANG: 25.4, BUTT: -5.0}

FLATTENED_MM = 1e-4
"""Tolerance of the polygons and lines between which distances are measured."""

reaches = st.fixed_dictionaries(
    {
        WALL: st.floats(-15, -1),
        COVERED: st.one_of(st.just(0.0), st.floats(-3, -0.1)),
        EXPOSED: st.floats(0, 5),
        OVERHANG: st.floats(0, 40),
        BUTT: st.one_of(st.just(0.0), st.floats(-8, -1)),
    }
)


@st.composite
def parted(draw: st.DrawFn, whole: st.SearchStrategy[Outline]) -> Outline:
    """Outlines whose edges are cut in up to three parts, each with a treatment of its own."""

    def parts(edge: Edge) -> list[Edge]:
        cuts = draw(st.lists(st.floats(0.05, 0.95), max_size=2))
        cuts = [cut for cut, after in pairwise([*sorted(cuts), 2.0]) if after - cut > 0.02]
        return [
            replace(
                edge,
                name=f"{edge.name}{'abc'[n]}",
                curve=edge.curve.between(first, last),
                treatment=draw(st.sampled_from(Treatment)),
            )
            for n, (first, last) in enumerate(pairwise([0.0, *cuts, 1.0]))
        ]

    outline = draw(whole)
    outer, *holes = (
        Ring(tuple(part for edge in ring.edges for part in parts(edge))) for ring in outline.rings
    )
    return Outline(outer, tuple(holes))


@settings(max_examples=80, deadline=None)
@given(outline=parted(outlines()), allowances=reaches)
def test_boards_stay_back_from_edges_and_their_ends(
    outline: Outline, allowances: Mapping[Treatment, float]
) -> None:
    assert_gaps_are_kept(outline, allowances)


@settings(max_examples=80, deadline=None)
@given(outline=parted(outlines(largest_mm=500)), allowances=reaches)
def test_boards_stay_back_where_edges_and_posts_are_smaller_than_the_gap(
    outline: Outline, allowances: Mapping[Treatment, float]
) -> None:
    assert_gaps_are_kept(outline, allowances)


@settings(max_examples=150, deadline=None)
@given(outline=parted(jagged_outlines()), allowances=reaches)
def test_boards_stay_back_from_sharp_points(
    outline: Outline, allowances: Mapping[Treatment, float]
) -> None:
    assert_gaps_are_kept(outline, allowances)


@settings(max_examples=60, deadline=None)
@given(outline=parted(outlines(smallest_mm=1500, curved=False)), gap_mm=st.floats(1, 15))
def test_no_more_is_cut_away_than_the_gap_and_what_lies_near_its_ends(
    outline: Outline, gap_mm: float
) -> None:
    allowances = {**dict.fromkeys(Treatment, 0.0), WALL: -gap_mm}
    walls = [edge.curve for edge in outline.edges if edge.treatment is WALL]
    lines = [shapely.LineString([wall.start, wall.end]) for wall in walls]
    ends = shapely.MultiPoint([end for wall in walls for end in (wall.start, wall.end)])
    field = region_polygon(with_allowances(outline, allowances))
    cut_away = outline_polygon(outline) - field
    # The farthest is the mitre with a covered edge in the bluntest corner that is drawn.
    reach = gap_mm / math.sin(math.atan2(0.02, 0.05))
    near = shapely.union_all([line.buffer(gap_mm) for line in lines]).union(ends.buffer(reach))
    assert cut_away.difference(near.buffer(1e-3)).area < 1e-3


def assert_gaps_are_kept(outline: Outline, allowances: Mapping[Treatment, float]) -> None:
    try:
        region = with_allowances(outline, allowances)
    except ShapeError:
        return
    field = region_polygon(region, tolerance_mm=FLATTENED_MM)
    assert field.is_valid
    for edge in outline.edges:
        line = shapely.LineString(edge.curve.flattened(FLATTENED_MM))
        assert field.distance(line) >= -allowances[edge.treatment] - 1e-3, edge.name


class TestStraightOn:
    #   ________________
    #  |                |
    #  |______          |
    #   E1    |__E2_____|     both along y = 0, corner at x = 50

    @pytest.mark.parametrize("treatment", [COVERED, EXPOSED, OVERHANG, BUTT])
    def test_the_step_stands_a_gap_past_the_end_of_the_wall(self, treatment: Treatment) -> None:
        region = field([(0, 0, WALL), (50, 0, treatment), (100, 0), (100, 90), (0, 90)])
        assert starts(region)[:3] == [
            ("E1", (0, 6)),
            ("E1", (56, 6)),
            ("E2", (56, 0 - REACH[treatment])),
        ]

    def test_a_short_edge_between_takes_the_gap_as_a_whole(self) -> None:
        region = field([(0, 0, WALL), (50, 0), (53, 0, EXPOSED), (100, 0), (100, 90), (0, 90)])
        assert starts(region)[:3] == [("E1", (0, 6)), ("E1", (56, 6)), ("E3", (56, -2))]

    def test_an_arc_ends_in_a_radial_step(self) -> None:
        # The wall runs on smoothly into a quarter circle of radius 30 round (50, 30): along its
        # radius at asin(6/30) the step goes from the wall's gap to the exposed edge's margin.
        quarter = Arc((50, 0), (80, 30), (50, 30), True)
        outline = Outline(
            Ring(
                (
                    Edge("E1", Line((0, 0), (50, 0)), None, WALL),
                    Edge("E2", quarter, None, EXPOSED),
                    Edge("E3", Line((80, 30), (80, 90))),
                    Edge("E4", Line((80, 90), (0, 90))),
                    Edge("E5", Line((0, 90), (0, 0))),
                )
            )
        )
        _, _, step, bow, *_ = with_allowances(outline, REACH).outer
        east, south = 6 / 30, math.sqrt(1 - (6 / 30) ** 2)
        assert step.source == "E1"
        assert step.curve.start == pytest.approx((50 + 24 * east, 30 - 24 * south), abs=1e-6)
        assert step.curve.end == pytest.approx((50 + 32 * east, 30 - 32 * south), abs=1e-6)
        assert isinstance(bow.curve, Arc)
        assert bow.curve.centre == (50, 30)
        assert bow.curve.radius == pytest.approx(32)


class TestRoundAPointOfTheWall:
    #   ____________
    #  |            |
    #  |_E1__       |
    #        |      |     corner of E1 and E2 at (50, 0)
    #      E2|______|

    @pytest.mark.parametrize("treatment", [COVERED, EXPOSED, OVERHANG, BUTT])
    def test_the_gap_goes_round_and_ends_square(self, treatment: Treatment) -> None:
        allowances = {**REACH, WALL: -6.35}
        region = field(
            [(0, 0, WALL), (50, 0, treatment), (50, -80), (100, -80), (100, 90), (0, 90)],
            allowances,
        )
        assert starts(region)[:5] == [
            ("E1", (0, 6.35)),
            ("E1", (56.35, 6.35)),
            ("E1", (56.35, -6.35)),
            ("E2", (50 - REACH[treatment], -6.35)),
            ("E3", (50 - REACH[treatment], -80)),
        ]

    def test_a_sharp_point_is_cut_round_square(self) -> None:
        # E2 goes back under the wall at 45 degrees.
        region = field([(0, 0, WALL), (50, 0), (0, -50), (100, -50), (100, 90), (0, 90)])
        assert starts(region)[:4] == [
            ("E1", (0, 6)),
            ("E1", (56, 6)),
            ("E1", (56, -6)),
            ("E2", (44, -6)),
        ]

    def test_equal_gaps_keep_their_mitre(self) -> None:
        region = field([(0, 0, WALL), (50, 0, WALL), (50, -80), (100, -80), (100, 90), (0, 90)])
        assert starts(region)[:3] == [("E1", (0, 6)), ("E2", (56, 6)), ("E3", (56, -80))]


def test_boards_that_would_cover_a_thin_post_stay_back_from_its_wall() -> None:
    # The post is 20 by 4; its upper face, H2, is a wall, and the nosing all round closes over it.
    starts_and_treatments = [((40, 40), OVERHANG), ((40, 44), WALL), ((60, 44), OVERHANG),
                             ((60, 40), OVERHANG)]  # fmt: skip
    square = ring([((0, 0), COVERED), ((100, 0), COVERED), ((100, 100), COVERED),
                   ((0, 100), COVERED)], "E")  # fmt: skip
    region = with_allowances(Outline(square, (ring(starts_and_treatments, "H"),)), REACH)
    (hole,) = region.holes
    assert {side.source for side in hole} == {"H2"}
    assert region_polygon(Region(region.outer)).area - region.area == pytest.approx(32 * 12)


def ring(edges: list[tuple[Point, Treatment]], prefix: str) -> Ring:
    """Straight edges named in order, given by their starts and treatments."""
    ends = [start for start, _ in (*edges[1:], edges[0])]
    return Ring(
        tuple(
            Edge(f"{prefix}{n}", Line(start, end), None, treatment)
            for n, ((start, treatment), end) in enumerate(zip(edges, ends, strict=True), 1)
        )
    )


def field(
    edges: list[tuple[float, float] | tuple[float, float, Treatment]],
    allowances: Mapping[Treatment, float] = REACH,
) -> Region:
    """The field of straight edges E1, E2, … given by (x, y) or (x, y, treatment); else covered."""
    treated = [((edge[0], edge[1]), edge[2] if len(edge) == 3 else COVERED) for edge in edges]
    return with_allowances(Outline(ring(treated, "E")), allowances)


def starts(region: Region) -> list[tuple[str | None, Point]]:
    def start(side: Side) -> Point:
        x, y = side.curve.start
        return (round(x, 6), round(y, 6))

    return [(side.source, start(side)) for side in region.outer]
