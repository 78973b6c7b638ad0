"""Several scans of one template, joined by cards or points that two of them show."""

from dataclasses import replace

import numpy as np
import pytest

from shapecut.capture.cards import our_cards
from shapecut.errors import SurveyError, TraceError
from shapecut.findings import Level
from shapecut.job.reference import Reference
from shapecut.shape.placement import Placement
from shapecut.stages.measuring import measure_scans
from shapecut.survey.view import ScanView
from tests.drawn_scans import KRAFT, Scan, drawn_scan
from tests.outline_deviation import deviations_mm, rough_placement
from tests.renderer import LaidCard
from tests.scenes import outline_of, round_hole, rounded

#    ______|__|____          465 mm long, on a glass of 310 mm: each scan shows
#   |      |  | o  /         one end and the middle
#   (______|__|___/
OUTLINE = outline_of(
    rounded([(-230, -90), (200, -90), (235, 100), (-230, 95)], {0: 30.0}),
    round_hole((60.0, 10.0), 20.0),
)
BLACK = (30, 30, 32)
DPI = (150 * 1.002, 150 * 0.9985)
"""What the scanner really does where its files state 150."""
MM_PER_PX = (25.4 / DPI[0], 25.4 / DPI[1])
SIZE = (round(310 / MM_PER_PX[0]), round(400 / MM_PER_PX[1]))

BY_NAME = {card.name: card for card in our_cards().cards}
CARDS = (
    LaidCard(BY_NAME["card 101"], Placement((-40.0, 150.0), 0.1)),
    LaidCard(BY_NAME["card 102"], Placement((30.0, -140.0), -0.2)),
)


def scan_over(index, middle, turn_rad):
    """A scan with its middle at a place of the plane."""
    view = ScanView(index, MM_PER_PX, ((SIZE[0] - 1) / 2, (SIZE[1] - 1) / 2))
    return Scan(view.placed(Placement(middle, turn_rad)), SIZE)


LEFT, RIGHT = scan_over(0, (-110.0, 0.0), 0.02), scan_over(1, (115.0, 5.0), -0.03)


def drawn(*scans, cards=CARDS, colour=KRAFT):
    names = ("left.png", "right.png")
    return [
        drawn_scan(scan, name, OUTLINE, cards, colour=colour)
        for scan, name in zip(scans, names, strict=False)
    ]


def farthest_mm(found):
    off = deviations_mm(found.outline, OUTLINE, rough_placement(found.outline, OUTLINE))
    return float(np.abs(off).max())


@pytest.mark.parametrize("colour", [KRAFT, BLACK], ids=["kraft", "black"])
@pytest.mark.parametrize("turn_rad", [-0.03, 3.1, -1.55])
def test_two_scans_joined_by_cards_come_back_to_a_tenth_of_a_millimetre(colour, turn_rad):
    found = measure_scans(
        drawn(LEFT, scan_over(1, (115.0, 5.0), turn_rad), colour=colour), our_cards()
    )
    assert len(found.outline.edges) == len(OUTLINE.edges)
    assert farthest_mm(found) < 0.1
    assert {samples.photo for samples in found.traced.samples} == {0, 1}
    for view in found.survey.views:
        assert view.mm_per_px == pytest.approx(MM_PER_PX, rel=3e-4)


def test_one_card_in_both_scans_joins_them():
    found = measure_scans(drawn(LEFT, RIGHT, cards=CARDS[:1]), our_cards())
    assert farthest_mm(found) < 0.15
    (card,) = found.survey.cards
    assert card.photos == (0, 1)


def test_cards_and_dpi_are_compared_for_every_scan():
    findings = measure_scans(drawn(LEFT, RIGHT), our_cards()).findings
    notes = [note for note in findings if "the scale that its dpi state" in note.what]
    assert [note.where for note in notes] == ["left.png", "right.png"]
    for note in notes:
        assert note.level is Level.NOTE
        assert "-0.20% along its width" in note.what
        assert "+0.15% along its height" in note.what or "+0.14% along its height" in note.what


def points_in(*scans, seen_by=None):
    """Three spots on the template, pointed at to a fraction of a pixel."""
    rng = np.random.default_rng(5)
    names = ("left.png", "right.png")
    points = []
    for name, place in {"A": (-35.0, 60.0), "B": (30.0, -60.0), "C": (-30.0, -70.0)}.items():
        seen = {
            scan_name: (
                scan.view.px_from_mm(np.array([place]))[0] + rng.uniform(-0.5, 0.5, 2)
            ).tolist()
            for scan, scan_name in zip(scans, names, strict=True)
            if name in (seen_by or {}).get(scan_name, "ABC")
        }
        points.append({"name": name, "seen": seen})
    return Reference(points=points)


def true_dpi(scans):
    return [replace(scan, stated_dpi=DPI) for scan in scans]


def test_scans_without_cards_are_joined_by_points_and_scaled_by_their_dpi():
    scans = true_dpi([LEFT, RIGHT])
    photos = drawn(*scans, cards=())
    found = measure_scans(photos, our_cards(), reference=points_in(*scans))
    # Half a pixel is 0.08 mm, on a base of 140 mm for a template of 465 mm.
    assert farthest_mm(found) < 0.4
    notes = [finding.what for finding in found.findings if "good to about" in finding.what]
    assert len(notes) == 2
    assert "150.3 x 149.775 dpi" in notes[0]


def test_the_precision_tells_what_the_join_adds():
    scans = true_dpi([LEFT, RIGHT])
    found = measure_scans(drawn(*scans, cards=()), our_cards(), reference=points_in(*scans))
    near, far = (_u_mm(found, scans, place) for place in ((0.0, -20.0), (235.0, 100.0)))
    assert far > 2 * near > 0


def _u_mm(found, scans, place):
    """Standard uncertainty of a place in the second scan, scale and stretch aside."""
    px = scans[1].view.px_from_mm(np.array([place]))
    return float(np.linalg.norm(found.survey.precision.factor(1, px)[:, :-2]))


def test_scans_that_share_nothing_are_refused():
    with pytest.raises(SurveyError, match=r"right\.png shares no card and no two points"):
        measure_scans(drawn(LEFT, RIGHT, cards=()), our_cards())
    one = points_in(LEFT, RIGHT, seen_by={"right.png": "A"})
    with pytest.raises(SurveyError, match=r"right\.png shares no card and no two points"):
        measure_scans(drawn(LEFT, RIGHT, cards=()), our_cards(), reference=one)


def test_a_card_that_slid_between_the_scans_is_named():
    left = drawn(LEFT)[0]
    slid = (CARDS[0], replace(CARDS[1], placement=Placement((34.0, -141.0), -0.2)))
    right = drawn_scan(RIGHT, "right.png", OUTLINE, slid)
    with pytest.raises(SurveyError, match=r"The scans contradict each other at card 10[12], by"):
        measure_scans([left, right], our_cards())


def test_a_template_that_no_scan_shows_whole_is_refused_by_its_side():
    with pytest.raises(TraceError, match=r"left\.png: the template reaches the right side"):
        measure_scans(drawn(LEFT), our_cards())
