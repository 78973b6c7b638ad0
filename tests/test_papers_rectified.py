"""The flat picture is true to scale and says so."""

import io

import cv2
import numpy as np
import pytest
from PIL import Image

from shapecut.capture.photo import Photo
from shapecut.papers.rectified import flat_picture_jpeg, rectified_picture
from shapecut.survey.view import Camera, PhotoView, ScanView

DOTS_MM = np.array([[x, y] for x in (-300.0, 0.0, 250.0) for y in (-180.0, 60.0, 200.0)])
DOT_RADIUS_MM = 7.0


def oblique_view() -> PhotoView:
    """A phone 1.5 m up, tilted by 30°, with a lens that bends."""
    rotation, _ = cv2.Rodrigues(np.array([np.pi - 0.5, 0.1, 0.05]))
    return PhotoView(
        photo=0,
        camera=Camera((2000, 1500), 1700.0, (1010.0, 740.0), (-0.08, 0.03, 4e-4, -3e-4, 0.0)),
        rotation=rotation,
        translation=np.array([10.0, -20.0, 1500.0]),
    )


def photo_of_dots(view, size: tuple[int, int], height_mm: float) -> Photo:
    """White dots on grey, each drawn as the view sees its rim."""
    pixels = np.full((size[1], size[0], 3), 90, np.uint8)
    angles = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    for x, y in DOTS_MM:
        rim = np.column_stack(
            [
                x + DOT_RADIUS_MM * np.cos(angles),
                y + DOT_RADIUS_MM * np.sin(angles),
                np.full(60, height_mm),
            ]
        )
        seen = np.round(view.px_from_mm(rim) * 16).astype(np.int32)
        cv2.fillPoly(pixels, [seen], (255, 255, 255), cv2.LINE_AA, 4)
    return Photo("dots.png", pixels)


def dot_places(flat) -> np.ndarray:
    """Centres of the dots in the flat picture, plane mm."""
    found = []
    x0, y0 = flat.origin_mm
    height = flat.pixels.shape[0]
    grey = flat.pixels[..., 1].astype(float)
    half = round(2 * DOT_RADIUS_MM / flat.mm_per_px)
    for x, y in DOTS_MM:
        column = round((x - x0) / flat.mm_per_px)
        row = round(height - (y - y0) / flat.mm_per_px)
        patch = np.clip(grey[row - half : row + half, column - half : column + half] - 150, 0, 60)
        rows, columns = np.mgrid[row - half : row + half, column - half : column + half]
        across = (columns * patch).sum() / patch.sum()
        down = (rows * patch).sum() / patch.sum()
        found.append(
            (x0 + (across + 0.5) * flat.mm_per_px, y0 + (height - down - 0.5) * flat.mm_per_px)
        )
    return np.array(found)


@pytest.mark.parametrize("height_mm", [0.0, 18.0])
def test_an_oblique_photograph_becomes_true_to_scale(height_mm):
    view = oblique_view()
    photo = photo_of_dots(view, view.camera.size, height_mm)

    flat = rectified_picture(
        photo, view, (-360.0, -240.0, 310.0, 260.0), mm_per_px=0.8, height_mm=height_mm
    )

    assert dot_places(flat) == pytest.approx(DOTS_MM, abs=0.4)
    assert flat.pixels.shape[1] * flat.mm_per_px == pytest.approx(670.0, abs=0.8)
    assert flat.pixels.shape[0] * flat.mm_per_px == pytest.approx(500.0, abs=0.8)


def test_a_scan_is_shown_alike():
    view = ScanView(0, (0.5, 0.5), (800.0, 600.0))
    flat = rectified_picture(
        photo_of_dots(view, (1600, 1200), 0.0), view, (-360, -240, 310, 260), mm_per_px=0.5
    )

    assert dot_places(flat) == pytest.approx(DOTS_MM, abs=0.3)


def test_what_the_photograph_does_not_show_is_white():
    view = ScanView(0, (1.0, 1.0), (50.0, 50.0))
    photo = Photo("small", np.zeros((100, 100, 3), np.uint8))
    flat = rectified_picture(photo, view, (25.0, -45.0, 1025.0, 45.0), mm_per_px=1.0)

    assert flat.pixels[5, 950:990].min() > 150
    assert flat.pixels[45, 12].max() < 100


def test_a_huge_place_is_made_coarser_and_says_so():
    view = ScanView(0, (1.0, 1.0), (50.0, 50.0))
    photo = Photo("small", np.zeros((100, 100, 3), np.uint8))
    flat = rectified_picture(photo, view, (0.0, 0.0, 12_000.0, 100.0), mm_per_px=0.5)

    assert flat.mm_per_px == 2.0
    assert max(flat.pixels.shape) == 6000


def test_the_file_states_the_resolution_that_prints_it_at_full_size():
    view = ScanView(0, (0.5, 0.5), (100.0, 100.0))
    photo = Photo("small", np.full((200, 200, 3), 70, np.uint8))
    flat = rectified_picture(photo, view, (-40.0, -30.0, 40.0, 30.0), mm_per_px=0.254)
    picture = Image.open(io.BytesIO(flat_picture_jpeg(flat)))

    assert picture.size == (flat.pixels.shape[1], flat.pixels.shape[0])
    assert picture.info["dpi"] == pytest.approx((100.0, 100.0), abs=0.1)
    assert flat_picture_jpeg(flat) == flat_picture_jpeg(flat)
