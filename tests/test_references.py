"""References without cards: a sheet of paper and taped points, alone and with their mistakes."""

import math
from itertools import combinations

import numpy as np
import pytest

from shapecut.capture.cards import our_cards
from shapecut.capture.photo import Photo
from shapecut.capture.sighting import STATED_U_PX
from shapecut.errors import CaptureError, SurveyError
from shapecut.findings import Level
from shapecut.job.reference import Reference
from shapecut.stages.measuring import measure
from shapecut.stages.references import pointed_at
from shapecut.survey.adjust import survey_photos
from shapecut.survey.start import rigid_fit
from tests.outline_deviation import deviations_mm, rough_placement
from tests.references import laid_sheet, pointed_points, pointed_sheet
from tests.renderer import Scene, Shot, photographed
from tests.scenes import FLOORS, OUTLINES, looks_round, phone_camera

OUTLINE = OUTLINES["notched step"]
SHEET = laid_sheet((60.0, -540.0), 0.3, (297.0, 420.0))

#    D . . F . . C
#    . template  .
#    A . . E . . B
FOUR = {"A": (-560.0, -400.0), "B": (560.0, -380.0), "C": (500.0, 420.0), "D": (-590.0, 390.0)}
SIX = FOUR | {"E": (0.0, -450.0), "F": (20.0, 470.0)}


def views_named(count, *, size=(1800, 1350), tilt_deg=20.0, first_deg=-90.0):
    """Views from all round, by the photograph's name."""
    looks = looks_round(
        phone_camera(*size), count=count, distance_mm=2000.0, tilt_deg=tilt_deg, first_deg=first_deg
    )
    return {f"hall_{k + 1}.jpg": view for k, view in enumerate(looks)}


def blank_photos(views):
    """Pictures of which only the size counts."""
    blank = np.broadcast_to(np.uint8(0), (*next(iter(views.values())).camera.size[::-1], 3))
    return [Photo(name, blank, "one camera", 26.0) for name in views]


# --- a sheet -------------------------------------------------------------------------------------


def sheet_photos(views):
    scene = Scene(OUTLINE, 4.0, floor=FLOORS["planks"], cards=(SHEET,))
    return [photographed(scene, Shot(view, oversampling=1), name) for name, view in views.items()]


def test_a_template_is_measured_by_one_sheet_in_one_photograph():
    views = views_named(1)
    reference = Reference(sheets=[pointed_sheet(SHEET, "A3", views)])
    found = measure(sheet_photos(views), our_cards(), thickness_mm=4.0, reference=reference)
    off = deviations_mm(found.outline, OUTLINE, rough_placement(found.outline, OUTLINE))
    assert np.abs(off).max() < 1.2
    (card,) = found.survey.cards
    assert card.name == "A3 sheet"
    lone = [finding for finding in found.findings if finding.where == "A3 sheet"]
    assert "Everything was measured from it alone" in lone[0].what


@pytest.mark.parametrize("off_px", [0.0, 2.0])
def test_corners_of_a_sheet_are_refined_to_a_tenth_of_a_pixel(off_px):
    views = views_named(2)
    reference = Reference(sheets=[pointed_sheet(SHEET, "A3", views, off_px=off_px)])
    corners = SHEET.placement.points_to_plane(SHEET.paper_mm())
    sightings = pointed_at(sheet_photos(views), reference).sightings
    assert len(sightings) == 2
    for seen, view in zip(sightings, views.values(), strict=True):
        assert np.abs(seen.corners_px - view.px_from_mm(corners)).max() < 0.1
        assert seen.u_px < STATED_U_PX / 2


def test_a_sheet_whose_edges_are_not_seen_is_taken_as_stated():
    views = views_named(1)
    stated = pointed_sheet(SHEET, "A3", views)
    (seen,) = pointed_at(blank_photos(views), Reference(sheets=[stated])).sightings
    assert seen.corners_px == pytest.approx(np.array(stated["seen"]["hall_1.jpg"]))
    assert seen.u_px >= STATED_U_PX


@pytest.mark.parametrize("order", [(0, 1, 2, 3), (1, 0, 3, 2), (2, 3, 0, 1), (3, 2, 1, 0)])
def test_a_sheet_may_be_gone_round_either_way_from_either_short_side(order):
    views = views_named(1)
    stated = pointed_sheet(SHEET, "A3", views, off_px=0.0)
    corners = stated["seen"]["hall_1.jpg"]
    stated["seen"] = {"hall_1.jpg": [corners[k] for k in order]}
    (seen,) = pointed_at(blank_photos(views), Reference(sheets=[stated])).sightings
    plane = views["hall_1.jpg"].mm_from_px(seen.corners_px)
    assert rigid_fit(seen.corners_mm, plane)[1] < 0.2


def test_corners_that_are_none_of_a_sheet_are_refused():
    photos = blank_photos(views_named(1))

    def point(*corners):
        pointed_at(photos, Reference(sheets=[{"paper": "A4", "seen": {"hall_1.jpg": corners}}]))

    with pytest.raises(CaptureError, match=r"A4 sheet has a corner at pixel \(1900, 50\), outside"):
        point((10, 10), (1900, 50), (1900, 900), (10, 900))
    with pytest.raises(CaptureError, match=r"do not go round a sheet: state them one after"):
        point((10, 10), (900, 900), (900, 10), (10, 900))
    with pytest.raises(CaptureError, match=r"A4 sheet is too small in hall_1\.jpg"):
        point((10, 10), (30, 10), (30, 40), (10, 40))


# --- points --------------------------------------------------------------------------------------


def grid_error_mm(survey, views):
    """Root mean square error per axis of plane points among the references."""
    grid = np.array([(x, y) for x in np.linspace(-450, 450, 5) for y in np.linspace(-300, 300, 5)])
    off = []
    for found, true in zip(survey.views, views.values(), strict=True):
        _, misfit = rigid_fit(found.mm_from_px(true.px_from_mm(grid)), grid)
        off.append(misfit / math.sqrt(2))
    return float(np.sqrt(np.mean(np.square(off))))


def surveyed(points, *, seed, count, misread=None):
    rng = np.random.default_rng(seed)
    views = views_named(count, size=(4000, 3000), first_deg=float(rng.uniform(0, 360)))
    photos = blank_photos(views)
    pointed = pointed_at(photos, pointed_points(points, views, rng=rng, misread=misread))
    survey = survey_photos(photos, pointed.sightings, relative_u=pointed.relative_u, height_mm=0.0)
    return pointed, survey, grid_error_mm(survey, views)


@pytest.mark.parametrize(("points", "count"), [(FOUR, 1), (FOUR, 2), (SIX, 1), (SIX, 3)])
def test_a_plane_is_measured_by_taped_points_alone(points, count):
    found = [surveyed(points, seed=seed, count=count) for seed in range(12)]
    errors = np.array([error for *_, error in found])
    stated = np.array([survey.point_u_mm for _, survey, _ in found])
    assert np.sqrt(np.mean(errors**2)) < np.sqrt(np.mean(stated**2))
    assert np.median(errors) < (2.5 if points is FOUR else 1.0)
    for pointed, survey, _ in found:
        (note,) = pointed.findings
        assert note.level is Level.NOTE
        assert all(f"{a}–{b}" in note.what for a, b in combinations(points, 2))
        assert [card.name for card in survey.cards] == ["taped points"]


@pytest.mark.parametrize(("points", "count"), [(FOUR, 2), (SIX, 1)])
def test_a_misread_tape_is_named_with_what_was_expected(points, count):
    pairs = list(combinations(points, 2))
    for seed in range(12):
        rng = np.random.default_rng(seed)
        a, b = pairs[rng.integers(len(pairs))]
        true = math.dist(points[a], points[b])
        wrong = round(true + float(rng.uniform(150, 400)))
        pointed, _, error = surveyed(points, seed=seed, count=count, misread={(a, b): wrong})
        odd, _ = pointed.findings
        assert odd.where == f"tape from {a} to {b}"
        assert f"It reads {wrong} mm" in odd.what
        expected, spread = map(float, odd.what.split("expect ")[1].split(" mm")[0].split(" ± "))
        assert abs(expected - true) < 2 * max(spread, 1.0)
        assert error < 6.0


def test_tapes_that_a_photograph_cannot_tell_apart_are_serious_and_widen_the_result():
    """One photograph of four points in a plain square from straight above."""
    pointed, *_ = surveyed(FOUR, seed=3, count=1)
    mild = {("A", "B"): math.dist(FOUR["A"], FOUR["B"]) + 14.0}
    doubtful, *_ = surveyed(FOUR, seed=3, count=1, misread=mild)
    assert doubtful.findings[0].level is Level.SERIOUS
    assert "contradict each other" in doubtful.findings[0].what
    unsure, sure = ([seen.u_px for seen in one.sightings] for one in (doubtful, pointed))
    assert min(unsure) > 2 * max(sure)
    assert len(pointed.findings) == 1


def test_points_that_a_photograph_does_not_show_whole_are_refused():
    views = views_named(2)
    reference = pointed_points(SIX, views, rng=np.random.default_rng(1))

    def without(*hidden):
        stated = reference.model_dump(mode="json")
        for point in stated["points"]:
            for name, photo in hidden:
                if point["name"] == name:
                    del point["seen"][photo]
        stated["tapes"] = [
            {"between": tape["between"], "length": f"{tape['length']} mm"}
            for tape in stated["tapes"]
        ]
        return Reference.model_validate(stated)

    with pytest.raises(SurveyError, match=r"hall_2\.jpg shows only 3 of the taped points \(D"):
        pointed_at(blank_photos(views), without(*((name, "hall_2.jpg") for name in "ABC")))
    with pytest.raises(SurveyError, match=r"No photograph shows all the taped points A, B"):
        pointed_at(blank_photos(views), without(("A", "hall_1.jpg"), ("B", "hall_2.jpg")))
