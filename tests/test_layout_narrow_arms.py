"""Arms of a piece: found where the piece is thin over a stretch, not at its corners.

+-----+
|     |                the arm beside a notch: 9 mm high from x = 600 to 800
|     +----------+
+----------------+
"""

import pytest

from shapecut.layout.narrow_arms import narrow_arms
from shapecut.shape.curves import Line
from shapecut.shape.region import Region, Side


def polygon(*corners):
    pairs = zip(corners, corners[1:] + corners[:1], strict=True)
    return Region(tuple(Side(Line(*pair)) for pair in pairs))


def test_an_arm_beside_a_notch_is_found_with_its_measures():
    piece = polygon(
        (0.0, 0.0), (800.0, 0.0), (800.0, 9.0), (600.0, 9.0), (600.0, 140.0), (0.0, 140.0)
    )
    (arm,) = narrow_arms(piece, 40.0)
    assert (arm.start_mm, arm.end_mm) == pytest.approx((600.0, 800.0), abs=0.1)
    assert (arm.narrowest_mm, arm.mean_mm) == pytest.approx((9.0, 9.0))


def test_two_arms_of_a_fork_are_two():
    piece = polygon(
        (0.0, 0.0), (900.0, 0.0), (900.0, 30.0), (600.0, 30.0),
        (600.0, 120.0), (900.0, 120.0), (900.0, 140.0), (0.0, 140.0),
    )  # fmt: skip
    assert sorted(arm.mean_mm for arm in narrow_arms(piece, 40.0)) == pytest.approx([20.0, 30.0])


@pytest.mark.parametrize("slant_mm", [0.0, 50.0, 140.0, 200.0])
def test_square_and_slanted_ends_have_no_arm(slant_mm):
    piece = polygon((0.0, 0.0), (800.0 + slant_mm, 0.0), (800.0, 140.0), (0.0, 140.0))
    assert narrow_arms(piece, 40.0) == ()


def test_an_end_that_runs_out_thin_is_an_arm():
    piece = polygon((0.0, 0.0), (1600.0, 0.0), (800.0, 140.0), (0.0, 140.0))
    (arm,) = narrow_arms(piece, 40.0)
    # The slant is 140 in 800: below 40 mm over the last 40 x 800 / 140 = 228.6 mm.
    assert arm.start_mm == pytest.approx(1600 - 228.6, abs=0.1)
    assert arm.mean_mm == pytest.approx(20.0)


def test_a_bite_that_leaves_a_neck_is_found_however_short():
    piece = polygon(
        (0.0, 0.0), (800.0, 0.0), (800.0, 140.0), (420.0, 140.0), (400.0, 20.0), (380.0, 140.0),
        (0.0, 140.0),
    )  # fmt: skip
    (arm,) = narrow_arms(piece, 40.0)
    assert arm.is_neck
    assert arm.narrowest_mm == pytest.approx(20.0)
    # The bite is 20 wide in 120 to each side: below 40 mm over 2 x 20 x 20 / 120 = 6.7 mm.
    assert arm.end_mm - arm.start_mm == pytest.approx(20 / 3)


def test_the_strip_beside_a_hole_is_a_neck():
    outer = polygon((0.0, 0.0), (800.0, 0.0), (800.0, 140.0), (0.0, 140.0)).outer
    hole = polygon((300.0, 5.0), (300.0, 95.0), (390.0, 95.0), (390.0, 5.0)).outer
    (arm,) = narrow_arms(Region(outer, (hole,)), 40.0)
    assert arm.is_neck
    assert (arm.start_mm, arm.end_mm) == pytest.approx((300.0, 390.0))
    assert (arm.narrowest_mm, arm.mean_mm) == pytest.approx((5.0, 5.0))


def test_an_arm_is_no_neck():
    piece = polygon((0.0, 0.0), (1600.0, 0.0), (800.0, 140.0), (0.0, 140.0))
    (arm,) = narrow_arms(piece, 40.0)
    assert not arm.is_neck


def test_what_is_narrow_at_one_place_only_is_no_arm():
    """A bite whose point leaves just the smallest rip: the width touches the bound, no more."""
    piece = polygon(
        (0.0, 0.0), (800.0, 0.0), (800.0, 140.0), (420.0, 140.0), (400.0, 40.0 - 1e-9),
        (380.0, 140.0), (0.0, 140.0),
    )  # fmt: skip
    assert narrow_arms(piece, 40.0) == ()
