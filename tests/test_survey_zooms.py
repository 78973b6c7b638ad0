"""Photographs of one stated camera, zoomed or cropped: measured all the same, and named."""

from dataclasses import replace

import numpy as np
import pytest

from shapecut.survey.adjust import adjusted_photos
from shapecut.survey.start import rigid_fit
from tests.sighted import SINGLE, Sighted, four_mark_cards, sighted

GRID = np.stack(np.meshgrid(np.linspace(-450, 450, 6), np.linspace(-350, 350, 5)), -1).reshape(
    -1, 2
)


def spoiled(scene: Sighted, photo: int, zoom: float, shift: tuple[float, float]) -> Sighted:
    """One photograph enlarged about its middle and shifted: another zoom, or a crop."""
    middle = (np.array(scene.photos[photo].size) - 1) / 2
    seen = tuple(
        replace(s, corners_px=(s.corners_px - middle) * zoom + middle + shift)
        if s.photo == photo
        else s
        for s in scene.sightings
    )
    return replace(scene, sightings=seen)


def adjusted(scene: Sighted):
    return adjusted_photos(scene.photos, scene.sightings, relative_u=1e-3)


def zoomed(findings) -> list[str]:
    return [finding.where for finding in findings if "another zoom" in finding.what]


@pytest.mark.parametrize("cards", [SINGLE[:6], four_mark_cards()[:6]], ids=["single", "four-mark"])
@pytest.mark.parametrize(
    ("zoom", "shift"), [(1.3, (0, 0)), (1.08, (0, 0)), (1.0, (300, 200)), (1.3, (400, -300))]
)
def test_one_of_three_photographs_zoomed_or_cropped_is_named(cards, zoom, shift):
    for seed in (0, 1):
        scene = sighted(seed, cards=cards, photos=3, noise_px=0.1)
        made = adjusted(spoiled(scene, 1, zoom, shift))
        assert zoomed(made.findings) == ["photo_2.jpg"]
        # And the other two measure as if nothing were wrong.
        for photo in (0, 2):
            seen = made.survey(0.0).views[photo].mm_from_px(scene.views[photo].px_from_mm(GRID))
            assert rigid_fit(GRID, seen)[1] < 0.35


def test_the_later_one_of_two_is_named():
    scene = sighted(1, cards=four_mark_cards()[:6], photos=2, noise_px=0.1)
    assert zoomed(adjusted(spoiled(scene, 1, 1.3, (0, 0))).findings) == ["photo_2.jpg"]


def test_photographs_of_one_camera_keep_one_camera():
    for seed in range(8):
        made = adjusted(sighted(seed, photos=3, noise_px=0.15))
        assert made.findings == ()
        assert len(made.joint.solution.network.cameras) == 1


def test_a_card_moved_between_photographs_is_no_other_zoom():
    scene = sighted(3, cards=four_mark_cards()[:6], photos=3)
    moved = replace(scene.placements["card 2"], origin=(-500.0, 120.0))
    seen = [
        replace(s, corners_px=scene.projected(s, moved))
        if s.photo == 1 and s.card == "card 2"
        else s
        for s in scene.sightings
    ]
    made = adjusted(replace(scene, sightings=tuple(seen)))
    assert zoomed(made.findings) == []
    assert any("card 2" in finding.where for finding in made.findings)
