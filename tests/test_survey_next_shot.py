"""What would help most: the foretold uncertainty is what the proposed measurement then gives."""

import math
from dataclasses import replace

import numpy as np
import pytest

from shapecut.capture.sighting import Sighting
from shapecut.survey.adjust import adjusted_photos
from shapecut.survey.next_shot import SIDES, next_shot
from shapecut.survey.tapes import Tape
from tests.scenes import look_at
from tests.sighted import SINGLE, Sighted, sighted

PRINT_U = 0.003


def adjusted(scene: Sighted, *, relative_u: float, tapes: tuple[Tape, ...] = ()):
    return adjusted_photos(scene.photos, scene.sightings, relative_u=relative_u, tapes=tapes).joint


def with_photo(scene: Sighted, side: str, tilt_deg: float, distance_mm: float) -> Sighted:
    """The scene with a photograph from where it was proposed."""
    right = scene.views[0].rotation[0]
    azimuth = math.atan2(right[1], right[0]) + math.tau * SIDES.index(side) / len(SIDES)
    plane = [
        scene.placements[s.card].points_to_plane(s.corners_mm)
        for s in scene.sightings
        if s.photo == 0
    ]
    middle = np.append(np.concatenate(plane).mean(axis=0), 0.0)
    tilt = math.radians(tilt_deg)
    out = (math.sin(tilt) * math.cos(azimuth), math.sin(tilt) * math.sin(azimuth), math.cos(tilt))
    new = len(scene.views)
    camera = scene.views[0].camera
    view = look_at(camera, tuple(middle + distance_mm * np.array(out)), tuple(middle), photo=new)
    rng = np.random.default_rng(7)
    seen = [
        Sighting(
            new, s.card, s.mark, scene_px + rng.normal(0, s.u_px, (4, 2)), s.corners_mm, s.u_px
        )
        for s in scene.sightings
        if s.photo == 0
        for scene_px in [view.px_from_mm(scene.placements[s.card].points_to_plane(s.corners_mm))]
    ]
    photo = replace(scene.photos[0], name="proposed.jpg")
    return Sighted(
        (*scene.photos, photo), (*scene.sightings, *seen), (*scene.views, view), scene.placements
    )


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_proposed_photograph_brings_what_was_foretold(seed):
    scene = sighted(seed, cards=SINGLE[:6], noise_px=0.1)
    before = next_shot(adjusted(scene, relative_u=1e-6))
    best = before.photo
    assert best is not None
    assert best.u_mm < 0.8 * before.u_mm
    taken = with_photo(scene, best.side, best.tilt_deg, best.distance_mm)
    after = next_shot(adjusted(taken, relative_u=1e-6))
    assert after.u_mm == pytest.approx(best.u_mm, rel=0.35)
    # And it is a better one than the photograph from where the first was taken already.
    again = replace(scene.photos[0], name="again.jpg")
    same = [replace(s, photo=1) for s in scene.sightings]
    twice = Sighted(
        (*scene.photos, again), (*scene.sightings, *same), scene.views, scene.placements
    )
    assert after.u_mm < next_shot(adjusted(twice, relative_u=1e-6)).u_mm


def test_the_proposed_tape_brings_what_was_foretold():
    """With an unmeasured print, a tape is what helps, and over a long distance."""
    scene = sighted(4, cards=SINGLE[:6], photos=2)
    before = next_shot(adjusted(scene, relative_u=PRINT_U))
    best = before.tape
    assert best is not None
    assert best.u_mm < 0.5 * before.u_mm
    assert before.shape_u_mm < 0.2 * before.u_mm
    ends = [np.array(scene.placements[card].origin) for card in (best.start, best.end)]
    length = float(np.linalg.norm(ends[1] - ends[0]))
    assert best.length_mm == pytest.approx(length, rel=0.01)
    assert length > 900
    tape = Tape(best.start, best.end, length)
    after = next_shot(adjusted(scene, relative_u=PRINT_U, tapes=(tape,)))
    assert after.u_mm == pytest.approx(best.u_mm, rel=0.05)
    assert after.tape is not None
    assert {after.tape.start, after.tape.end} != {best.start, best.end}


def test_sides_are_named_as_the_first_photograph_shows_them():
    """One steep photograph from the near side: a further one is wanted from anywhere else."""
    for seed in range(4):
        scene = sighted(seed, cards=SINGLE[:6], noise_px=0.1)
        shot = next_shot(adjusted(scene, relative_u=1e-6)).photo
        assert shot is not None
        seen = with_photo(scene, shot.side, shot.tilt_deg, shot.distance_mm).views[-1]
        here, there = (
            scene.views[0].px_from_mm(np.array([place]))[0]
            for place in ((0.0, 0.0), tuple(seen.position[:2]))
        )
        if "right" in shot.side:
            assert there[0] > here[0]
        if "left" in shot.side:
            assert there[0] < here[0]
