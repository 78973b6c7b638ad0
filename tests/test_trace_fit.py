"""Rings of noisy samples come back as the lines and arcs they were taken from."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shapecut.findings import Level
from shapecut.shape.curves import Arc, Curve, Line
from shapecut.shape.naming import named_outline
from shapecut.trace.doubts import doubts
from shapecut.trace.fit import FittedRing, fit_ring
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


@pytest.mark.parametrize(("seen", "level"), [(1.0, None), (0.6, Level.CHECK), (0.2, Level.SERIOUS)])
def test_an_edge_whose_boundary_is_hardly_seen_is_named(seen, level):
    points = samples(STEP, noise_mm=0.05)
    along = np.linspace(0, 1, 300)  # of the lower edge, sampled first
    keep = np.concatenate([along <= seen, np.ones(len(points) - len(along), bool)])
    ring = fitted(points[keep], 0.05)
    outline = named_outline([(curve, 0.1) for curve in ring.curves], [])
    found = doubts(outline, [(ring, SPACING_MM)])
    if level is None:
        assert found == ()
    else:
        (finding,) = found
        (lower,) = [
            edge for edge in outline.edges if edge.curve.length == pytest.approx(900, abs=1)
        ]
        assert (finding.level, finding.where) == (level, lower.name)
        assert lower.name in finding.what


def test_an_edge_whose_place_is_unsure_is_named():
    ring = fitted(samples(STEP, noise_mm=0.05), 0.05)
    outline = named_outline([(curve, 1.4) for curve in ring.curves[:1]], [])
    (finding,) = doubts(outline, [(ring, SPACING_MM)])
    assert finding.level is Level.CHECK
    assert "2.8 mm" in finding.what
