"""Calibrated cameras: they come out within their stated uncertainty and hold for their own kind."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from shapecut.capture.chessboard import Chessboard
from shapecut.capture.photo import Photo
from shapecut.errors import CaptureError, JobFileError, SurveyError
from shapecut.papers.json_text import readable_json
from shapecut.stages.calibrating import calibrate_camera
from shapecut.survey.adjust import survey_photos
from shapecut.survey.calibrate import calibrated
from shapecut.survey.calibrated import CalibratedCamera
from shapecut.survey.camera_file import Basis, calibrated_from_text, camera_record
from shapecut.survey.start import rigid_fit
from shapecut.survey.upright import sensor_px, sensor_size, upright_camera
from shapecut.survey.view import Camera
from tests.scenes import phone_camera
from tests.sheet_pictures import looks_at_sheet, seen_sheet, sheet_photo
from tests.sighted import four_mark_cards, sighted

SHEET = Chessboard((10, 7), 25.0)
GRID = np.stack(np.meshgrid(np.linspace(-450, 450, 6), np.linspace(-350, 350, 5)), -1).reshape(
    -1, 2
)
NAMES = tuple(f"sheet_{k + 1}.jpg" for k in range(12))


def columns(camera: Camera) -> np.ndarray:
    return np.array([math.log(camera.focal_px), *camera.centre_px, *camera.distortion])


def sightings(camera: Camera, seed: int, *, count: int = 10, curl_mm: float = 0.0) -> list:
    """The sheet through exact cameras, with noise, and bent by a different amount each time."""
    rng = np.random.default_rng(seed)
    seen = []
    for view in looks_at_sheet(camera, SHEET, count=count, seed=seed):
        sheet = seen_sheet(view, SHEET, rng.normal(0, 0.1, SHEET.corners_mm.shape))
        along = (sheet.mm[:, 0] / np.ptp(sheet.mm[:, 0]) - 0.5) * 2
        flat = np.column_stack([sheet.mm * (1, -1), np.zeros(len(along))])
        bent = flat + np.outer(1 - along**2, (0, 0, rng.normal(0, 1) * curl_mm))
        seen.append(replace(sheet, px=sheet.px + view.px_from_mm(bent) - view.px_from_mm(flat)))
    return seen


@pytest.mark.parametrize("curl_mm", [0.0, 0.3], ids=["flat", "curled"])
def test_the_stated_uncertainty_holds(curl_mm):
    camera = phone_camera(1600, 1200, (-0.12, 0.05, 0.0006, -0.0004, 0.02))
    ratios = []
    for seed in range(20):
        made = calibrated(sightings(camera, seed, curl_mm=curl_mm), NAMES, camera.size)
        error = columns(made.camera) - columns(camera)
        ratios.append(error / np.sqrt(np.diag(made.covariance)))
    ratios = np.array(ratios)
    assert 0.6 < float(np.sqrt(np.mean(ratios**2))) < 1.25
    assert float(np.mean(np.abs(ratios) < 2)) > 0.9


def test_photographs_of_a_sheet_give_the_camera():
    camera = phone_camera(900, 675)
    photos = [sheet_photo(view, SHEET) for view in looks_at_sheet(camera, SHEET, count=6, seed=1)]
    made = calibrate_camera(photos, SHEET)
    off = columns(made.camera.camera) - columns(camera)
    assert np.all(np.abs(off) < 4 * np.sqrt(np.diag(made.camera.covariance)))
    assert off[0] == pytest.approx(0, abs=0.002)
    assert made.basis.photos == NAMES[:6]
    assert made.findings == ()


def test_a_photograph_of_a_bent_sheet_is_left_out_by_name():
    camera = phone_camera()
    seen = sightings(camera, 1)
    bent = seen[3].px + np.sin(seen[3].mm[:, :1] / 40) * (1.5, -1.0)
    made = calibrated([*seen[:3], replace(seen[3], px=bent), *seen[4:]], NAMES, camera.size)
    assert [finding.where for finding in made.findings] == ["sheet_4.jpg"]
    assert 3 not in made.used


def test_photographs_that_are_too_few_or_too_alike_are_refused():
    camera = phone_camera()
    with pytest.raises(SurveyError, match="Only 3 photographs"):
        calibrated(sightings(camera, 1, count=3), NAMES, camera.size)
    view = looks_at_sheet(camera, SHEET, count=1, seed=1)[0]
    rng = np.random.default_rng(1)
    alike = [seen_sheet(view, SHEET, rng.normal(0, 0.1, SHEET.corners_mm.shape)) for _ in range(5)]
    with pytest.raises(SurveyError, match="only to within"):
        calibrated(alike, NAMES, camera.size)


def blank(name: str, *, size=(1600, 1200), **facts: object) -> Photo:
    return Photo(name, np.broadcast_to(np.uint8(128), (size[1], size[0], 3)), **facts)


@pytest.mark.parametrize(
    ("other", "what"),
    [
        (blank("b.jpg", camera="Other", focal_35mm=26.0), "camera"),
        (blank("b.jpg", camera="Phone", focal_35mm=52.0), "zoom"),
        (blank("b.jpg", size=(1200, 1600), camera="Phone", focal_35mm=26.0), "picture size"),
    ],
)
def test_mixed_photographs_of_the_sheet_are_refused_by_name(other, what):
    first = blank("a.jpg", camera="Phone", focal_35mm=26.0)
    with pytest.raises(CaptureError, match=rf"b\.jpg differs from a\.jpg in its {what}"):
        calibrate_camera([first, other], SHEET)
    with pytest.raises(CaptureError, match=r"No photograph shows a sheet of 10 x 7 squares"):
        calibrate_camera([first], SHEET)


# --- the file, and the photographs it is for -----------------------------------------------------


def calibration(focus: str = "auto") -> CalibratedCamera:
    camera = phone_camera(1600, 1200, (-0.12, 0.05, 0.0006, -0.0004, 0.02))
    made = calibrated(sightings(camera, 4), NAMES, camera.size)
    return CalibratedCamera("phone.json", "Phone", 26.0, made.camera, made.covariance, focus)


def text_of(camera: CalibratedCamera) -> str:
    basis = Basis(sheet="10 x 7 squares of 25 mm", photos=NAMES, residual_px=0.1)
    return readable_json(camera_record(camera, basis).model_dump(mode="json"))


def test_the_file_gives_the_camera_back():
    written = calibration()
    read = calibrated_from_text(text_of(written), "phone.json")
    u = np.sqrt(np.diag(written.covariance))
    assert np.all(np.abs(columns(read.camera) - columns(written.camera)) < 0.01 * u)
    np.testing.assert_allclose(
        read.covariance / np.outer(u, u), written.covariance / np.outer(u, u), atol=0.02
    )
    assert (read.model, read.focal_35mm, read.focus) == ("Phone", 26.0, "auto")


@pytest.mark.parametrize(
    ("spoil", "match"),
    [
        (lambda record: record.pop("focal_px"), "focal_px"),
        (lambda record: record["k1"].update(u=0), "k1.u"),
        (lambda record: record["correlations"][0].pop(), "correlations"),
        (lambda record: record["correlations"][3].__setitem__(4, 1.5), "correlations"),
    ],
)
def test_a_spoiled_file_is_refused_by_the_place(spoil, match):
    record = json.loads(text_of(calibration()))
    spoil(record)
    with pytest.raises(JobFileError, match=rf"phone\.json.*{match}"):
        calibrated_from_text(json.dumps(record), "phone.json")
    with pytest.raises(JobFileError, match="not JSON"):
        calibrated_from_text("{", "phone.json")


@pytest.mark.parametrize(
    ("photo", "words"),
    [
        (blank("x.jpg", camera="Other"), "x.jpg was taken with a Other, but phone.json is for"),
        (blank("x.jpg", size=(800, 600)), "x.jpg has 800 x 600 pixels, but phone.json"),
        (blank("x.jpg", size=(1200, 1600)), "x.jpg has 1200 x 1600 pixels"),
        (blank("x.jpg", focal_35mm=52.0), "x.jpg was taken at 52 mm"),
    ],
)
def test_another_camera_size_or_zoom_is_refused_by_name(photo, words):
    with pytest.raises(SurveyError) as caught:
        calibration().known_for(photo)
    assert words in str(caught.value)
    assert str(caught.value).endswith(".")


def test_refocusing_widens_the_focal_length_and_a_fixed_lens_does_not():
    photo = blank("x.jpg", camera="Phone", focal_35mm=26.0)
    fixed, auto = calibration("fixed").known_for(photo), calibration("auto").known_for(photo)
    assert math.sqrt(auto.covariance[0, 0]) > 0.005 > math.sqrt(fixed.covariance[0, 0])
    np.testing.assert_allclose(fixed.covariance, calibration("fixed").covariance)


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_camera_turns_with_its_picture(orientation):
    """What the sensor's camera sees, turned upright, is what the upright camera sees."""
    camera = phone_camera(1600, 1200, (-0.2, 0.05, 0.004, -0.006, 0.02))
    upright = upright_camera(camera, orientation)
    assert sensor_size(upright.size, orientation) == camera.size
    rays = np.random.default_rng(1).uniform(-0.4, 0.4, (20, 2))
    seen = sensor_px(upright.px_from_rays(rays), upright.size, orientation)
    middle = np.array(upright.size) / 2 - 0.5
    bare = replace(
        upright, focal_px=1.0, centre_px=(float(middle[0]), float(middle[1])), distortion=(0,) * 5
    )
    sensor_rays = sensor_px(bare.px_from_rays(rays), upright.size, orientation)
    sensor_rays = sensor_rays - (np.array(camera.size) - 1) / 2
    np.testing.assert_allclose(camera.px_from_rays(sensor_rays), seen, atol=1e-9)


def test_a_turned_photograph_is_known_by_the_turned_camera():
    known = calibration()
    turned = known.known_for(blank("x.jpg", size=(1200, 1600), camera="Phone", orientation=6))
    assert turned.camera.size == (1200, 1600)
    level = known.known_for(blank("x.jpg", camera="Phone"))
    assert turned.covariance[2, 2] == pytest.approx(level.covariance[1, 1])
    assert turned.covariance[5, 5] == pytest.approx(level.covariance[6, 6])


# --- surveys that lean on it ---------------------------------------------------------------------

U = np.array([0.001, 1.0, 1.0, 0.003, 0.008, 1e-4, 1e-4, 0.008])
"""Standard uncertainties as a good calibration of a fixed lens states them."""


def known_camera(scene, seed: int, *, focal_factor: float = 1.0) -> CalibratedCamera:
    """The scene's own camera, off by what it is uncertain."""
    true = scene.views[0].camera
    off = np.random.default_rng(seed).normal(0, U)
    camera = replace(
        true,
        focal_px=true.focal_px * math.exp(off[0]) * focal_factor,
        centre_px=(true.centre_px[0] + off[1], true.centre_px[1] + off[2]),
        distortion=tuple(np.array(true.distortion) + off[3:]),
    )
    return CalibratedCamera("phone.json", "one camera", None, camera, np.diag(U**2), "fixed")


def test_a_calibrated_camera_takes_a_fifth_off_the_error_of_one_photograph():
    without, with_it, stated = [], [], []
    for seed in range(12):
        scene = sighted(seed, noise_px=0.1, tells_focal=True)
        known = known_camera(scene, seed)
        for calibration, errors in ((None, without), (known, with_it)):
            surveyed = survey_photos(
                scene.photos, scene.sightings, relative_u=1e-5, height_mm=0, calibrated=calibration
            )
            measured = surveyed.views[0].mm_from_px(scene.views[0].px_from_mm(GRID))
            errors.append(rigid_fit(GRID, measured)[1])
        stated.append(surveyed.point_u_mm)
    assert np.sqrt(np.mean(np.square(with_it))) < 0.8 * np.sqrt(np.mean(np.square(without)))
    ratio = np.sqrt(np.mean(np.square(with_it)) / 2 / np.mean(np.square(stated)))
    assert 0.5 < ratio < 1.3


def test_a_photograph_that_the_calibrated_camera_did_not_take_is_told_by_its_marks():
    """Zoomed by 4 % with nothing in EXIF."""
    scene = sighted(3, cards=four_mark_cards()[:6], photos=2, noise_px=0.05)
    surveyed = survey_photos(
        scene.photos,
        scene.sightings,
        relative_u=1e-4,
        height_mm=0,
        calibrated=known_camera(scene, 1, focal_factor=1.04),
    )
    told = [finding for finding in surveyed.findings if "phone.json" in finding.what]
    assert told
    assert told[0].where == "photo_1.jpg"
    assert "focal length" in told[0].what
