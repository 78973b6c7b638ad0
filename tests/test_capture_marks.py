"""Marks: measured to a few hundredths of a pixel whatever the light, or not used and said so."""

from dataclasses import replace

import numpy as np
import pytest

from shapecut.capture.cards import Card, CardSet, single_mark_cards, square_mark
from shapecut.capture.marks import find_marks, marks_if_any
from shapecut.capture.photo import read_photo
from shapecut.errors import CaptureError
from shapecut.shape.placement import Placement
from shapecut.survey.view import Camera
from tests.practice import SCENES
from tests.practice_marks import mark_corners_px
from tests.renderer import LaidCard, Scene, Shot, photographed
from tests.scenes import look_at

FAMILY = "AprilTag 36h11"
CARDS = single_mark_cards(FAMILY, 100.0)
CAMERA = Camera((1000, 800), 1000.0, (501.0, 398.0), (-0.12, 0.04, 0.0003, -0.0002, 0.0))


def laid(number, x, y, turn=0.0, *, side_mm=100.0):
    """A card of one mark on the floor."""
    mark = square_mark(FAMILY, number, side_mm=side_mm)
    return LaidCard(Card(f"mark {number}", (mark,)), Placement((x, y), turn))


SCENE = Scene(None, cards=(laid(3, -130, 90, 0.4), laid(5, 140, -80, 2.0), laid(8, 110, 120, -1.2)))
VIEW = look_at(CAMERA, (60.0, -330.0, 560.0))


def seen(**shot):
    """The scene photographed."""
    return photographed(SCENE, Shot(VIEW, **shot))


def true_corners():
    return {
        card.card.marks[0].number: VIEW.px_from_mm(
            card.placement.points_to_plane(np.array(card.card.marks[0].corners_mm))
        )
        for card in SCENE.cards
    }


def errors_px(found, true):
    return np.concatenate([s.corners_px - true[s.mark] for s in found.sightings])


@pytest.mark.parametrize(
    "shot",
    [
        {},
        {"blur_px": 1.5},
        {"exposure": 1.5},
        {"exposure": 0.3},
        {"sharpening": 1.0, "jpeg_quality": 85},
        {"falloff": 0.5, "noise": 0.02},
    ],
    ids=["plain", "blurred", "over-exposed", "dark", "sharpened", "noisy"],
)
def test_corners_are_free_of_what_light_and_lens_do_to_edges(shot):
    found = find_marks(seen(**shot), 0, CARDS)
    assert [s.mark for s in found.sightings] == [3, 5, 8]
    assert found.findings == ()
    error = errors_px(found, true_corners())
    assert float(np.sqrt(np.mean(error**2))) < 0.06
    # A common shift of edges would show as corners moved outward or inward together.
    assert float(np.abs(error.mean(axis=0)).max()) < 0.04


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_corners_on_the_practice_photographs(scene):
    for index, path in enumerate(scene.photo_paths):
        found = find_marks(read_photo(path), index, CARDS)
        true = mark_corners_px(scene, index)
        assert {s.mark for s in found.sightings} == set(true)
        error = errors_px(found, true)
        assert float(np.sqrt(np.mean(error**2))) < 0.035
        assert all(0.05 <= s.u_px < 0.1 for s in found.sightings)


def test_a_mark_at_the_very_border_is_found():
    view = look_at(CAMERA, (-130.0, 90.0, 500.0), (-130.0, 90.0, 0.0))
    left = view.px_from_mm(np.array([[-180.0, 90.0]]))[0, 0]
    photo = photographed(Scene(None, cards=(laid(3, -130, 90),)), Shot(view))
    narrow = replace(photo, pixels=np.ascontiguousarray(photo.pixels[:, int(left) - 7 :]))
    assert len(find_marks(narrow, 0, CARDS).sightings) == 1


def test_a_mark_of_another_shape_than_its_pattern_is_named_and_not_used():
    photo = seen()
    pixels = photo.pixels.copy()
    corners = true_corners()[5]
    # A hand over the mark's edge: its border stays, but a fifth of its borders are gone.
    low, high = corners.min(axis=0), corners.max(axis=0)
    middle = ((low + high) / 2).astype(int)
    bars = pixels[int(low[1]) : int(high[1]), middle[0] - 14 : middle[0] + 14]
    bars[:] = 128
    found = marks_if_any(replace(photo, pixels=pixels), 0, CARDS)
    used = {s.mark for s in found.sightings}
    if 5 in used:
        pytest.fail("a mark with a bar across it was used")
    assert {3, 8} <= used


def test_a_mark_too_small_to_measure_is_named():
    view = look_at(CAMERA, (0.0, 0.0, 5200.0))
    photo = photographed(Scene(None, cards=(laid(3, 0, 0),)), Shot(view, noise=0.0, blur_px=0.3))
    found = marks_if_any(photo, 0, CARDS)
    assert found.sightings == ()
    (finding,) = found.findings
    assert finding.where == "mark 3 in photo_1.jpg"
    assert "too small" in finding.what
    with pytest.raises(CaptureError, match=r"No card in photo_1\.jpg can be measured"):
        find_marks(photo, 0, CARDS)


def test_a_mark_seen_twice_is_refused():
    twice = Scene(None, cards=(laid(3, -130, 90), laid(3, 140, -80), laid(8, 110, 120)))
    with pytest.raises(CaptureError, match=r"photo_1\.jpg shows mark 3 twice .* take one"):
        find_marks(photographed(twice, Shot(VIEW)), 0, CARDS)


def test_no_card_at_all():
    with pytest.raises(CaptureError, match=r"No card was found in photo_1\.jpg: lay printed"):
        find_marks(photographed(Scene(None), Shot(VIEW)), 0, CARDS)


def test_only_marks_of_other_cards():
    others = CardSet((Card("my card", (square_mark(FAMILY, 100, side_mm=80.0),)),), 0.001)
    with pytest.raises(CaptureError, match=r"only marks that are on no card of this job"):
        find_marks(seen(), 0, others)


def test_two_dictionaries_in_one_picture():
    small = square_mark("ArUco 4x4 50", 7, side_mm=90.0)
    scene = replace(
        SCENE, cards=(*SCENE.cards[:2], LaidCard(Card("my card", (small,)), Placement((100, 130))))
    )
    mixed = CardSet((*CARDS.cards[:10], Card("my card", (small,))), 0.001)
    found = find_marks(photographed(scene, Shot(VIEW)), 0, mixed)
    assert {s.card for s in found.sightings} == {"mark 3", "mark 5", "my card"}
