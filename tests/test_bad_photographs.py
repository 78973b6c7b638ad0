"""Photographs from which nothing can be measured: one clear sentence each, and whom it names.

Each is rendered with one thing wrong and taken through the whole measuring chain.  The good
photographs beside them show that it is that one thing which is refused.
"""

import tracemalloc
from contextlib import suppress
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from shapecut.capture.cards import Card, CardSet, Mark, our_cards
from shapecut.capture.marks import find_marks
from shapecut.capture.photo import Photo
from shapecut.errors import CaptureError, ShapecutError, SurveyError, TraceError
from shapecut.shape.placement import Placement
from shapecut.stages.measuring import Measured, measure
from shapecut.survey.start import rigid_fit
from shapecut.survey.view import PhotoView
from tests.outline_deviation import deviations_mm, longest_side_mm
from tests.renderer import LaidCard, Scene, Shot, photographed
from tests.scenes import (
    FLOORS,
    OUTLINES,
    half_cards,
    laid_round,
    look_at,
    looks_round,
    phone_camera,
    random_outline,
)

THICKNESS_MM = 4.0
STEP = OUTLINES["notched step"]
SCENE = Scene(STEP, THICKNESS_MM, floor=FLOORS["planks"], cards=laid_round(STEP))
VIEWS = looks_round(phone_camera(), count=2, distance_mm=1500.0, tilt_deg=18.0)


def taken(*scenes: Scene) -> list[Photo]:
    """One photograph of each scene, each from another side."""
    return [photograph(scene, number) for number, scene in enumerate(scenes)]


@cache
def photograph(scene: Scene, number: int) -> Photo:
    return photographed(scene, Shot(VIEWS[number], oversampling=1), f"kitchen_{number + 1}.jpg")


def measured(photos: list[Photo]) -> Measured:
    return measure(photos, our_cards(), thickness_mm=THICKNESS_MM)


def refusal(error: type[ShapecutError], photos: list[Photo]) -> str:
    """The sentence with which measuring is refused; one sentence, however many clauses."""
    with pytest.raises(error) as caught:
        measured(photos)
    assert type(caught.value) is error
    sentence = str(caught.value)
    assert sentence.endswith(".")
    assert "\n" not in sentence
    return sentence


def shrunk(card: Card, factor: float) -> Card:
    """The card as a printer would make it that does not print at 100 %."""

    def scaled(mark: Mark) -> Mark:
        a, b, c, d = ((factor * x, factor * y) for x, y in mark.corners_mm)
        return replace(mark, corners_mm=(a, b, c, d))

    return replace(card, marks=tuple(map(scaled, card.marks)))


def test_the_good_photographs_are_measured():
    """What every other test here spoils in one respect."""
    assert len(measured(taken(SCENE, SCENE)).outline.edges) == len(STEP.edges)


def test_no_card_is_refused_by_the_photograph_s_name():
    sentence = refusal(CaptureError, taken(SCENE, replace(SCENE, cards=())))
    assert "No card" in sentence
    assert "kitchen_2.jpg" in sentence


def test_one_card_only_is_refused_by_its_name():
    alone = replace(SCENE, cards=SCENE.cards[:1])
    sentence = refusal(SurveyError, taken(alone, alone))
    assert "one card" in sentence
    assert "card 1" in sentence


def test_cards_printed_at_different_sizes_are_refused():
    """Half of them at 97 %: nothing tells which half is right."""
    mixed = tuple(
        replace(laid, card=shrunk(laid.card, 0.97)) if k % 2 else laid
        for k, laid in enumerate(SCENE.cards)
    )
    scene = replace(SCENE, cards=mixed)
    sentence = refusal(SurveyError, taken(scene, scene))
    assert "contradict" in sentence
    assert "card " in sentence


def test_cards_moved_between_two_photographs_are_refused_by_the_photograph_s_name():
    moved = tuple(
        replace(laid, placement=Placement(laid.placement.to_plane((60.0 * k, -45.0)), 0.9 * k))
        for k, laid in enumerate(SCENE.cards)
    )
    sentence = refusal(SurveyError, taken(SCENE, replace(SCENE, cards=moved)))
    assert "kitchen_2.jpg" in sentence or "kitchen_1.jpg" in sentence
    assert "moved" in sentence


def test_one_bad_card_among_good_ones_is_left_out_and_named():
    bad = replace(SCENE.cards[2], card=shrunk(SCENE.cards[2].card, 0.95))
    scene = replace(SCENE, cards=(*SCENE.cards[:2], bad, *SCENE.cards[3:]))
    result = measured(taken(scene, scene))
    assert any("card 3" in finding.where for finding in result.findings)
    assert "card 3" not in [card.name for card in result.survey.cards]
    assert np.abs(deviations(result, scene)).max() < longest_side_mm(STEP) / 800


def test_a_card_printed_twice_is_refused_by_its_name_and_the_photograph_s():
    twice = LaidCard(SCENE.cards[1].card, Placement((-420.0, 240.0), 0.3))
    scene = replace(SCENE, cards=(*SCENE.cards, twice))
    sentence = refusal(CaptureError, taken(SCENE, scene))
    assert "card 2 twice" in sentence
    assert "kitchen_2.jpg" in sentence


def test_a_photograph_of_other_cards_is_refused_by_its_name():
    others = tuple(
        replace(laid, card=card) for laid, card in zip(SCENE.cards, half_cards(12)[6:], strict=True)
    )
    sentence = refusal(SurveyError, taken(SCENE, replace(SCENE, cards=others)))
    assert "kitchen_2.jpg" in sentence or "kitchen_1.jpg" in sentence
    assert "shares no card" in sentence


def test_the_same_cards_round_another_template_are_refused_by_the_photograph_s_name():
    other = OUTLINES["rounded corner"]
    scene = replace(SCENE, outline=other, cards=laid_round(other, seed=8))
    sentence = refusal(SurveyError, taken(SCENE, scene))
    assert "kitchen_2.jpg" in sentence or "kitchen_1.jpg" in sentence
    assert "another scene" in sentence


@pytest.mark.parametrize(
    ("target", "side"), [((320.0, 0.0, 0.0), "left"), ((-320.0, 0.0, 0.0), "right")]
)
def test_a_template_that_leaves_the_picture_is_refused_by_photograph_and_side(target, side):
    view = look_at(phone_camera(), (target[0], -300.0, 1000.0), target)
    photo = photographed(SCENE, Shot(view, oversampling=1), "too_near.jpg")
    sentence = refusal(TraceError, [photo])
    assert "too_near.jpg" in sentence
    assert side in sentence


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("floor", FLOORS)
def test_a_bare_floor_is_refused(floor, seed):
    """Also one whose planks and tiles differ a little from one another."""
    bare = replace(SCENE, outline=None, floor=FLOORS[floor], seed=seed)
    sentence = refusal(TraceError, taken(bare, bare))
    assert "No template" in sentence
    assert "floor" in sentence


def test_a_template_of_the_floor_s_own_colour_is_refused():
    hidden = replace(
        SCENE,
        floor=FLOORS["concrete"],
        template=FLOORS["concrete"].colour,
        cut_face=FLOORS["concrete"].colour,
    )
    assert "No template" in refusal(TraceError, taken(hidden, hidden))


def test_a_photograph_given_twice_is_refused_by_both_names():
    once = photograph(SCENE, 0)
    sentence = refusal(CaptureError, [once, replace(once, name="copy.jpg")])
    assert "kitchen_1.jpg and copy.jpg" in sentence


def test_cards_stated_ten_times_too_large_take_no_more_memory():
    """A plane of ten times the size is looked at as closely, in pixels, not in mm."""
    stated = CardSet(tuple(shrunk(card, 10.0) for card in our_cards().cards), relative_u=0.002)
    photos = taken(SCENE, SCENE)
    tracemalloc.start()
    with suppress(TraceError):
        measure(photos, stated, thickness_mm=THICKNESS_MM)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 500e6


@pytest.mark.parametrize(("thickness_mm", "why"), [(200.0, "followed"), (600.0, "600 mm thick")])
def test_a_thickness_stated_far_too_large_is_refused(thickness_mm, why):
    """Of the first the cut face would be wider than all that is looked at across an edge."""
    with pytest.raises(TraceError, match=why):
        measure(taken(SCENE, SCENE), our_cards(), thickness_mm=thickness_mm)


# --- and photographs that must be measured -------------------------------------------------------


def deviations(result: Measured, scene: Scene) -> np.ndarray:
    """Distances (N,) of the measured outline from the scene's, after a rigid alignment."""
    assert scene.outline is not None
    true = {laid.card.name: laid.placement.origin for laid in scene.cards}
    places = np.array([card.placement.origin for card in result.survey.cards])
    there = np.array([true[card.name] for card in result.survey.cards])
    return deviations_mm(result.outline, scene.outline, rigid_fit(places, there)[0])


def random_scene(seed: int) -> Scene:
    outline = random_outline(seed)
    floor = tuple(FLOORS.values())[seed % len(FLOORS)]
    return Scene(
        outline, THICKNESS_MM, floor=floor, cards=laid_round(outline, seed=seed), seed=seed
    )


def phone_views(scene: Scene, seed: int) -> tuple[PhotoView, ...]:
    """Two views from opposite sides that the scene fills."""
    assert scene.outline is not None
    return looks_round(
        phone_camera(),
        count=2,
        distance_mm=1.55 * longest_side_mm(scene.outline),
        tilt_deg=18.0,
        first_deg=float(np.random.default_rng(seed).uniform(0, 360)),
    )


def phone_pictures(scene: Scene, seed: int) -> list[Photo]:
    """Photographs as a phone makes them: sharpened, compressed, darker in the corners."""
    return [
        photographed(
            scene,
            Shot(view, falloff=0.15, sharpening=0.4, jpeg_quality=92, oversampling=1, seed=seed),
        )
        for view in phone_views(scene, seed)
    ]


@pytest.mark.parametrize("seed", range(8))
def test_random_templates_are_measured_to_a_fraction_of_their_size(seed):
    """Edges and holes in number, 95 of 100 places within 1/1500 and all within 1/500."""
    scene = random_scene(seed)
    assert scene.outline is not None
    result = measured(phone_pictures(scene, seed))
    assert [len(ring.edges) for ring in result.outline.rings] == [
        len(ring.edges) for ring in scene.outline.rings
    ]
    off, size = np.abs(deviations(result, scene)), longest_side_mm(scene.outline)
    assert float(np.percentile(off, 95)) < size / 1500
    assert float(off.max()) < size / 500


@pytest.mark.parametrize("seed", [3, 12, 13])
def test_small_marks_are_measured_where_they_are(seed):
    """Marks about 30 to 50 pixels wide tell next to nothing of the lens, each by itself."""
    scene = random_scene(seed)
    placements = {laid.card.name: laid.placement for laid in scene.cards}
    for view, photo in zip(phone_views(scene, seed), phone_pictures(scene, seed), strict=True):
        errors = [
            seen.corners_px
            - view.px_from_mm(placements[seen.card].points_to_plane(seen.corners_mm))
            for seen in find_marks(photo, view.photo, our_cards()).sightings
        ]
        assert float(np.sqrt(np.mean(np.square(errors)))) < 0.15
