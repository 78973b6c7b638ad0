"""How a photograph shows its marks: blur, glare, exposure and size are told, by name."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from shapecut.capture.cards import our_cards
from shapecut.capture.mark_looks import look_findings, mark_looks, typical_blur_px
from shapecut.capture.marks import find_marks
from shapecut.capture.photo import Photo
from shapecut.capture.sharpness import edge_blur_px
from shapecut.errors import CaptureError
from shapecut.findings import Finding
from tests.renderer import Scene, Shot, photographed
from tests.scenes import FLOORS, OUTLINES, laid_round, look_at, phone_camera

STEP = OUTLINES["notched step"]
SCENE = Scene(STEP, floor=FLOORS["concrete"], cards=laid_round(STEP))
VIEW = look_at(phone_camera(), (0.0, -350.0, 1150.0))


@cache
def taken(**how: float) -> Photo:
    return photographed(SCENE, Shot(VIEW, **{"oversampling": 1, **how}), "kitchen.jpg")


def findings(photo: Photo) -> list[Finding]:
    sightings = find_marks(photo, 0, our_cards()).sightings
    return list(look_findings(photo, mark_looks(photo, sightings, our_cards())))


@pytest.mark.parametrize("blur_px", [0.5, 1.0, 1.8])
def test_the_blur_is_measured(blur_px):
    photo = taken(blur_px=blur_px)
    looks = mark_looks(photo, find_marks(photo, 0, our_cards()).sightings, our_cards())
    # A pixel's own area blurs by 0.29 px more; on cells as small as these the black border's other
    # side shortens the widest profiles a little.
    assert typical_blur_px(looks) == pytest.approx(np.hypot(blur_px, 0.29), rel=0.25, abs=0.1)


def test_nothing_is_said_against_a_good_photograph():
    assert findings(taken()) == []
    assert findings(taken(sharpening=0.5, jpeg_quality=90, falloff=0.2)) == []


def test_a_blurred_photograph_is_named():
    (finding,) = findings(taken(blur_px=2.3))
    assert finding.where == "kitchen.jpg"
    assert "blurred" in finding.what


def test_shake_in_one_direction_is_blur():
    photo = taken()
    shaken = cv2.filter2D(photo.pixels, -1, np.full((1, 8), 1 / 8))
    assert any("blurred" in finding.what for finding in findings(replace(photo, pixels=shaken)))


def test_a_photograph_too_blurred_for_any_card_is_refused_as_blurred():
    with pytest.raises(CaptureError, match=r"kitchen\.jpg, which is blurred"):
        find_marks(taken(blur_px=6.0), 0, our_cards())


@pytest.mark.parametrize("blur_px", [0.7, 2.5, 6.0])
def test_the_blur_of_a_picture_without_cards_is_told(blur_px):
    photo = photographed(replace(SCENE, cards=()), Shot(VIEW, blur_px=blur_px, oversampling=1))
    grey = cv2.cvtColor(photo.pixels, cv2.COLOR_RGB2GRAY)
    assert edge_blur_px(grey) == pytest.approx(np.hypot(blur_px, 0.29), rel=0.3, abs=0.35)


def test_burnt_out_white_is_named():
    (finding,) = findings(taken(exposure=1.7))
    assert "card 1" in finding.where
    assert "burnt out" in finding.what


def test_a_card_in_glare_is_named_alone():
    photo = taken()
    sightings = find_marks(photo, 0, our_cards()).sightings
    corners = np.concatenate([s.corners_px for s in sightings if s.card == "card 3"])
    (x0, y0), (x1, y1) = corners.min(axis=0).astype(int) - 9, corners.max(axis=0).astype(int) + 9
    pixels = photo.pixels.copy()
    veiled = pixels[y0:y1, x0:x1].astype(float)
    pixels[y0:y1, x0:x1] = 165 + veiled * 0.25
    (finding,) = findings(replace(photo, pixels=pixels))
    assert finding.where == "card 3 in kitchen.jpg"
    assert "reflection" in finding.what


def test_darkness_is_named():
    (finding,) = findings(taken(exposure=0.04, noise=0.0005))
    assert "dark" in finding.what


def test_cards_too_small_in_the_picture_are_named():
    far = look_at(phone_camera(), (0.0, -600.0, 2150.0))
    (finding,) = findings(photographed(SCENE, Shot(far, oversampling=1, blur_px=0.5), "far.jpg"))
    assert finding.where == "far.jpg"
    assert "small" in finding.what
