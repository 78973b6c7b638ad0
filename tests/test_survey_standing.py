"""Cards on two planes, as on a wall and a floor."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from shapecut.capture.sighting import Sighting
from shapecut.errors import SurveyError
from shapecut.survey.adjust import survey_photos
from tests.sighted import SINGLE, Sighted, four_mark_cards, sighted
from tests.survey_scenes import random_scene

FOOT_MM = 60.0
"""A card on a wall stands with its middle this far above the floor."""

KINDS = [SINGLE[:6], four_mark_cards()[:6]]


def farthest(scene: Sighted, count: int) -> list[str]:
    """The cards of greatest y, the farthest first."""
    return sorted(scene.placements, key=lambda name: -scene.placements[name].origin[1])[:count]


def with_a_wall(scene: Sighted, names: Sequence[str]) -> list[Sighting]:
    """The sightings with some cards folded up, to stand where they lay."""
    sightings = []
    for seen in scene.sightings:
        if seen.card in names:
            flat = scene.placements[seen.card].points_to_plane(seen.corners_mm)
            foot = scene.placements[seen.card].origin[1] - FOOT_MM
            stood = np.column_stack([flat[:, 0], np.full(len(flat), foot), flat[:, 1] - foot])
            view = scene.views[seen.photo]
            shift = view.px_from_mm(stood) - view.px_from_mm(flat)
            seen = replace(seen, corners_px=seen.corners_px + shift)
        sightings.append(seen)
    return sightings


def scenes(cards, photos: int, standing: int) -> list[tuple[Sighted, list[str]]]:
    """Scenes in which every camera is well in front of the wall, and the cards on it."""
    found = []
    for seed in range(200):
        scene = sighted(seed, cards=cards, photos=photos)
        names = farthest(scene, standing)
        wall = min(scene.placements[name].origin[1] for name in names)
        if all(view.position[1] < wall - 300 for view in scene.views):
            found.append((scene, names))
    return found[:6]


def surveyed(scene: Sighted, sightings: Sequence[Sighting]):
    return survey_photos(scene.photos, sightings, relative_u=1e-6, height_mm=0.0)


@pytest.mark.parametrize("cards", KINDS)
@pytest.mark.parametrize("photos", [1, 3])
def test_one_card_on_a_wall_is_named_and_not_used(cards, photos):
    for scene, (name,) in scenes(cards, photos, 1):
        survey = surveyed(scene, with_a_wall(scene, [name]))
        (finding,) = (f for f in survey.findings if f.where == name)
        assert finding.what.startswith("It stands at about")
        assert name not in {card.name for card in survey.cards}


@pytest.mark.parametrize("cards", KINDS)
@pytest.mark.parametrize("photos", [1, 3])
def test_two_of_six_cards_on_a_wall_are_refused_by_their_names(cards, photos):
    for scene, names in scenes(cards, photos, 2):
        with pytest.raises(SurveyError, match="two planes") as refused:
            surveyed(scene, with_a_wall(scene, names))
        told = str(refused.value)
        assert sorted(names) == sorted(name for name in scene.placements if name in told)


@pytest.mark.parametrize("cards", KINDS)
def test_half_of_the_cards_on_a_wall_are_refused(cards):
    for scene, names in scenes(cards, 1, 3):
        with pytest.raises(SurveyError, match="two planes"):
            surveyed(scene, with_a_wall(scene, names))


@pytest.mark.parametrize("cards", [SINGLE, four_mark_cards()])
@pytest.mark.parametrize("told", [True, False])
def test_flat_cards_are_never_said_to_stand(cards, told):
    for seed in range(8):
        scene = random_scene(seed, cards[: 4 + seed % 7], photos=1 + seed % 3, curl_mm=1.0)
        photos = scene.photos if told else [replace(p, focal_35mm=None) for p in scene.photos]
        survey = survey_photos(photos, scene.sightings, relative_u=1e-6, height_mm=0.0)
        assert not [f for f in survey.findings if "stands" in f.what]
