"""Several pictures at once: all of them, in order, and no more than memory is to hold."""

import pytest
from PIL import Image

from shapecut.capture import photos
from shapecut.capture.photos import read_photos
from shapecut.errors import CaptureError


@pytest.fixture
def paths(tmp_path):
    made = [tmp_path / f"{number}.png" for number in range(3)]
    for number, path in enumerate(made):
        Image.new("RGB", (400, 300 + number)).save(path)
    return made


@pytest.mark.parametrize("side_by_side", [100_000_000, 200_000])
def test_pictures_come_in_order(paths, monkeypatch, side_by_side):
    monkeypatch.setattr(photos, "SIDE_BY_SIDE_PIXELS", side_by_side)
    assert [photo.size for photo in read_photos(paths)] == [(400, 300), (400, 301), (400, 302)]


def test_more_pixels_than_memory_is_to_hold_are_refused_before_any_is_decoded(paths, monkeypatch):
    monkeypatch.setattr(photos, "MOST_PIXELS", 300_000)
    monkeypatch.setattr(photos, "read_photo", None)
    with pytest.raises(CaptureError, match="3 pictures have 0 million pixels together, more than"):
        read_photos(paths)
