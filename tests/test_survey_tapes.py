"""Taped distances: they hold the scale, a wrong one is named with what was expected."""

import math

import numpy as np
import pytest

from shapecut.errors import SurveyError
from shapecut.findings import Level
from shapecut.survey.adjust import survey_photos
from shapecut.survey.scale import scale_by_tape
from shapecut.survey.tapes import Tape
from tests.sighted import four_mark_cards, sighted

SPAN = np.array([[-500.0, -300.0], [480.0, 320.0]])


def taped_scene(seed, *, print_scale=1.0, photos=1):
    """A scene whose cards were printed at another scale than stated, and its three long tapes."""
    scene = sighted(seed, cards=four_mark_cards()[:6], photos=photos, print_scale=print_scale)
    names = list(scene.placements)
    tapes = [
        Tape(a, b, round(math.dist(scene.placements[a].origin, scene.placements[b].origin)))
        for a, b in zip(names[:3], names[3:], strict=True)
    ]
    return scene, tapes


def survey(scene, tapes, relative_u=0.003):
    return survey_photos(
        scene.photos, scene.sightings, relative_u=relative_u, height_mm=0.0, tapes=tapes
    )


def measured_mm(scene, surveyed):
    return math.dist(*surveyed.views[0].mm_from_px(scene.views[0].px_from_mm(SPAN)))


def test_tapes_hold_the_scale_that_the_print_leaves_unsure():
    for seed, print_scale in enumerate((0.994, 0.998, 1.003, 1.006)):
        scene, tapes = taped_scene(seed, print_scale=print_scale)
        alone, one, two = (survey(scene, tapes[:count]) for count in range(3))
        assert alone.relative_u == pytest.approx(0.003, rel=1e-4)
        assert alone.relative_u > 2 * one.relative_u
        assert one.relative_u > 1.2 * two.relative_u
        assert one.findings == two.findings == ()
        assert abs(measured_mm(scene, two) / math.dist(*SPAN) - 1) < 3 * two.relative_u
        assert two.precision.relative_u == two.relative_u


@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_mistyped_tape_is_named_with_the_length_that_was_expected(count):
    scene, tapes = taped_scene(4)
    right = tapes[0].length_mm
    wrong = Tape(tapes[0].start, tapes[0].end, right + 360)
    surveyed = survey(scene, [wrong, *tapes[1:count]])
    (finding,) = surveyed.findings
    assert finding.level is Level.SERIOUS
    assert finding.where == f"tape from {wrong.start} to {wrong.end}"
    said, expected, u95 = (
        float(word) for word in finding.what.replace(";", "").split() if word[0].isdigit()
    )
    assert said == right + 360
    assert expected == pytest.approx(right, abs=2 * u95)
    assert abs(measured_mm(scene, surveyed) / math.dist(*SPAN) - 1) < 3 * surveyed.relative_u


def test_two_tapes_that_agree_against_the_print_name_the_print():
    scene, tapes = taped_scene(5, print_scale=0.97)
    surveyed = survey(scene, tapes[:2])
    (finding,) = surveyed.findings
    assert (finding.level, finding.where) == (Level.SERIOUS, "cards")
    assert "printed at 97.0% of their stated size" in finding.what
    assert abs(measured_mm(scene, surveyed) / math.dist(*SPAN) - 1) < 3 * surveyed.relative_u


def test_cards_turned_every_way_tell_a_print_that_is_longer_along_than_across():
    scene, _ = taped_scene(6, print_scale=(1.003, 0.997), photos=2)
    surveyed = survey(scene, ())
    px = [
        scene.views[0].px_from_mm(np.array(ends))
        for ends in ([[-400.0, 0.0], [400.0, 0.0]], [[0.0, -400.0], [0.0, 400.0]])
    ]
    across, along = (math.dist(*surveyed.views[0].mm_from_px(ends)) for ends in px)
    assert across / along == pytest.approx(1, abs=3e-4)


def test_a_tape_to_a_card_that_nobody_sees():
    scene, tapes = taped_scene(1)
    with pytest.raises(
        SurveyError, match=r"from card 1 to card 99 ends at card 99, which no photo"
    ):
        survey(scene, [*tapes, Tape("card 1", "card 99", 800.0)])


@pytest.mark.parametrize(
    ("ends", "length_mm", "message"),
    [(("card 1", "card 1"), 500.0, "to itself"), (("card 1", "card 2"), 0.0, "cannot be 0 mm")],
)
def test_what_is_no_distance(ends, length_mm, message):
    with pytest.raises(SurveyError, match=message):
        Tape(*ends, length_mm)


def test_a_tape_over_the_template_scales_everything_alike():
    scene, _ = taped_scene(7, print_scale=1.004)
    before = survey(scene, ())
    length = measured_mm(scene, before)
    scale = scale_by_tape(
        before, measured_mm=length, shape_u_mm=0.1, taped_mm=math.dist(*SPAN), tape_u_mm=0.5
    )
    after = before.scaled(scale.factor, relative_u=scale.relative_u)
    assert after.relative_u == pytest.approx(0.51 / length, rel=0.02)
    assert measured_mm(scene, after) == pytest.approx(length * scale.factor)
    assert measured_mm(scene, after) == pytest.approx(math.dist(*SPAN), abs=0.1)
    first, last = (after.cards[k].placement.origin for k in (0, 3))
    assert math.dist(first, last) == pytest.approx(
        scale.factor * math.dist(before.cards[0].placement.origin, before.cards[3].placement.origin)
    )
    far = scale_by_tape(
        before, measured_mm=length, shape_u_mm=0.1, taped_mm=length + 60, tape_u_mm=0.5
    )
    assert far.off > 5 > scale.off
