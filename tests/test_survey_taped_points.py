"""Taped points: recovered from noisy tapes to within what is stated, seen from above."""

import math
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from shapecut.errors import SurveyError
from shapecut.survey.start import rigid_fit
from shapecut.survey.taped_points import adjusted_points
from shapecut.survey.tapes import Tape
from tests.scenes import look_at, phone_camera

#    D . . . . C
#    .         .      a little out of square
#    A . . . . . B
SQUARE = {"A": (0.0, 0.0), "B": (1100.0, 20.0), "C": (1060.0, 720.0), "D": (-30.0, 690.0)}


def pictured(points, *, tilt_deg=35.0, roll_rad=0.0):
    """The points as a tilted camera shows them, pixels."""
    middle = np.mean(list(points.values()), axis=0)
    tilt = math.radians(tilt_deg)
    place = (middle[0], middle[1] - 2600 * math.sin(tilt), 2600 * math.cos(tilt))
    view = look_at(phone_camera(), place, (middle[0], middle[1], 0.0), roll_rad=roll_rad)
    px = view.px_from_mm(np.array(list(points.values())))
    return dict(zip(points, map(tuple, px), strict=True))


def taped(points, *, rng=None, u_mm=1.0):
    """Every point taped to every other."""
    noise = (lambda: 0.0) if rng is None else (lambda: float(rng.normal(0, u_mm)))
    return [
        Tape(a, b, math.dist(points[a], points[b]) + noise(), u_mm)
        for a, b in combinations(points, 2)
    ]


def off_mm(found, points):
    """(N, 2) how far the places are from the true ones, shift and turn aside."""
    truth = np.array(list(points.values()))
    placement, _ = rigid_fit(found.places, truth)
    return placement.points_to_plane(found.places) - truth


@st.composite
def point_sets(draw):
    """Four to seven points, no two near each other, not all in one row: each near a node of its own
    of a grid."""
    node = st.tuples(st.sampled_from([-780, -260, 260, 780]), st.sampled_from([-570, 0, 570]))
    nodes = draw(st.lists(node, min_size=4, max_size=7, unique=True))
    aside = st.floats(-150, 150)
    points = [(x + draw(aside), y + draw(aside)) for x, y in nodes]
    assert min(math.dist(a, b) for a, b in combinations(points, 2)) > 200
    spread = np.linalg.svd(np.array(points) - np.mean(points, axis=0), compute_uv=False)
    assume(spread[1] > 0.25 * spread[0])
    return dict(zip("ABCDEFG", points, strict=False))


@settings(max_examples=60, deadline=None)
@given(points=point_sets(), tilt_deg=st.floats(0, 50), roll_rad=st.floats(-3, 3))
def test_exact_tapes_give_the_points_back_and_not_their_mirror_image(points, tilt_deg, roll_rad):
    found = adjusted_points(taped(points), pictured(points, tilt_deg=tilt_deg, roll_rad=roll_rad))
    assert np.abs(off_mm(found, points)).max() < 1e-3
    assert found.chi2 < 1e-6


@settings(max_examples=60, deadline=None)
@given(points=point_sets(), seed=st.integers(0, 10_000))
def test_noisy_tapes_give_the_points_within_their_uncertainty(points, seed):
    found = adjusted_points(taped(points, rng=np.random.default_rng(seed)), pictured(points))
    off = off_mm(found, points).ravel()
    # The whole shape's errors against their joint covariance: chi-square of 2 N - 3 degrees; ten
    # standard deviations, since hypothesis looks for the worst noise.
    count = 2 * len(points) - 3
    chi2 = off @ np.linalg.pinv(found.covariance, rcond=1e-6, hermitian=True) @ off
    assert chi2 < count + 10 * math.sqrt(2 * count)


def test_stated_uncertainties_are_those_of_repeated_taping():
    rng = np.random.default_rng(3)
    found = [adjusted_points(taped(SQUARE, rng=rng), pictured(SQUARE)) for _ in range(400)]
    scatter = np.sqrt(np.mean([off_mm(one, SQUARE) ** 2 for one in found], axis=(0, 2)))
    assert scatter == pytest.approx(found[0].u_mm, rel=0.15)
    assert np.mean([one.chi2 for one in found]) == pytest.approx(found[0].freedom, abs=0.2)


def test_controls_add_up_to_the_freedom():
    found = adjusted_points(taped(SQUARE), pictured(SQUARE))
    assert found.freedom == 1
    assert found.control.sum() == pytest.approx(1.0)
    distance, u_mm = found.distance_mm("A", "C")
    assert distance == pytest.approx(math.dist(SQUARE["A"], SQUARE["C"]))
    assert 0.5 < u_mm < 1.0  # the tape's own 1 mm, bettered by the other five


def test_five_tapes_hold_four_points_without_any_to_spare():
    tapes = [tape for tape in taped(SQUARE) if (tape.start, tape.end) != ("B", "D")]
    found = adjusted_points(tapes, pictured(SQUARE))
    assert found.freedom == 0
    assert np.abs(off_mm(found, SQUARE)).max() < 1e-3


def test_tapes_that_leave_a_point_free_are_refused():
    tapes = [tape for tape in taped(SQUARE) if "D" not in (tape.start, tape.end)]
    with pytest.raises(
        SurveyError, match=r"do not hold the points A, B, C, D in place, D the leas"
    ):
        adjusted_points(tapes, pictured(SQUARE))
    with pytest.raises(SurveyError, match="do not hold the points"):
        adjusted_points(taped(SQUARE)[:4], pictured(SQUARE))


def test_a_tape_to_a_point_nobody_pointed_at_is_refused():
    with pytest.raises(SurveyError, match="The tape from A to Q names a point Q"):
        adjusted_points([*taped(SQUARE), Tape("A", "Q", 500.0, 1.0)], pictured(SQUARE))
