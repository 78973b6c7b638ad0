"""Surveys: the plane comes back within its stated uncertainty, or the reason why not is said."""

import math
from dataclasses import replace

import numpy as np
import pytest

from shapecut.capture.cards import single_mark_cards
from shapecut.capture.marks import find_marks
from shapecut.capture.photo import read_photo
from shapecut.errors import SurveyError
from shapecut.shape.placement import Placement
from shapecut.survey.adjust import survey_photos
from shapecut.survey.start import rigid_fit
from tests.practice import SCENES
from tests.practice_marks import boundary_mm, boundary_px
from tests.sighted import SINGLE, four_mark_cards, sighted

GRID = np.stack(np.meshgrid(np.linspace(-500, 500, 7), np.linspace(-380, 380, 6)), -1).reshape(
    -1, 2
)


def survey(scene, sightings=None):
    chosen = scene.sightings if sightings is None else tuple(sightings)
    return survey_photos(scene.photos, chosen, relative_u=0.001, height_mm=4.0)


def grid_errors_mm(scene, surveyed):
    """Errors (photos, N, 2) of plane points measured in each photograph, rigid motion aside."""
    errors = []
    for true, view in zip(scene.views, surveyed.views, strict=True):
        measured = view.mm_from_px(true.px_from_mm(GRID))
        placement, _ = rigid_fit(GRID, measured)
        errors.append(measured - placement.points_to_plane(GRID))
    return np.array(errors)


@pytest.mark.parametrize("tells_focal", [True, False])
@pytest.mark.parametrize("cards", [SINGLE[:6], four_mark_cards()[:4]], ids=["single", "four-mark"])
@pytest.mark.parametrize(("photos", "p95_mm"), [(1, 0.4), (3, 0.15)])
def test_a_plane_is_measured_to_a_few_tenths_of_a_millimetre(cards, photos, p95_mm, tells_focal):
    for seed in range(6):
        scene = sighted(seed, cards=cards, photos=photos, tells_focal=tells_focal)
        surveyed = survey(scene)
        error = np.linalg.norm(grid_errors_mm(scene, surveyed), axis=2)
        assert 0.001 < float(np.percentile(error, 95)) < p95_mm
        assert 0.01 < surveyed.residual_px < 0.08
        assert surveyed.findings == ()


@pytest.mark.parametrize("photos", [1, 2])
def test_the_stated_uncertainty_holds(photos):
    ratios = []
    for seed in range(25):
        scene = sighted(seed, photos=photos, noise_px=0.1)
        surveyed = survey(scene)
        rms = float(np.sqrt(np.mean(grid_errors_mm(scene, surveyed) ** 2)))
        ratios.append(rms / surveyed.point_u_mm)
    # The stated value covers the cards' whole box, the grid lies inside it: errors are a little
    # smaller than stated, but never much smaller or larger.
    assert 0.4 < float(np.sqrt(np.mean(np.square(ratios)))) < 1.2
    assert float(np.mean(np.array(ratios) < 2)) > 0.95


@pytest.mark.parametrize("k1", [-0.25, 0.0, 0.1])
def test_lenses_that_bend_lines(k1):
    scene = sighted(3, photos=2, k1=k1)
    surveyed = survey(scene)
    assert surveyed.views[0].camera.distortion[0] == pytest.approx(k1, abs=0.03)
    assert float(np.abs(grid_errors_mm(scene, surveyed)).max()) < 0.4


def test_the_frame_is_the_first_photograph_upright_seen_from_above():
    for seed in range(4):
        scene = sighted(seed, photos=2)
        surveyed = survey(scene)
        assert all(view.position[2] > 500 for view in surveyed.views)
        middle = np.mean([card.placement.origin for card in surveyed.cards], axis=0)
        assert middle == pytest.approx([0, 0], abs=1e-6)
        here, right, up = surveyed.views[0].px_from_mm(np.array([[0, 0], [50, 0], [0, 50]]))
        assert (right - here)[0] > 0
        assert (up - here)[1] < 0


def test_cards_are_placed_as_they_lie_and_not_mirrored():
    scene = sighted(5, photos=2)
    surveyed = survey(scene)
    assert [card.name for card in surveyed.cards] == list(scene.placements)
    there = np.array([place.origin for place in scene.placements.values()])
    here = np.array([card.placement.origin for card in surveyed.cards])
    frame, misfit = rigid_fit(there, here)
    assert misfit < 0.3
    for card, place in zip(surveyed.cards, scene.placements.values(), strict=True):
        turn = card.placement.turn_rad - place.turn_rad - frame.turn_rad
        assert math.remainder(turn, math.tau) == pytest.approx(0, abs=0.003)
        assert card.photos == (0, 1)


@pytest.mark.parametrize("scene", SCENES, ids=lambda scene: scene.name)
def test_practice_photographs_alone_and_together(scene):
    cards = single_mark_cards("AprilTag 36h11", 100.0)
    photos = [read_photo(path) for path in scene.photo_paths]
    thickness = scene.truth["template"]["thickness"]
    found = [find_marks(photo, 0, cards).sightings for photo in photos]
    for chosen in [*([k] for k in range(len(photos))), list(range(len(photos)))]:
        surveyed = survey_photos(
            [photos[k] for k in chosen],
            [replace(seen, photo=n) for n, k in enumerate(chosen) for seen in found[k]],
            relative_u=cards.relative_u,
            height_mm=thickness,
        )
        assert surveyed.findings == ()
        for view, photo in zip(surveyed.views, chosen, strict=True):
            measured = view.mm_from_px(boundary_px(scene, photo), thickness)
            true = boundary_mm(scene)
            placement, _ = rigid_fit(true, measured)
            off = np.linalg.norm(measured - placement.points_to_plane(true), axis=1)
            assert float(np.percentile(off, 95)) < 0.2


# --- what contradicts is named -------------------------------------------------------------------


def test_a_corner_hidden_by_a_thumb_is_named_and_left_out():
    scene = sighted(2)
    bad = scene.sightings[4]
    corners = bad.corners_px.copy()
    corners[2] += (3.0, -2.0)
    surveyed = survey(
        scene, [replace(s, corners_px=corners) if s is bad else s for s in scene.sightings]
    )
    (finding,) = surveyed.findings
    assert finding.where == "mark 4"
    assert "not used" in finding.what
    assert "mark 4" not in {card.name for card in surveyed.cards}
    assert float(np.abs(grid_errors_mm(scene, surveyed)).max()) < 0.5


def test_one_bad_mark_of_a_card_with_four_is_named_alone():
    scene = sighted(2, cards=four_mark_cards()[:4])
    bad = scene.sightings[6]
    surveyed = survey(
        scene,
        [
            replace(s, corners_px=s.corners_px + np.array([2.5, 0.0])) if s is bad else s
            for s in scene.sightings
        ],
    )
    assert [f.where for f in surveyed.findings] == [f"{bad.card}, mark {bad.mark} in photo_1.jpg"]
    assert bad.card in {card.name for card in surveyed.cards}


def test_a_card_moved_between_photographs_is_named():
    for seed in range(4):
        scene = sighted(seed, photos=2)
        moved = Placement((9.0, -6.0), 0.03).after(scene.placements["mark 3"])
        surveyed = survey(
            scene,
            [
                replace(s, corners_px=scene.projected(s, moved))
                if (s.card, s.photo) == ("mark 3", 1)
                else s
                for s in scene.sightings
            ],
        )
        (finding,) = surveyed.findings
        assert finding.where.startswith("mark 3 in photo_")
        assert float(np.abs(grid_errors_mm(scene, surveyed)).max()) < 0.4


def test_a_card_of_another_size_than_stated_is_named():
    for seed in range(4):
        scene = sighted(seed)
        surveyed = survey(
            scene,
            [
                replace(s, corners_mm=s.corners_mm / 0.97) if s.card == "mark 1" else s
                for s in scene.sightings
            ],
        )
        assert [finding.where for finding in surveyed.findings] == ["mark 1"]


def test_cards_half_a_millimetre_off_an_uneven_floor_are_kept():
    scene = sighted(4)
    rng = np.random.default_rng(4)
    lifted = []
    for seen in scene.sightings:
        plane = scene.placements[seen.card].points_to_plane(seen.corners_mm)
        raised = np.column_stack([plane, np.full(4, rng.normal(0, 0.5))])
        flat = scene.views[0].px_from_mm(plane)
        shift = scene.views[0].px_from_mm(raised) - flat
        lifted.append(replace(seen, corners_px=seen.corners_px + shift))
    assert len(survey(scene, lifted).cards) == len(scene.placements)


@pytest.mark.parametrize("count", [4, 5, 6])
def test_two_cards_of_other_sizes_than_stated_are_refused(count):
    scene = sighted(1, cards=SINGLE[:count])
    wrong = {"mark 0": 1 / 0.93, "mark 2": 1.06}
    with pytest.raises(SurveyError, match=r"The cards contradict each other"):
        survey(
            scene,
            [replace(s, corners_mm=s.corners_mm * wrong.get(s.card, 1.0)) for s in scene.sightings],
        )


# --- what cannot be measured ---------------------------------------------------------------------


def test_one_card_only():
    scene = sighted(1, cards=four_mark_cards()[:1])
    with pytest.raises(SurveyError, match=r"Only one card \(card \d+\) .* lay at least four"):
        survey(scene)


def test_two_cards_only():
    scene = sighted(1, cards=SINGLE[:2])
    with pytest.raises(SurveyError, match=r"Only two cards \(mark 0 and mark 1\)"):
        survey(scene)


def test_three_cards_are_measured_with_a_finding():
    findings = survey(sighted(1, cards=SINGLE[:3])).findings
    assert any("Only 3 cards" in finding.what for finding in findings)


def test_a_photograph_without_a_card_is_named():
    scene = sighted(1, photos=2)
    with pytest.raises(SurveyError, match=r"No card was found in photo_2\.jpg"):
        survey(scene, [s for s in scene.sightings if s.photo == 0])


def test_a_photograph_of_another_scene_with_the_same_cards_is_named():
    scene, other = sighted(1, photos=2), sighted(9)
    mixed = [s for s in scene.sightings if s.photo == 0]
    mixed += [replace(s, photo=1) for s in other.sightings]
    with pytest.raises(SurveyError, match=r"photo_2\.jpg do not lie as they do in photo_1\.jpg"):
        survey(scene, mixed)


@pytest.mark.parametrize(("shared", "which"), [(0, "no card"), (1, "only mark 5")])
def test_a_photograph_that_shares_too_few_cards_is_named(shared, which):
    scene, other = sighted(1, photos=2), sighted(9, cards=SINGLE[6 - shared : 12 - shared])
    mixed = [s for s in scene.sightings if s.photo == 0]
    mixed += [replace(s, photo=1) for s in other.sightings]
    with pytest.raises(SurveyError, match=rf"photo_2\.jpg shares {which} with"):
        survey(scene, mixed)


def test_cards_in_a_row_are_a_finding():
    scene = sighted(1, largest_tilt_deg=10.0)
    rng = np.random.default_rng(1)
    row = []
    for k, seen in enumerate(scene.sightings):
        place = Placement((-550.0 + 220.0 * k, 40.0 * (k % 2)), float(rng.uniform(-3, 3)))
        row.append(replace(seen, corners_px=scene.projected(seen, place)))
    assert any("nearly in one row" in finding.what for finding in survey(scene, row).findings)


def test_a_cropped_photograph_is_a_finding():
    scene = sighted(1)
    cropped = [
        replace(s, corners_px=s.corners_px + np.array([500.0, 400.0])) for s in scene.sightings
    ]
    assert any("hardly exists" in finding.what for finding in survey(scene, cropped).findings)
