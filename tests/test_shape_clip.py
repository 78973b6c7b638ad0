"""Clipping regions along straight lines: laws on random outlines, and the awkward cases by hand."""

import math

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.shape.clip import ON_BORDER_MM, clip, strip
from shapecut.shape.curves import Arc, Line
from shapecut.shape.monotone import bounds
from shapecut.shape.outline import Outline
from shapecut.shape.placement import Placement, Point
from shapecut.shape.polygons import region_polygon
from shapecut.shape.region import Loop, Region, Side
from shapecut.shape.validity import ring_loop
from tests.strategies import outlines, placements, turns


def region_of(outline: Outline) -> Region:
    return Region(ring_loop(outline.outer), tuple(ring_loop(hole) for hole in outline.holes))


def polygon(*points: Point) -> Loop:
    """A loop of straight sides named S1, S2, …"""
    ends = [*points[1:], points[0]]
    return tuple(
        Side(Line(a, b), f"S{n}") for n, (a, b) in enumerate(zip(points, ends, strict=True), 1)
    )


def round_hole(x: float, y: float, radius: float) -> Loop:
    left, right = (x - radius, y), (x + radius, y)
    return (
        Side(Arc(right, left, (x, y), False), "H1"),
        Side(Arc(left, right, (x, y), False), "H2"),
    )


def area(parts: tuple[Region, ...]) -> float:
    return sum(part.area for part in parts)


def slack(region: Region) -> float:
    """Area that snapping to the border may move, beside rounding, mm²."""
    return 1e-9 * region.area + ON_BORDER_MM * sum(s.curve.length for s in region.outer)


def assert_closed(region: Region) -> None:
    for loop in region.loops:
        for before, side in zip((*loop[-1:], *loop[:-1]), loop, strict=True):
            assert before.curve.end == side.curve.start
            assert side.curve.length > 0


def rows_across(region: Region, draw: st.DataObject) -> float:
    """A level through the region, often through one of its vertices or nearly so."""
    _, low, _, high = bounds(side.curve for side in region.outer)
    heights = [side.curve.start[1] for loop in region.loops for side in loop]
    near = st.sampled_from(heights).flatmap(
        lambda y: st.sampled_from([y, y + 1e-9, y - 1e-9, y + 1e-6, y - 1e-6, y + 1e-3])
    )
    return draw.draw(st.one_of(near, st.floats(low, high)))


@settings(max_examples=150, deadline=None)
@given(outline=outlines(), turn=turns, data=st.data())
def test_both_sides_of_a_line_add_up(outline: Outline, turn: float, data: st.DataObject) -> None:
    region = region_of(outline)
    turned = region.placed(Placement(turn_rad=turn).inverse())
    level = rows_across(turned, data)
    border = Placement(Placement(turn_rad=turn).to_plane((0.0, level)), turn)
    other_way = Placement(border.origin, turn + math.pi)
    left, right = clip(region, border), clip(region, other_way)
    assert area(left) + area(right) == pytest.approx(region.area, rel=0, abs=slack(region))
    for part in left + right:
        assert_closed(part)
        assert shapely.is_valid(region_polygon(part, tolerance_mm=0.05).buffer(-1e-4))
    for part in left:
        _, low, _, _ = bounds(s.curve.placed(border.inverse()) for s in part.outer)
        assert low >= -1e-9 * 6000


def test_a_level_that_is_a_millionth_off_the_end_of_an_arc():
    """An arc that just reaches the border counts as its neighbour, which ends there, does."""
    corner = (273.8610468177748, 0.0)
    curves = [
        Arc((0.0, 0.0), corner, (136.9305234088874, 539.1639359224943), ccw=True),
        Arc(corner, (300.0, 26.138953182225155), (corner[0] + 1e-13, 26.138953182225155), ccw=True),
        Line((300.0, 26.138953182225155), (300.0, 300.0)),
        Line((300.0, 300.0), (0.0, 300.0)),
        Line((0.0, 300.0), (0.0, 0.0)),
    ]
    region = Region(tuple(Side(curve) for curve in curves))
    for level in (-1e-6, 0.0, 1e-6):
        border = Placement((0.0, level))
        both = clip(region, border) + clip(region, Placement(border.origin, math.pi))
        assert area(both) == pytest.approx(region.area, abs=1e-3)


@settings(max_examples=60, deadline=None)
@given(outline=outlines(), data=st.data())
def test_a_strip_is_what_shapely_cuts_with_a_rectangle(
    outline: Outline, data: st.DataObject
) -> None:
    region = region_of(outline)
    low, high = sorted((rows_across(region, data), rows_across(region, data)))
    left, _, right, _ = bounds(side.curve for side in region.outer)
    tolerance_mm = 0.01
    parts = strip(region, low, high) if high > low else ()
    expected = region_polygon(region, tolerance_mm=tolerance_mm) & shapely.box(
        left - 1, low, right + 1, high
    )
    found = shapely.union_all([region_polygon(p, tolerance_mm=tolerance_mm) for p in parts])
    perimeter = sum(side.curve.length for loop in region.loops for side in loop)
    # A strip that grazes the region may give lines beside areas, which buffering leaves out.
    off_by = shapely.symmetric_difference(found, expected.buffer(0), grid_size=1e-6)
    assert off_by.area <= tolerance_mm * perimeter


@settings(max_examples=60, deadline=None)
@given(outline=outlines(), placement=placements, data=st.data())
def test_clipping_moves_with_the_region(
    outline: Outline, placement: Placement, data: st.DataObject
) -> None:
    region = region_of(outline)
    low, _, high, _ = bounds(side.curve for side in region.outer)
    x = data.draw(st.floats(low, high))
    border = Placement((x, 0.0), math.pi / 2)
    moved = Placement(placement.to_plane(border.origin), placement.turn_rad + border.turn_rad)
    here, there = clip(region, border), clip(region.placed(placement), moved)
    assert area(there) == pytest.approx(area(here), rel=1e-9, abs=slack(region))


@settings(max_examples=60, deadline=None)
@given(outline=outlines(), data=st.data())
def test_arcs_stay_on_the_circles_they_were_cut_from(outline: Outline, data: st.DataObject) -> None:
    region = region_of(outline)
    curves = {edge.name: edge.curve for edge in outline.edges}
    level = rows_across(region, data)
    for part in clip(region, Placement((0.0, level))):
        for side in (side for loop in part.loops for side in loop):
            if not isinstance(side.curve, Arc):
                continue
            assert side.source is not None
            whole = curves[side.source]
            assert isinstance(whole, Arc)
            assert side.curve.ccw == whole.ccw
            assert side.curve.centre == pytest.approx(whole.centre, abs=1e-8)
            for end in (side.curve.start, side.curve.end):
                assert math.dist(end, whole.centre) == pytest.approx(whole.radius, abs=2e-6)


class TestByHand:
    square = polygon((0, 0), (100, 0), (100, 100), (0, 100))

    def test_a_line_that_misses_keeps_all_or_nothing(self) -> None:
        region = Region(self.square)
        assert clip(region, Placement((0, -1))) == (region,)
        assert clip(region, Placement((0, 101))) == ()

    def test_a_line_along_an_edge_keeps_all_and_the_edge_its_name(self) -> None:
        (kept,) = clip(Region(self.square), Placement((0, 0)))
        assert kept.area == 10_000
        assert {side.source for side in kept.outer} == {"S1", "S2", "S3", "S4"}

    @pytest.mark.parametrize("off", [0.0, 1e-9, -1e-9])
    def test_an_edge_within_rounding_of_the_border_keeps_its_name(self, off: float) -> None:
        #   ____        the notch's floor S3 lies on the border
        #  |    |__
        #  |_______|
        step = polygon((0, 0), (100, 0), (100, 40 + off), (60, 40 + off), (60, 100), (0, 100))
        (lower,) = strip(Region(step), 0, 40)
        assert lower.area == pytest.approx(4000)
        assert [s.source for s in lower.outer if s.curve.start[1] == s.curve.end[1] == 40] == [
            "S3",
            None,
        ]

    def test_a_notch_that_touches_the_border_splits(self) -> None:
        #  |\  /|
        #  |_\/_|  tip on the border
        vee = polygon((0, 0), (100, 0), (100, 100), (50, 50), (0, 100))
        parts = clip(Region(vee), Placement((0, 50)))
        assert sorted(part.area for part in parts) == pytest.approx([1250, 1250])

    def test_a_hole_that_touches_the_border_stays_a_hole(self) -> None:
        (kept,) = clip(Region(self.square, (round_hole(50, 50, 10),)), Placement((0, 40)))
        assert len(kept.holes) == 1
        assert kept.area == pytest.approx(6000 - math.pi * 100)

    def test_a_hole_across_the_border_becomes_a_bay(self) -> None:
        (kept,) = clip(Region(self.square, (round_hole(50, 50, 10),)), Placement((0, 50)))
        assert not kept.holes
        assert kept.area == pytest.approx(5000 - math.pi * 50)

    def test_a_hole_with_two_feet_on_the_border_leaves_an_island(self) -> None:
        hole = tuple(reversed_loop(polygon((30, 50), (40, 70), (50, 60), (60, 70), (70, 50),
                                           (75, 90), (25, 90))))  # fmt: skip
        parts = clip(Region(self.square, (hole,)), Placement((0, 50)))
        (whole,) = clip(Region(self.square, (hole,)), Placement((0, 49)))
        assert len(parts) == 2
        assert area(parts) == pytest.approx(whole.area - 100)

    def test_holes_go_with_the_part_they_are_in(self) -> None:
        #  |o |__| o|
        comb = polygon((0, 0), (300, 0), (300, 100), (200, 100), (200, 40), (100, 40), (100, 100),
                       (0, 100))  # fmt: skip
        holes = (round_hole(50, 70, 10), round_hole(250, 70, 20))
        left, right = sorted(
            clip(Region(comb, holes), Placement((0, 45))), key=lambda r: r.outer[0].curve.start
        )
        assert left.area == pytest.approx(5500 - math.pi * 100)
        assert right.area == pytest.approx(5500 - math.pi * 400)

    def test_a_sliver_thinner_than_the_tolerance_is_nothing(self) -> None:
        assert clip(Region(self.square), Placement((0, 100 - 1e-7))) == ()


def reversed_loop(loop: Loop) -> Loop:
    return tuple(Side(side.curve.reversed(), side.source) for side in reversed(loop))
