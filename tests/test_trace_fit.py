"""Rings of noisy samples come back as the lines and arcs they were taken from."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.findings import Level
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.naming import named_outline
from shapecut.shape.validity import check_outline
from shapecut.trace.chain import FittedRing
from shapecut.trace.doubts import doubts
from shapecut.trace.fit import fit_ring
from shapecut.trace.traced import BoundarySamples, Traced
from tests.scenes import random_outline, round_hole, rounded

SPACING_MM = 3.0
CLEAR_MM = 3.0
WOBBLE_MM = 0.3
"""What the tracing allows a hand, as a standard deviation."""


def samples(
    curves: list[Curve], *, noise_mm: float = 0.0, wobble_mm: float = 0.0, seed: int = 1
) -> np.ndarray:
    """Samples clear of the corners, off the curves by white noise and by a slow wobble."""
    rng = np.random.default_rng(seed)
    points = []
    for curve in curves:
        clear = CLEAR_MM / curve.length
        fractions = np.linspace(clear, 1 - clear, max(2, round(curve.length / SPACING_MM)))
        phase, period = rng.uniform(0, math.tau), rng.uniform(80.0, 160.0)
        for fraction in fractions:
            x, y = curve.at(float(fraction))
            dx, dy = curve.direction(float(fraction))
            slow = wobble_mm * math.sin(fraction * curve.length / period * math.tau + phase)
            off = slow + noise_mm * rng.standard_normal()
            points.append((x + dy * off, y - dx * off))
    return np.array(points)


def fitted(points: np.ndarray, noise_mm: float) -> FittedRing:
    return fit_ring(points, np.full(len(points), math.hypot(noise_mm, WOBBLE_MM)))


def kinds(curves) -> list[str]:
    return sorted(type(curve).__name__ for curve in curves)


def worst_corner_mm(found, true) -> float:
    """Greatest distance from a true corner to the nearest found one."""
    corners = np.array([curve.start for curve in found])
    return max(float(np.hypot(*(corners - curve.start).T).min()) for curve in true)


STEP = rounded([(-450, -260), (450, -260), (450, 270), (130, 262), (128, 60), (-452, 55)])


def test_a_stepped_template_without_noise_comes_back_exactly():
    #   ______        ______
    #         |______|            every corner is the meeting of two fitted lines
    found = fitted(samples(STEP), 0.0).curves
    assert kinds(found) == ["Line"] * 6
    assert worst_corner_mm(found, STEP) < 1e-6


def test_edges_join_without_a_gap_and_arcs_end_on_their_circle():
    curves = rounded([(-380, -250), (380, -250), (380, 250), (-380, 250)], {2: 140.0})
    found = fitted(samples(curves, noise_mm=0.1), 0.1).curves
    for curve, following in zip(found, found[1:] + found[:1], strict=True):
        assert curve.end == following.start
        if isinstance(curve, Arc):
            assert math.dist(curve.start, curve.centre) == pytest.approx(
                math.dist(curve.end, curve.centre), abs=1e-9
            )


def test_a_hand_s_wobble_does_not_become_edges():
    found = fitted(samples(STEP, noise_mm=0.1, wobble_mm=0.25), 0.1).curves
    assert kinds(found) == ["Line"] * 6
    assert worst_corner_mm(found, STEP) < 0.4


def test_a_full_circle_is_two_arcs():
    hole = round_hole((120.0, 40.0), 60.0)
    found = fitted(samples(hole, noise_mm=0.1), 0.1).curves
    assert kinds(found) == ["Arc", "Arc"]
    assert all(curve.radius == pytest.approx(60.0, abs=0.1) for curve in found)
    assert all(math.dist(curve.centre, (120.0, 40.0)) < 0.1 for curve in found)
    assert sum(curve.sweep_rad for curve in found) == pytest.approx(-math.tau)


def test_a_shallow_arc_keeps_its_radius():
    """Radius 600 over 60°: an algebraic fit would shrink it; the geometric one does not."""
    end = (600 * math.sin(math.pi / 6), 600 * math.cos(math.pi / 6) - 600)
    bow = Arc(end, (-end[0], end[1]), (0.0, -600.0), True)
    curves = [bow, Line(bow.end, (-300.0, -400.0)), Line((-300.0, -400.0), (300.0, -400.0))]
    curves.append(Line((300.0, -400.0), bow.start))
    found = fitted(samples(curves, noise_mm=0.15), 0.15).curves
    (arc,) = [curve for curve in found if isinstance(curve, Arc)]
    assert kinds(found) == ["Arc", "Line", "Line", "Line"]
    assert arc.radius == pytest.approx(600.0, rel=0.005)


def test_samples_that_go_astray_do_not_bend_an_edge():
    """Eight samples in a row lie 2 mm inside, and are said to be unsure by as much."""
    points = samples(STEP, noise_mm=0.05)
    sigma = np.full(len(points), 0.3)
    points[100:108, 1] += 2.0
    sigma[100:108] = 2.0
    found = fit_ring(points, sigma).curves
    assert kinds(found) == ["Line"] * 6
    assert worst_corner_mm(found, STEP) < 0.1


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000), noise_mm=st.floats(0.02, 0.2))
def test_random_templates_come_back_in_number_kind_and_place(seed, noise_mm):
    for ring in random_outline(seed).rings:
        true = [edge.curve for edge in ring.edges]
        found = fitted(samples(true, noise_mm=noise_mm, seed=seed), noise_mm).curves
        assert kinds(found) == kinds(true)
        if len(true) > 2:
            # Where an arc runs into a line, their joint slides along both.
            sharp = [
                curve
                for before, curve in zip([true[-1], *true], true, strict=False)
                if math.dist(before.direction(1.0), curve.direction(0.0)) > 0.2
            ]
            assert worst_corner_mm(found, sharp) < 0.1 + 3 * noise_mm
        for curve in true:
            if isinstance(curve, Arc):
                arcs = [other for other in found if isinstance(other, Arc)]
                assert (
                    min(math.dist(arc.centre, curve.centre) for arc in arcs) < 1.0 + 20 * noise_mm
                )


def test_names_run_clockwise_from_the_lowest_left_corner():
    #    ___E2___
    #   |        |           curves run counter-clockwise, names clockwise
    #  E1        E3
    #   |___E4___|
    square = rounded([(0, 0), (100, 0), (100, 100), (0, 100)])
    hole = round_hole((50.0, 50.0), 10.0)
    outline = named_outline([(c, 0.1) for c in square], [[(c, 0.1) for c in hole]])
    ends = {edge.name: (edge.curve.start, edge.curve.end) for edge in outline.edges}
    assert ends["E1"] == ((0, 100), (0, 0))
    assert ends["E2"] == ((100, 100), (0, 100))
    assert ends["E3"] == ((100, 0), (100, 100))
    assert ends["E4"] == ((0, 0), (100, 0))
    assert [edge.name for edge in outline.holes[0].edges] == ["E5", "E6"]
    assert outline.outer.signed_area == pytest.approx(10_000)
    assert outline.holes[0].signed_area == pytest.approx(-math.pi * 100)


def traced_along(curves: list[Curve], points: np.ndarray, u_mm: float = 0.1) -> Traced:
    outline = named_outline([(curve, u_mm) for curve in curves], [])
    samples = BoundarySamples(0, 0, points, points, np.full(len(points), 0.05))
    return Traced(outline, (samples,), 0.05)


@pytest.mark.parametrize(("seen", "level"), [(1.0, None), (0.6, Level.CHECK), (0.2, Level.SERIOUS)])
def test_an_edge_whose_boundary_is_hardly_seen_is_named_with_the_place(seen, level):
    points = samples(STEP, noise_mm=0.05)
    along = np.linspace(0, 1, 300)  # of the lower edge, sampled first
    keep = np.concatenate([along <= seen, np.ones(len(points) - len(along), bool)])
    found = doubts(traced_along(STEP, points[keep]))
    if level is None:
        assert found == ()
    else:
        (finding,) = found
        assert (finding.level, finding.where) == (level, "E6")
        assert f"{100 * seen:.0f} % of E6" in finding.what
        assert finding.place_mm == pytest.approx((-450 + 450 * (1 + seen), -260), abs=5)


def test_an_edge_whose_place_is_unsure_is_named():
    found = doubts(traced_along(STEP, samples(STEP, noise_mm=0.05), u_mm=1.4))
    assert {finding.level for finding in found} == {Level.CHECK}
    assert "2.8 mm" in found[0].what


def test_a_curve_is_said_to_be_one():
    points = densely(WAVY)
    ring = fit_ring(points, np.full(len(points), 0.31))
    (note,) = doubts(traced_along(list(ring.curves), points))
    assert note.level is Level.NOTE
    assert "is a smooth curve" in note.what


def worn(radius_mm: float, depth_mm: float = 0.0) -> np.ndarray:
    """Samples round a rectangle whose corner at the origin is rounded, or torn deeper still."""
    points = samples(rounded([(0, 0), (600, 0), (600, 400), (0, 400)]), noise_mm=0.03)
    near = np.minimum(*points.T) < 1.0
    for axis in (0, 1):
        deep = np.clip(radius_mm - points[:, axis], 0.0, radius_mm)
        moved = radius_mm - np.sqrt(radius_mm**2 - deep**2)
        points[near & (points[:, 1 - axis] < 1.0), 1 - axis] += moved[
            near & (points[:, 1 - axis] < 1.0)
        ]
    ragged = near & (points.sum(axis=1) < 40) & (points[:, 1] < 10)
    points[ragged, 1] += depth_mm * (np.arange(ragged.sum()) % 2)
    return points


SHARP = rounded([(0, 0), (600, 0), (600, 400), (0, 400)])


def test_a_corner_that_is_rounded_is_said_to_be_so_with_its_radius():
    (note,) = doubts(traced_along(SHARP, worn(8.0)))
    assert (note.level, note.where) == (Level.NOTE, "E1/E4")
    assert "radius of about 8 mm" in note.what
    assert note.place_mm == (0.0, 0.0)


def test_a_corner_that_is_torn_is_to_be_looked_at():
    (finding,) = doubts(traced_along(SHARP, worn(12.0, depth_mm=6.0)))
    assert (finding.level, finding.where) == (Level.CHECK, "E1/E4")
    assert "torn" in finding.what


def test_sharp_corners_pass_without_a_word():
    assert doubts(traced_along(STEP, samples(STEP, noise_mm=0.05, wobble_mm=0.25))) == ()


def test_a_short_edge_across_a_corner_is_named_with_what_would_settle_it():
    cut = rounded([(0, 0), (590, 0), (600, 12), (600, 400), (0, 400)])
    (finding,) = doubts(traced_along(cut, samples(cut)))
    assert (finding.level, finding.where) == (Level.CHECK, "E4")
    assert 'shadow = "E4"' in finding.todo


def test_a_rounded_rectangle_s_arcs_are_tangent_and_in_their_places():
    curves = rounded([(0, 0), (600, 0), (600, 400), (0, 400)], dict.fromkeys(range(4), 60.0))
    found = fitted(samples(curves, noise_mm=0.1, wobble_mm=0.1), 0.1).curves
    assert kinds(found) == kinds(curves)
    for before, after in zip(found, found[1:] + found[:1], strict=True):
        assert math.dist(before.direction(1.0), after.direction(0.0)) < 1e-3
    assert worst_corner_mm(found, curves) < 1.5


def test_a_corner_between_a_line_and_an_arc_stays_one():
    bow = Arc((300.0, 0.0), (-300.0, 0.0), (0.0, -400.0), True)
    curves = [bow, Line((-300.0, 0.0), (-300.0, -300.0)), Line((-300.0, -300.0), (300.0, -300.0))]
    curves.append(Line((300.0, -300.0), (300.0, 0.0)))
    found = fitted(samples(curves, noise_mm=0.1), 0.1).curves
    assert kinds(found) == kinds(curves)
    assert worst_corner_mm(found, curves) < 0.3


def densely(corners: np.ndarray, spacing_mm: float = 2.0, noise_mm: float = 0.08) -> np.ndarray:
    """Noisy samples evenly along a closed polygon of many short sides."""
    closed = np.vstack([corners, corners[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.arange(0.0, along[-1], spacing_mm)
    even = np.column_stack([np.interp(at, along, closed[:, k]) for k in (0, 1)])
    ways = np.roll(even, -1, axis=0) - np.roll(even, 1, axis=0)
    normals = np.column_stack([ways[:, 1], -ways[:, 0]]) / np.hypot(*ways.T)[:, None]
    noise = np.random.default_rng(3).normal(0.0, noise_mm, len(even))
    return np.asarray(even + normals * noise[:, None])


def farthest_mm(curves: tuple[Curve, ...], polygon: np.ndarray) -> float:
    places = [curve.at(float(f)) for curve in curves for f in np.linspace(0, 1, 20)]
    ring = shapely.LinearRing(polygon)
    return float(shapely.distance(shapely.points(places), ring).max())


X = np.linspace(400.0, -400.0, 3000)
WAVY = np.vstack(
    [
        np.column_stack([X, 200.0 + 30.0 * np.sin(X / 90.0) + 15.0 * np.sin(X / 37.0 + 1.0)]),
        [(-400.0, -200.0), (400.0, -200.0)],
    ]
)
#    __  /\__
#   |  \/    |      three straight sides and one of no line or arc
#   |________|


def test_a_freeform_side_is_one_curve_of_arcs_that_run_into_each_other():
    found = fit_ring(densely(WAVY), np.full(len(densely(WAVY)), 0.31)).curves
    outline = named_outline([(curve, 0.1) for curve in found], [])
    assert list(dict.fromkeys(edge.whole for edge in outline.edges)) == ["E1", "E2", "E3", "E4"]
    (curve,) = {edge.whole for edge in outline.edges if edge.whole != edge.name}
    parts = [edge.curve for edge in outline.outer.edges if edge.whole == curve]
    for before, after in pairwise(parts):
        assert before.end == after.start
        assert math.dist(before.direction(1.0), after.direction(0.0)) < 1e-2
    assert farthest_mm(found, WAVY) < 0.35
    check_outline(outline)


def test_an_ellipse_is_one_curve_all_round():
    angles = np.linspace(0, math.tau, 4000, endpoint=False)
    ellipse = np.column_stack([400 * np.cos(angles), 200 * np.sin(angles)])
    points = densely(ellipse)
    found = fit_ring(points, np.full(len(points), 0.31)).curves
    outline = named_outline([(curve, 0.1) for curve in found], [])
    assert {edge.whole for edge in outline.edges} == {"E1"}
    assert outline.edges[0].name == "E1.1"
    assert outline.area == pytest.approx(math.pi * 400 * 200, rel=5e-4)
    assert farthest_mm(found, ellipse) < 0.3
    check_outline(outline)


@settings(max_examples=20, deadline=None)
@given(radius=st.floats(70.0, 120.0), turn_deg=st.floats(75.0, 110.0), seed=st.integers(0, 10_000))
def test_a_rounded_corner_that_is_seen_poorly_stays_an_arc(radius, turn_deg, seed):
    corner = math.radians(180.0 - turn_deg)
    far = (700.0 * math.cos(corner), 700.0 * math.sin(corner))
    true = rounded([(0.0, 0.0), (700.0, 0.0), (700.0 + far[0], far[1]), far], {0: radius})
    points = samples(true, noise_mm=0.6, seed=seed)
    near_arc = np.hypot(*points.T) < 2.5 * radius
    sigma = np.where(near_arc, 1.0, 0.3)
    points += np.where(near_arc, 0.8, 0.0)[:, None] * np.random.default_rng(seed).standard_normal(
        points.shape
    )
    found = fit_ring(points, sigma)
    assert kinds(found.curves) == kinds(true)


@pytest.mark.parametrize("cut_mm", [40.0, 80.0])
def test_a_corner_cut_off_straight_stays_straight(cut_mm):
    square = [(0.0, cut_mm), (cut_mm, 0.0), (600.0, 0.0), (600.0, 500.0), (0.0, 500.0)]
    true = rounded(square)
    found = fitted(samples(true, noise_mm=0.3, wobble_mm=0.2), 0.3)
    assert kinds(found.curves) == ["Line"] * 5
