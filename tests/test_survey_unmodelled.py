"""What the model lacks is seen in the residuals, and told from the noise of single marks."""

import math

import numpy as np
import pytest

from shapecut.survey.adjust import adjusted_photos
from shapecut.survey.lens_field import LensField
from shapecut.survey.spread import Evidence
from shapecut.survey.unmodelled import Unmodelled, unmodelled
from tests.sighted import four_mark_cards
from tests.survey_scenes import random_scene

SUPPOSED = 0.3


def lacking(seed: int, **spoilt: float) -> tuple[Unmodelled, float]:
    """What is found of three photographs, and the variance factor with nothing told apart."""
    scene = random_scene(seed, four_mark_cards()[:6], photos=3, **spoilt)
    joint = adjusted_photos(scene.photos, scene.sightings, relative_u=1e-6).joint
    return unmodelled(joint.solution, joint.corners), joint.solution.variance_factor


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_wave_over_the_picture_is_found_and_told_from_noise(seed):
    """0.3 px of amplitude is 0.21 px of standard deviation; the lens model takes a part of it."""
    found, together = lacking(seed, wave_px=0.3)
    assert 0.1 < found.lens_px < 0.4
    assert together > 1.25
    assert found.variance_factor < 1.25


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_of_a_lens_as_modelled_little_is_made_up(seed):
    found, _ = lacking(seed)
    assert found.lens_px < 0.04
    assert found.variance_factor < 1.2
    assert found.noise_px == 0


def test_a_field_displaces_every_pixel_alike():
    field = LensField((4000, 3000))
    px = np.random.default_rng(1).uniform(0, (3999, 2999), (50, 2))
    moved = field.displacements(px)
    assert moved.shape == (50, 2, field.bumps)
    covariance = moved @ moved.swapaxes(1, 2)
    np.testing.assert_allclose(covariance, np.broadcast_to(np.eye(2), (50, 2, 2)), atol=1e-12)


def evidence(values: np.ndarray, u: float) -> Evidence:
    """Of unknowns that were each measured with a standard uncertainty."""
    return Evidence.of(np.eye(len(values)) / u**2, values / u**2)


@pytest.mark.parametrize("spread", [0.1, 0.3, 1.0])
def test_a_spread_is_found_where_the_unknowns_are_determined(spread):
    values = np.random.default_rng(5).normal(0, spread, 400)
    assert evidence(values, 0.02).spread(SUPPOSED) == pytest.approx(spread, rel=0.1)


def test_a_spread_stays_as_supposed_where_nothing_is_determined():
    nothing = evidence(np.zeros(6), 1e4)
    assert nothing.spread(SUPPOSED) == pytest.approx(SUPPOSED, rel=0.1)
    assert nothing.spread(SUPPOSED, absent=0.5) == pytest.approx(SUPPOSED * math.sqrt(0.5), rel=0.1)


def test_unknowns_that_do_not_spread_are_told_apart_from_noise():
    noise = np.random.default_rng(6).normal(0, 0.1, 400)
    assert evidence(noise, 0.1).spread(SUPPOSED) < 0.05
    fall, determined = evidence(noise, 0.1).explained(SUPPOSED)
    assert determined == pytest.approx(400 * 0.9, rel=1e-6)
    assert fall == pytest.approx(0.9 * float(np.sum((noise / 0.1) ** 2)), rel=1e-6)
