"""Openings in a frame, traced in rendered photographs without any template."""

from dataclasses import replace

import numpy as np
import pytest

from shapecut.capture.cards import our_cards
from shapecut.capture.marks import find_marks
from shapecut.errors import TraceError
from shapecut.findings import Level
from shapecut.survey.survey import Survey
from shapecut.trace.drawn import Drawn, ShownAs
from shapecut.trace.slab import Slab
from shapecut.trace.trace import trace_template
from tests.openings import frame_round, opening_photos
from tests.renderer import Floor
from tests.scenes import looks_round, outline_of, phone_camera, rounded
from tests.test_trace_template import farthest_mm, kinds

#    |‾‾‾‾‾‾‾|
#    |    |‾‾      a step, open to the ground 140 mm below
#    |____|
OPENING = outline_of(
    rounded([(-420, -260), (420, -260), (430, 270), (130, 262), (128, 60), (-422, 55)])
)
TIMBER, SHADED = (0.42, 0.30, 0.18), (0.20, 0.14, 0.08)
GROUNDS = {
    "shade": Floor(colour=(0.05, 0.05, 0.04), grain=0.3, grain_mm=(8.0, 8.0)),
    "grass": Floor(colour=(0.07, 0.12, 0.03), grain=0.4, grain_mm=(6.0, 6.0)),
    "gravel": Floor(colour=(0.50, 0.50, 0.48), grain=0.25, grain_mm=(9.0, 9.0)),
}


def traced(scene, *, count, cut_at_mm=None):
    views = looks_round(phone_camera(), count=count, distance_mm=1500.0, tilt_deg=18.0)
    photos = opening_photos(scene, views)
    if cut_at_mm is not None:
        right = int(views[0].px_from_mm(np.array([[cut_at_mm, 0.0, 0.0]]))[0, 0])
        photos = [replace(photo, pixels=photo.pixels[:, :right].copy()) for photo in photos]
    marks = [
        sighting
        for k, photo in enumerate(photos)
        for sighting in find_marks(photo, k, our_cards()).sightings
    ]
    survey = Survey(views, (), 0.0, 1e-4, 0.02, 0.03)
    slab = Slab.under_cards(0.0)
    return trace_template(photos, survey, marks, slab, shown=ShownAs(Drawn.OPENING))


def frame(ground, opening=OPENING):
    return frame_round(opening, depth_mm=140.0, face=TIMBER, wall=SHADED, ground=GROUNDS[ground])


@pytest.mark.parametrize("ground", GROUNDS)
def test_the_rim_is_followed_and_not_the_foot_of_the_walls(ground):
    """The walls in sight are some 40 mm wide in the picture's plane."""
    found = traced(frame(ground), count=2).outline
    assert kinds(found) == kinds(OPENING)
    assert farthest_mm(found, OPENING) < 0.4


def test_one_photograph_from_one_side_sees_the_far_walls_and_still_follows_the_rim():
    found = traced(frame("shade"), count=1).outline
    assert kinds(found) == kinds(OPENING)
    assert farthest_mm(found, OPENING) < 0.4


def test_walls_in_nearly_the_tone_of_the_face_are_never_followed_without_a_word():
    """Grey on grey: far walls are taken for the face; their tops run outside the outline."""
    wall = (0.19, 0.19, 0.185)
    scene = frame_round(
        OPENING, depth_mm=140.0, face=(0.25, 0.25, 0.25), wall=wall, ground=GROUNDS["gravel"]
    )
    found = traced(scene, count=1)
    wrong = farthest_mm(found.outline, OPENING) > 1.0
    told = [f for f in found.findings if f.what.startswith("Another edge runs along")]
    assert bool(told) == wrong
    assert all(finding.level is Level.SERIOUS for finding in told)


def test_a_face_without_an_opening_is_refused():
    speck = outline_of(rounded([(-9, -9), (9, -9), (9, 9), (-9, 9)]))
    scene = frame("shade", speck)
    with pytest.raises(TraceError, match="No opening stands out"):
        traced(scene, count=1)


def test_an_opening_that_leaves_the_picture_is_refused_by_its_side():
    with pytest.raises(TraceError, match=r"deck_1\.jpg: the opening reaches the right side"):
        traced(frame("shade"), count=1, cut_at_mm=320.0)
