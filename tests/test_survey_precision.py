"""The covariance of plane points: what errors of real surveys are, in any frame, with scale."""

import math

import numpy as np
import pytest

from shapecut.capture.cards import our_cards
from shapecut.capture.marks import marks_if_any
from shapecut.capture.photo import Photo
from shapecut.shape.placement import Placement
from shapecut.survey.adjust import survey_photos
from shapecut.survey.precision import across_u_mm, distance_u_mm
from shapecut.survey.scan import SCANNER_RELATIVE_U, SCANNER_U_MM, survey_scans
from shapecut.survey.start import rigid_fit
from tests.sighted import four_mark_cards, sighted

ENDS = np.array([[-450.0, -300.0], [420.0, 330.0]])
HEIGHT_MM = 4.0
CARDS = four_mark_cards()[:6]


def survey(scene, relative_u=0.0):
    return survey_photos(scene.photos, scene.sightings, relative_u=relative_u, height_mm=HEIGHT_MM)


def seen(view, points):
    """Pixels of (N, 2) points on the template's face."""
    return view.px_from_mm(np.column_stack([points, np.full(len(points), HEIGHT_MM)]))


def framed_by_cards(scene, surveyed, points):
    """Measured points in the true frame, the cards as a whole laid on their true places."""
    corners = {seen.card: seen.corners_mm for seen in scene.sightings}
    true = np.concatenate(
        [scene.placements[c.name].points_to_plane(corners[c.name]) for c in surveyed.cards]
    )
    found = np.concatenate([c.placement.points_to_plane(corners[c.name]) for c in surveyed.cards])
    return rigid_fit(found, true)[0].points_to_plane(points)


@pytest.mark.parametrize("photos", [1, 3])
def test_errors_of_points_are_as_large_as_their_covariance_says(photos):
    squares = []
    for seed in range(40):
        scene = sighted(seed, photos=photos, uneven_mm=0.3)
        surveyed = survey(scene)
        px = seen(scene.views[-1], ENDS)
        measured = surveyed.views[-1].mm_from_px(px, HEIGHT_MM)
        error = (framed_by_cards(scene, surveyed, measured) - ENDS).ravel()
        frame, _ = rigid_fit(surveyed.views[-1].mm_from_px(px, HEIGHT_MM), ENDS)
        covariance = surveyed.precision.placed(frame).covariance(photos - 1, px, HEIGHT_MM)
        squares.append(error @ np.linalg.solve(covariance, error))
    # A sum of four squares of standard deviates, forty times over: 4 ± 0.45.
    assert 2.6 < float(np.mean(squares)) < 5.4


def test_a_distance_carries_scale_in_proportion():
    scene = sighted(3)
    px = seen(scene.views[0], ENDS)
    surveyed = survey(scene, relative_u=0.001)
    ends = surveyed.views[0].mm_from_px(px, HEIGHT_MM)
    exact = distance_u_mm(survey(scene).precision, 0, ends, px, HEIGHT_MM)
    scaled = distance_u_mm(surveyed.precision, 0, ends, px, HEIGHT_MM)
    assert scaled == pytest.approx(math.hypot(exact, 0.001 * math.dist(*ENDS)), rel=1e-3)


def test_the_frame_is_only_turned_by_placing():
    scene = sighted(3, photos=2)
    surveyed = survey(scene, relative_u=0.001)
    placement = Placement((300.0, -120.0), 0.7)
    moved = surveyed.placed(placement)
    px = seen(scene.views[1], ENDS)
    before = surveyed.precision.covariance(1, px, HEIGHT_MM)
    after = moved.precision.covariance(1, px, HEIGHT_MM)
    turn = np.kron(
        np.eye(2), np.array([[math.cos(0.7), -math.sin(0.7)], [math.sin(0.7), math.cos(0.7)]])
    )
    assert after == pytest.approx(turn @ before @ turn.T)
    ends = surveyed.views[1].mm_from_px(px, HEIGHT_MM)
    assert distance_u_mm(moved.precision, 1, placement.points_to_plane(ends), px, HEIGHT_MM) == (
        pytest.approx(distance_u_mm(surveyed.precision, 1, ends, px, HEIGHT_MM))
    )


def test_points_of_several_photographs_are_correlated_through_camera_and_scale():
    scene = sighted(3, photos=2)
    surveyed = survey(scene, relative_u=0.001)
    px = np.concatenate([seen(scene.views[k], ENDS[k : k + 1]) for k in (0, 1)])
    joint = surveyed.precision.covariance([0, 1], px, HEIGHT_MM)
    assert joint.shape == (4, 4)
    assert joint[:2, :2] == pytest.approx(surveyed.precision.covariance(0, px[:1], HEIGHT_MM))
    assert np.abs(joint[:2, 2:]).max() > 0.1 * np.abs(joint).max()


def test_across_an_edge_is_the_part_along_its_normal():
    scene = sighted(3)
    surveyed = survey(scene, relative_u=0.001)
    px = seen(scene.views[0], ENDS)
    covariance = surveyed.precision.covariance(0, px, HEIGHT_MM)
    normals = np.array([[1.0, 0.0], [0.6, 0.8]])
    expected = [
        math.sqrt(n @ covariance[k : k + 2, k : k + 2] @ n)
        for k, n in ((0, normals[0]), (2, normals[1]))
    ]
    assert across_u_mm(surveyed.precision, 0, normals, px, HEIGHT_MM) == pytest.approx(expected)


def test_a_scan_may_differ_in_scale_between_glass_and_feed():
    photo = Photo("scan.png", np.full((400, 600, 3), 255, np.uint8), dpi=(254.0, 254.0))
    seen = marks_if_any(photo, 0, our_cards()).sightings
    surveyed = survey_scans([photo], seen, relative_u=our_cards().relative_u)
    px = np.array([[0.0, 200.0], [500.0, 200.0]])
    ends = surveyed.views[0].mm_from_px(px)
    expected = math.hypot(50 * SCANNER_RELATIVE_U * math.sqrt(1.5), math.sqrt(2) * SCANNER_U_MM)
    assert distance_u_mm(surveyed.precision, 0, ends, px) == pytest.approx(expected)


def test_an_already_corrected_photograph_is_not_corrected_again():
    """What a straight lens leaves to fit is noise: distances stay true, within what is stated."""
    ratios, errors_mm = [], []
    for seed in range(10):
        scene = sighted(seed, cards=CARDS, corrected=True)
        surveyed = survey(scene)
        px = seen(scene.views[0], ENDS)
        ends = surveyed.views[0].mm_from_px(px, HEIGHT_MM)
        errors_mm.append(math.dist(*ends) - math.dist(*ENDS))
        ratios.append(errors_mm[-1] / distance_u_mm(surveyed.precision, 0, ends, px, HEIGHT_MM))
    assert 0.001 < float(np.abs(errors_mm).max()) < 0.2
    assert float(np.abs(ratios).max()) < 3


@pytest.mark.parametrize("corrected", [True, False])
def test_few_small_marks_are_bent_no_more_than_stated(corrected):
    """Six marks of some 40 pixels in a small picture cannot tell how the lens bends."""
    ratios = []
    for seed in range(20):
        scene = sighted(seed, corrected=corrected, noise_px=0.25)
        surveyed = survey(scene)
        px = seen(scene.views[0], ENDS)
        ends = surveyed.views[0].mm_from_px(px, HEIGHT_MM)
        u_mm = distance_u_mm(surveyed.precision, 0, ends, px, HEIGHT_MM)
        ratios.append((math.dist(*ends) - math.dist(*ENDS)) / u_mm)
    assert 0.4 < float(np.sqrt(np.mean(np.square(ratios)))) < 1.5
    assert float(np.mean(np.abs(ratios) < 2)) >= 0.9


def test_a_floor_that_shows_itself_even_is_taken_as_even():
    flat, uneven = (
        [survey(sighted(seed, cards=CARDS, photos=4, uneven_mm=mm)).point_u_mm for seed in range(3)]
        for mm in (0.0, 0.6)
    )
    assert 1.5 * np.mean(flat) < np.mean(uneven)
