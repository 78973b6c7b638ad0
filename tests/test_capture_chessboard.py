"""Chessboard and ChArUco sheets: their corners are found where they are."""

import numpy as np
import pytest

from shapecut.capture.chessboard import Chessboard, find_chessboard, squares_from_text
from shapecut.errors import CaptureError
from tests.scenes import phone_camera
from tests.sheet_pictures import looks_at_sheet, seen_sheet, sheet_photo

CHESSBOARD = Chessboard((10, 7), 25.0)
CHARUCO = Chessboard((9, 7), 28.0, dictionary="ArUco 4x4 50", mark_mm=20.0)


@pytest.mark.parametrize("sheet", [CHESSBOARD, CHARUCO], ids=["chessboard", "ChArUco"])
@pytest.mark.parametrize("width", [900, 1800], ids=["small", "reduced for the search"])
def test_corners_are_found_to_a_tenth_of_a_pixel(sheet, width):
    camera = phone_camera(width, width * 3 // 4)
    for view in looks_at_sheet(camera, sheet, count=2, seed=3):
        found = find_chessboard(sheet_photo(view, sheet), sheet)
        assert found is not None
        true = seen_sheet(view, sheet, np.zeros_like(sheet.corners_mm)).px
        apart = np.linalg.norm(found.px[:, None] - true[None], axis=2)
        assert len(found.px) == len(true)
        assert float(apart.min(axis=1).max()) < 0.1
        # The order is the sheet's own or that of the sheet turned round, never a shuffled one.
        nearest = apart.argmin(axis=1)
        steps = np.linalg.norm(np.diff(sheet.corners_mm[nearest], axis=0), axis=1)
        assert steps == pytest.approx(np.linalg.norm(np.diff(found.mm, axis=0), axis=1))


def test_a_sheet_with_another_count_is_not_found():
    view = looks_at_sheet(phone_camera(900, 675), CHESSBOARD, count=1, seed=3)[0]
    photo = sheet_photo(view, CHESSBOARD)
    assert find_chessboard(photo, Chessboard((8, 8), 25.0)) is None
    assert find_chessboard(photo, CHARUCO) is None


def test_impossible_sheets_are_refused():
    with pytest.raises(CaptureError, match="3 x 9 squares is too coarse"):
        Chessboard((3, 9), 25.0)
    with pytest.raises(CaptureError, match="no size"):
        Chessboard((10, 7), 0.0)
    with pytest.raises(CaptureError, match="smaller than its squares"):
        Chessboard((10, 7), 25.0, dictionary="ArUco 4x4 50", mark_mm=25.0)
    with pytest.raises(CaptureError, match='"10 by 7" does not say'):
        squares_from_text("10 by 7")
    assert squares_from_text("10 × 7") == (10, 7)
