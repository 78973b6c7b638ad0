"""Scans: scale from cards in them, along and across apart, or from a dpi that can be believed."""

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from shapecut.capture.cards import single_mark_cards
from shapecut.capture.marks import marks_if_any
from shapecut.capture.patterns import mark_cells
from shapecut.capture.photo import Photo
from shapecut.errors import CaptureError, SurveyError
from shapecut.survey.scan import survey_scans

CARDS = single_mark_cards("AprilTag 36h11", 40.0)
BLANK = Photo("scan.png", np.full((600, 500, 3), 250, np.uint8), dpi=(300.0, 300.0))


def scan_of(cards, *, dpi=(200.0, 198.0), stated=None, size_mm=(160.0, 120.0)):
    """A scan of 40 mm marks: (number, x and y of its middle in mm from the top left, turn)."""
    fine = 2
    per_mm = np.array(dpi) / 25.4
    width, height = (round(s * p) for s, p in zip(size_mm, per_mm, strict=True))
    light = np.full((height * fine, width * fine), 245.0, np.float32)
    for number, x, y, turn in cards:
        cells = mark_cells("AprilTag 36h11", number)
        drawn = np.kron(np.where(cells, 20, 245), np.ones((32, 32))).astype(np.float32)
        side = drawn.shape[0]
        # The pattern's frame has y down, the card's turn is counter-clockwise.
        c, s = math.cos(turn), math.sin(turn)
        mm = np.array([[c, s], [-s, c]]) * 40.0 / side
        px = np.diag(per_mm * fine) @ mm
        middle = np.array([x, y]) * per_mm * fine - 0.5
        shift = middle - px @ np.full(2, (side - 1) / 2)
        warp = np.column_stack([px, shift])
        over = cv2.warpAffine(
            drawn, warp, light.shape[::-1], flags=cv2.INTER_LINEAR, borderValue=245.0
        )
        light = np.minimum(light, over)
    light = cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA)
    pixels = np.repeat(np.round(light).astype(np.uint8)[:, :, None], 3, axis=2)
    return Photo("scan.png", pixels, dpi=stated)


def survey_scan(scan, cards):
    """The survey of one scan by the marks seen in it."""
    return survey_scans([scan], marks_if_any(scan, 0, cards).sightings, relative_u=cards.relative_u)


TWO = [(3, 40.0, 40.0, 0.2), (7, 115.0, 80.0, -2.3)]


def test_cards_give_both_scales_whatever_the_file_states():
    survey = survey_scan(scan_of(TWO, stated=(72.0, 72.0)), CARDS)
    (view,) = survey.views
    assert np.array(view.mm_per_px) == pytest.approx([25.4 / 200, 25.4 / 198], rel=3e-4)
    assert survey.relative_u == CARDS.relative_u
    assert survey.residual_px < 0.1
    assert survey.findings == ()
    here = {card.name: card.placement for card in survey.cards}
    apart = np.subtract(here["mark 7"].origin, here["mark 3"].origin)
    assert apart == pytest.approx([75.0, -40.0], abs=0.05)
    assert math.remainder(here["mark 7"].turn_rad + 2.3, math.tau) == pytest.approx(0, abs=0.002)


def test_one_card_is_enough_in_a_scan():
    (view,) = survey_scan(scan_of(TWO[:1]), CARDS).views
    assert np.array(view.mm_per_px) == pytest.approx([25.4 / 200, 25.4 / 198], rel=5e-4)


def test_without_cards_the_dpi_is_believed_and_said_so():
    survey = survey_scan(replace(BLANK, dpi=(300.0, 600.0)), CARDS)
    (view,) = survey.views
    corners = view.mm_from_px(np.array([[0.0, 0.0], [300.0, 600.0]]))
    assert corners[1] - corners[0] == pytest.approx([25.4, -25.4])
    assert survey.cards == ()
    (finding,) = survey.findings
    assert "300 x 600 dpi" in finding.what


def test_cards_and_dpi_that_differ_are_a_finding():
    (finding,) = survey_scan(scan_of(TWO, stated=(150.0, 150.0)), CARDS).findings
    assert "the cards were believed" in finding.what


@pytest.mark.parametrize(
    ("dpi", "sentence"),
    [
        (None, r"scan\.png does not state its resolution and shows no card: scan again"),
        ((72.0, 72.0), r"scan\.png states 72 x 72 dpi, which is no scanner's resolution"),
        ((1e6, 1e6), r"which is no scanner's resolution"),
    ],
)
def test_a_scan_without_scale_is_refused(dpi, sentence):
    with pytest.raises(SurveyError, match=sentence):
        survey_scan(replace(BLANK, dpi=dpi), CARDS)


def test_one_card_twice_in_a_scan_is_refused():
    with pytest.raises(CaptureError, match=r"scan\.png shows mark 3 twice"):
        survey_scan(scan_of([(3, 40.0, 40.0, 0.2), (3, 115.0, 80.0, 1.0)]), CARDS)
