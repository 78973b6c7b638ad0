"""Allowances: equal ones against shapely's mitred buffer, corners of others worked out by hand."""

import math
from collections.abc import Mapping

import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.errors import ShapeError
from shapecut.shape.allowance import with_allowances
from shapecut.shape.curves import Arc, Line
from shapecut.shape.outline import Edge, Outline, Ring, Treatment
from shapecut.shape.placement import Placement, Point
from shapecut.shape.polygons import outline_polygon, region_polygon
from shapecut.shape.region import Region, Side
from tests.strategies import jagged_outlines, outlines

ALLOWANCES = {
    Treatment.WALL: -6.0,
    Treatment.COVERED: 0.0,
    Treatment.EXPOSED: 2.0,
    Treatment.OVERHANG: 25.0,
    Treatment.BUTT: -5.0,
}
WALL, COVERED, EXPOSED = Treatment.WALL, Treatment.COVERED, Treatment.EXPOSED


def same(allowance_mm: float) -> Mapping[Treatment, float]:
    return dict.fromkeys(Treatment, allowance_mm)


def ring(*edges: tuple[Point, Treatment], prefix: str = "E") -> Ring:
    """Straight edges E1, E2, … given by their starts and treatments."""
    starts = [start for start, _ in edges]
    ends = [*starts[1:], starts[0]]
    return Ring(
        tuple(
            Edge(f"{prefix}{n}", Line(start, end), None, treatment)
            for n, ((start, treatment), end) in enumerate(zip(edges, ends, strict=True), 1)
        )
    )


def corners(region: Region) -> list[tuple[str | None, Point]]:
    return [
        (side.source, tuple(round(value, 6) for value in side.curve.start)) for side in region.outer
    ]


@settings(max_examples=150, deadline=None)
@given(
    outline=outlines(curved=False),
    allowance_mm=st.one_of(st.floats(0.01, 60), st.floats(-60, -0.01), st.floats(-400, -60)),
)
def test_equal_allowances_on_straight_edges_are_a_mitred_buffer(
    outline: Outline, allowance_mm: float
) -> None:
    assert_mitred_buffer(outline, allowance_mm)


@settings(max_examples=150, deadline=None)
@given(
    outline=jagged_outlines(), allowance_mm=st.one_of(st.floats(0.01, 40), st.floats(-40, -0.01))
)
def test_small_edges_between_sharp_corners_are_eaten_in_the_right_order(
    outline: Outline, allowance_mm: float
) -> None:
    assert_mitred_buffer(outline, allowance_mm)


def assert_mitred_buffer(outline: Outline, allowance_mm: float) -> None:
    polygon = outline_polygon(outline)
    expected = polygon.buffer(allowance_mm, join_style="mitre", mitre_limit=1e3)
    try:
        found = region_polygon(with_allowances(outline, same(allowance_mm)))
    except ShapeError:
        assert expected.is_empty or expected.geom_type == "MultiPolygon"
        return
    assert found.is_valid
    assert expected.geom_type == "Polygon"
    # Without a grid GEOS finds all of both where they differ in the last digit.
    off_by = shapely.symmetric_difference(found, expected, grid_size=1e-6)
    assert off_by.area <= 1e-6 * polygon.area


def test_edges_that_differ_from_the_buffer_in_the_last_digit() -> None:
    """From here GEOS finds that our shape and its own have nothing in common; they are alike."""
    starts = [
        (239.25680547587643, 125.05721494596432), (30.242958558021748, 234.07703910028175),
        (-122.12346327042987, 211.2388688637486), (-173.5929696201016, 15.330660008455622),
        (-86.04152215480825, -122.86926574731226), (61.56876091403745, -269.7503667018084),
        (418.40548829576693, -272.8316282324702),
    ]  # fmt: skip
    outline = Outline(ring(*((start, WALL) for start in starts)))
    assert_mitred_buffer(outline, -1.0)


@settings(max_examples=80, deadline=None)
@given(outline=outlines(), allowance_mm=st.one_of(st.floats(-10, -0.01), st.floats(0.01, 10)))
def test_equal_allowances_are_a_buffer_away_from_corners(
    outline: Outline, allowance_mm: float
) -> None:
    # At a corner our arcs go on round their centre where shapely takes the last chord's tangent.
    tolerance_mm = 0.002
    polygon = outline_polygon(outline, tolerance_mm=tolerance_mm)
    expected = polygon.buffer(allowance_mm, join_style="mitre", mitre_limit=5)
    found = region_polygon(with_allowances(outline, same(allowance_mm)), tolerance_mm=tolerance_mm)
    assert found.is_valid
    corners = shapely.MultiPoint([edge.curve.start for edge in outline.edges])
    off_by = shapely.symmetric_difference(found, expected, grid_size=1e-6) - corners.buffer(
        5 * abs(allowance_mm)
    )
    perimeter = sum(edge.curve.length for edge in outline.edges)
    assert off_by.area <= tolerance_mm * perimeter


@settings(max_examples=60, deadline=None)
@given(outline=outlines(smallest_mm=800))
def test_no_allowance_is_the_outline_itself(outline: Outline) -> None:
    region = with_allowances(outline, same(0.0))
    assert region.area == pytest.approx(outline.area, rel=1e-9)
    assert [side.source for loop in region.loops for side in loop] == [
        edge.name for edge in outline.edges
    ]


@settings(max_examples=60, deadline=None)
@given(outline=outlines(smallest_mm=2000))
def test_arcs_keep_their_centres_and_change_their_radii_by_the_allowance(outline: Outline) -> None:
    edges, near = {edge.name: edge for edge in outline.edges}, neighbours(outline)
    region = with_allowances(outline, ALLOWANCES)
    for side in (side for loop in region.loops for side in loop if isinstance(side.curve, Arc)):
        assert isinstance(side.curve, Arc)
        edge = edges[side.source or ""]
        by = ALLOWANCES[edge.treatment]
        # Treatments are carried on round the corner where boards stay back.
        candidates = (edge, *near[edge.name]) if by < 0 else (edge,)
        radius, ccw = next(
            (one.curve.radius, one.curve.ccw)
            for one in candidates
            if isinstance(one.curve, Arc) and one.curve.centre == side.curve.centre
        )
        assert side.curve.radius == pytest.approx(radius + (by if ccw else -by), abs=1e-6)


@settings(max_examples=60, deadline=None)
@given(outline=outlines(smallest_mm=2000, curved=False))
def test_lines_keep_the_allowance_from_their_edges(outline: Outline) -> None:
    edges, near = {edge.name: edge for edge in outline.edges}, neighbours(outline)
    region = with_allowances(outline, ALLOWANCES)
    for side in (side for loop in region.loops for side in loop):
        edge = edges[side.source or ""]
        by = ALLOWANCES[edge.treatment]
        if by >= 0:
            assert across(edge, side) == pytest.approx((by, by), abs=1e-6)
        else:
            # The gap's own line; the gap carried on along a neighbour, or past the end along the
            # edge's far hand; or the square end of either, a gap away from the corner.
            past = [(across(edge, side), (by, -by)), (along(edge, side), (by, length(edge) - by))]
            for one in near[edge.name]:
                past += [(across(one, side), (by,)), (along(one, side), (-by, length(one) + by))]
            places = ((pair, place) for pair, allowed in past for place in allowed)
            assert any(pair == pytest.approx((place, place), abs=1e-6) for pair, place in places)


def neighbours(outline: Outline) -> dict[str, tuple[Edge, Edge]]:
    return {
        here.name: (before, after)
        for ring in outline.rings
        for before, here, after in zip(
            (ring.edges[-1], *ring.edges[:-1]),
            ring.edges,
            (*ring.edges[1:], ring.edges[0]),
            strict=True,
        )
    }


def length(edge: Edge) -> float:
    return edge.curve.length


def across(edge: Edge, side: Side) -> tuple[float, float]:
    """How far the two ends of a side lie outside the line of an edge, mm."""
    (dx, dy), (x0, y0) = edge.curve.direction(), edge.curve.start
    ends = (side.curve.start, side.curve.end)
    first, last = (dy * (x - x0) - dx * (y - y0) for x, y in ends)
    return first, last


def along(edge: Edge, side: Side) -> tuple[float, float]:
    """How far along the line of an edge from its start the two ends of a side lie, mm."""
    (dx, dy), (x0, y0) = edge.curve.direction(), edge.curve.start
    ends = (side.curve.start, side.curve.end)
    first, last = (dx * (x - x0) + dy * (y - y0) for x, y in ends)
    return first, last


class TestCorners:
    def test_neighbours_with_different_allowances_meet_on_both_moved_lines(self) -> None:
        outline = Outline(
            ring(
                ((0, 0), WALL),
                ((100, 0), COVERED),
                ((100, 100), EXPOSED),
                ((0, 100), Treatment.OVERHANG),
            )
        )
        assert corners(with_allowances(outline, ALLOWANCES)) == [
            ("E1", (-25, 6)),
            ("E2", (100, 6)),
            ("E3", (100, 102)),
            ("E4", (-25, 102)),
        ]

    def test_a_sloping_corner(self) -> None:
        # E1 runs along y = 0, E2 back up at 45 degrees: moved by -6 and 0 they meet at x = 94.
        outline = Outline(ring(((0, 0), WALL), ((100, 0), COVERED), ((0, 100), COVERED)))
        assert corners(with_allowances(outline, ALLOWANCES))[1] == ("E2", (94, 6))

    def test_neighbours_that_go_straight_on_get_a_square_step_a_gap_past_the_wall(self) -> None:
        #   E5______
        #    |      |
        #    |__    |     E1 wall to x = 50, E2 covered, both along y = 0
        #       |___|
        outline = Outline(
            ring(
                ((0, 0), WALL),
                ((50, 0), COVERED),
                ((100, 0), COVERED),
                ((100, 90), COVERED),
                ((0, 90), COVERED),
            )
        )
        assert corners(with_allowances(outline, ALLOWANCES))[:3] == [
            ("E1", (0, 6)),
            ("E1", (56, 6)),
            ("E2", (56, 0)),
        ]

    def test_a_line_meets_an_arc(self) -> None:
        # A half disc of radius 50, its base moved in by 6 and its arc out by 2.
        half = Outline(
            Ring(
                (
                    Edge("base", Line((-50, 0), (50, 0)), None, WALL),
                    Edge("bow", Arc((50, 0), (-50, 0), (0, 0), True), None, EXPOSED),
                )
            )
        )
        reach = math.sqrt(52**2 - 6**2)
        (_, left), (_, right) = corners(with_allowances(half, ALLOWANCES))
        assert left == pytest.approx((-reach, 6), abs=1e-6)
        assert right == pytest.approx((reach, 6), abs=1e-6)

    def test_an_arc_meets_an_arc(self) -> None:
        # Two arcs of radius 50 round (-30, 0) and (30, 0) form a lens with tips at (0, ±40); one
        # moved out by 2: x² terms cancel to 120 x = 52² - 50² at their meeting.
        lens = Outline(
            Ring(
                (
                    Edge("right", Arc((0, -40), (0, 40), (-30, 0), True), None, EXPOSED),
                    Edge("left", Arc((0, 40), (0, -40), (30, 0), True), None, COVERED),
                )
            )
        )
        x = (52**2 - 50**2) / 120
        y = math.sqrt(50**2 - (30 - x) ** 2)
        (_, low), (_, high) = corners(with_allowances(lens, ALLOWANCES))
        assert low == pytest.approx((x, -y), abs=1e-6)
        assert high == pytest.approx((x, y), abs=1e-6)

    def test_a_rounded_corner_joins_smoothly(self) -> None:
        rounded = rounded_square(10.0)
        region = with_allowances(rounded, same(-4.0))
        assert region.area == pytest.approx(92**2 - (4 - math.pi) / 4 * 6**2)
        assert [side.source for side in region.outer] == ["E1", "E2", "E3", "E4", "E5"]


class TestEatenEdges:
    def test_a_small_rounding_vanishes(self) -> None:
        region = with_allowances(rounded_square(10.0), same(-12.0))
        assert corners(region) == [
            ("E1", (12, 12)),
            ("E3", (88, 12)),
            ("E4", (88, 88)),
            ("E5", (12, 88)),
        ]

    def test_a_rounding_of_just_the_allowance_vanishes(self) -> None:
        region = with_allowances(rounded_square(10.0), same(-10.0))
        assert region.area == pytest.approx(80**2)

    def test_a_narrow_slot_closes(self) -> None:
        slot = Outline(
            ring(*(
                (point, EXPOSED)
                for point in [(0, 0), (100, 0), (100, 100), (51, 100), (51, 50), (49, 50),
                              (49, 100), (0, 100)]
            ))
        )  # fmt: skip
        region = with_allowances(slot, ALLOWANCES)
        assert region.area == pytest.approx(104**2)

    def test_a_hole_closes(self) -> None:
        hole = ring(*((p, EXPOSED) for p in [(50, 50), (50, 53), (53, 53), (53, 50)]), prefix="H")
        square = ring(*((p, COVERED) for p in [(0, 0), (100, 0), (100, 100), (0, 100)]))
        assert with_allowances(Outline(square, (hole,)), ALLOWANCES).holes == ()

    def test_a_hole_near_a_wall_opens_into_a_bay(self) -> None:
        hole = ring(*((p, WALL) for p in [(90, 40), (90, 60), (98, 60), (98, 40)]), prefix="H")
        square = ring(*((p, COVERED) for p in [(0, 0), (100, 0), (100, 100), (0, 100)]))
        region = with_allowances(Outline(square, (hole,)), ALLOWANCES)
        assert region.holes == ()
        assert region.area == pytest.approx(100**2 - 16 * 32)

    def test_opposite_sides_that_become_neighbours_do_not_meet_at_infinity(self) -> None:
        # Both legs beside the notches are narrower than two allowances; what is left is bounded by
        # the two notches' floors.  The turn makes opposite sides parallel only within rounding.
        turn = Placement(turn_rad=0.3)
        points = [(0, 0), (109, 0), (109, 59), (208, 59), (208, 0), (300, 0), (300, 300),
                  (189, 300), (189, 242), (91, 242), (91, 300), (0, 300)]  # fmt: skip
        outline = Outline(ring(*((turn.to_plane(point), WALL) for point in points)))
        region = with_allowances(outline, same(-60.0))
        assert region.area == pytest.approx((300 - 120) * (242 - 59 - 120))
        assert {side.source for side in region.outer} == {"E3", "E6", "E9", "E12"}

    def test_nothing_left_is_an_error(self) -> None:
        with pytest.raises(ShapeError, match=r"Nothing is left .* E1, E2, .* by 60\.0 mm \(wall\)"):
            with_allowances(
                Outline(ring(*((p, WALL) for p in [(0, 0), (100, 0), (100, 100), (0, 100)]))),
                same(-60),
            )

    def test_two_parts_are_an_error_that_names_the_edges_between(self) -> None:
        #   _    _
        #  | |__| |
        #  |  __  |   the bridge between is 10 mm high
        #  |_|  |_|
        points = [(0, 0), (40, 0), (40, 45), (60, 45), (60, 0), (100, 0), (100, 100), (60, 100),
                  (60, 55), (40, 55), (40, 100), (0, 100)]  # fmt: skip
        bridge = Outline(ring(*((p, WALL if p[1] in (45, 55) else COVERED) for p in points)))
        with pytest.raises(ShapeError, match=r"2 parts, since boards stay back from .*E3"):
            with_allowances(bridge, ALLOWANCES)


def rounded_square(radius: float) -> Outline:
    """100 mm square, its lower right corner E2 rounded."""
    far = 100 - radius
    return Outline(
        Ring(
            (
                Edge("E1", Line((0, 0), (far, 0))),
                Edge("E2", Arc((far, 0), (100, radius), (far, radius), True)),
                Edge("E3", Line((100, radius), (100, 100))),
                Edge("E4", Line((100, 100), (0, 100))),
                Edge("E5", Line((0, 100), (0, 0))),
            )
        )
    )


@pytest.mark.parametrize("arc_first", [True, False])
@pytest.mark.parametrize("allowance_mm", [0.0, -0.01, -1.0, 1.0, 6.0])
@pytest.mark.parametrize("half_gap_rad", [0.01, 0.5, math.pi / 2, 2.5])
def test_disc_closed_by_one_chord(
    half_gap_rad: float, allowance_mm: float, arc_first: bool
) -> None:
    """From a near-full circle to a flat cap; the first edge of the ring is the drawer's choice."""
    x, y = 200 * math.cos(half_gap_rad), 200 * math.sin(half_gap_rad)
    arc = Edge("A", Arc((x, y), (x, -y), (0.0, 0.0), True))
    chord = Edge("L", Line((x, -y), (x, y)))
    outline = Outline(Ring((arc, chord) if arc_first else (chord, arc)))
    field = with_allowances(outline, same(allowance_mm))
    radius, reach = 200 + allowance_mm, x + allowance_mm
    expected = radius**2 * (math.pi - math.acos(reach / radius)) + reach * math.sqrt(
        radius**2 - reach**2
    )
    assert sum(side.curve.area_term() for side in field.outer) == pytest.approx(expected)
    assert not field.holes


def test_outline_too_thin_to_be_boarded_does_not_blame_allowances() -> None:
    thin = 1e-5
    corners_mm = [(0.0, 0.0), (100.0, 0.0), (100.0, thin), (0.0, thin)]
    outline = Outline(ring(*((corner, COVERED) for corner in corners_mm)))
    with pytest.raises(ShapeError, match="E1 encloses next to nothing"):
        with_allowances(outline, same(0.0))
