"""Corners of a fitted outline lie where the pictures were searched."""

import numpy as np
import pytest

from shapecut.capture.photo import Photo
from shapecut.errors import TraceError
from shapecut.survey.view import ScanView
from shapecut.trace.raster import Raster
from shapecut.trace.samples import Pictures
from shapecut.trace.sight import refuse_unseen_corners
from tests.scenes import outline_of, rounded

SEEN = Pictures(
    (Photo("sill.png", np.zeros((400, 600, 3), np.uint8), None),),
    (ScanView(0, (1.0, 1.0), (0.0, 399.0)),),
    (),
)
"""A picture of 600 by 400 mm, its lower left corner at the plane's origin."""
RASTER = Raster((0.0, 0.0), 2.0, (200, 300))


def triangle(tip: tuple[float, float]):
    """A triangle whose two last edges, E2 and E3, meet at the tip."""
    return outline_of(rounded([(100.0, 100.0), (500.0, 100.0), tip]))


def test_corners_in_sight_pass():
    refuse_unseen_corners(triangle((300.0, 390.0)), RASTER, SEEN, 0.0)


@pytest.mark.parametrize("tip", [(300.0, 450.0), (700.0, 200.0), (-1e7, 200.0)])
def test_edges_that_meet_out_of_sight_are_refused_by_name(tip):
    with pytest.raises(TraceError, match=r"E2 and E3 .* meet where no photograph shows it"):
        refuse_unseen_corners(triangle(tip), RASTER, SEEN, 0.0)


def test_corners_off_the_raster_are_refused():
    """A picture may show more of the floor than was searched."""
    searched = Raster((0.0, 0.0), 2.0, (150, 300))
    with pytest.raises(TraceError, match="E2 and E3"):
        refuse_unseen_corners(triangle((300.0, 390.0)), searched, SEEN, 0.0)
