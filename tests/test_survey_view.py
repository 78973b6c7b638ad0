"""Views: there and back again, at any height, and after the plane was turned and shifted."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shapecut.shape.placement import Placement
from shapecut.survey.view import Camera, PhotoView, ScanView

CAMERA = Camera((4000, 3000), 3000.0, (2010.0, 1490.0), (-0.08, 0.03, 0.0004, -0.0003, 0.01))


def tilted_view():
    """A camera 1.5 m above the plane, tilted by 30 degrees."""
    c, s = math.cos(math.pi + 0.5), math.sin(math.pi + 0.5)
    rotation = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
    return PhotoView(0, CAMERA, rotation, -rotation @ np.array([100.0, -700.0, 1500.0]))


VIEWS = [tilted_view(), ScanView(0, (0.0847, 0.0846), (300.0, 900.0), 0.3)]
PLACES = np.array([[0.0, 0.0], [400.0, -250.0], [-300.0, 310.0], [12.5, 700.0]])


@pytest.mark.parametrize("view", VIEWS)
@pytest.mark.parametrize("height_mm", [0.0, 7.0])
def test_a_point_seen_is_brought_back_to_where_it_is(view, height_mm):
    raised = np.column_stack([PLACES, np.full(len(PLACES), height_mm)])
    assert view.mm_from_px(view.px_from_mm(raised), height_mm) == pytest.approx(PLACES, abs=1e-6)


@pytest.mark.parametrize("view", VIEWS)
@given(x=st.floats(-500, 500), y=st.floats(-500, 500), turn=st.floats(-math.pi, math.pi))
def test_a_plane_laid_otherwise_shows_the_same_pixels(view, x, y, turn):
    placement = Placement((x, y), turn)
    moved = view.placed(placement)
    seen = moved.px_from_mm(placement.points_to_plane(PLACES))
    assert seen == pytest.approx(view.px_from_mm(PLACES), abs=1e-6)


def test_a_scan_keeps_y_up():
    above, below = (
        VIEWS[1].placed(Placement(turn_rad=-0.3)).px_from_mm(np.array([[0.0, 10.0], [0.0, -10.0]]))
    )
    assert above[1] < below[1]
