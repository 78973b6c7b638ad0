"""Real photographs of a chessboard (see `tests.benchmarks.real_chessboards`)."""

import numpy as np
import pytest

from tests.benchmarks import real_chessboards as real

pytestmark = pytest.mark.skipif(
    not (real.FOLDER / "left_intrinsics.yml").exists(),
    reason="OpenCV's sample photographs are not here: install the Debian package opencv-doc",
)


@pytest.fixture(scope="module")
def left():
    photos = real.photographs(real.FOLDER, "left")
    return photos, real.seen_in(photos)


def test_the_board_is_found_in_every_photograph(left):
    photos, seen = left
    assert len(seen) == len(photos) == 13


def test_the_camera_agrees_with_the_published_one(left):
    """Within twice what both are unsure by; the published recipe's corners pull each other."""
    photos, seen = left
    made, file = real.ours(seen), real.published(real.FOLDER)
    coarse = real.seen_as_published(photos, seen)
    np.testing.assert_allclose(real.by_opencv(coarse).values, file.values, rtol=0.005, atol=0.001)
    spread = real.jackknife_u(coarse, lambda some: real.by_opencv(some).values)
    off = real.our_values(made.camera) - file.values
    assert np.all(np.abs(off) < 2 * np.hypot(real.our_u(made), spread))


@pytest.mark.parametrize("side", ["left", "right"])
def test_the_camera_agrees_with_opencv_s_on_the_same_corners(side):
    """Within our stated uncertainty, though OpenCV's has k3: focal, centre and p1, p2 as they are,
    the radial terms by where they put a ray, as far out as 99 of 100 corners reach."""
    seen = real.seen_in(real.photographs(real.FOLDER, side))
    made, theirs = real.ours(seen), real.by_opencv(seen)
    mine = real.Camera5(real.our_values(made.camera))
    plain = [0, 1, 2, 5, 6]
    assert np.all(np.abs(mine.values - theirs.values)[plain] < real.our_u(made)[plain])
    rays = made.camera.rays_from_px(np.concatenate([sheet.px for sheet in seen]))
    radius = np.linspace(0, np.percentile(np.linalg.norm(rays, axis=1), 99), 15)
    assert float(np.abs(mine.shift_px(radius) - theirs.shift_px(radius)).max()) < 0.2


@pytest.mark.parametrize("side", ["left", "right"])
def test_single_photographs_measure_the_board(side):
    """0.3 mm on 200 mm, where a plain homography that knows every corner has 0.8 and 1.1."""
    photos = real.photographs(real.FOLDER, side)
    for photo, seen in zip(photos, real.seen_in(photos), strict=True):
        assert real.by_our_survey(photo, seen) < 0.3 < 0.5 < real.by_homography(seen)
