"""`shapecut camera`, and the jobs that use what it writes."""

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from jsonschema import Draft202012Validator
from PIL import Image

from shapecut.capture.chessboard import Chessboard
from shapecut.cli import main
from shapecut.survey.camera_file import read_camera
from tests.renderer import Scene, Shot, photographed
from tests.scenes import FLOORS, OUTLINES, laid_round, looks_round, phone_camera
from tests.sheet_pictures import looks_at_sheet, sheet_photo

CAMERA = phone_camera()
SHEET = Chessboard((10, 7), 25.0)
SCHEMA = Path(__file__).parent.parent / "shapecut" / "schemas" / "camera.json.schema.json"


def run(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, list(map(str, arguments)))
    return result.exit_code, result.output


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Photographs of the sheet, the camera file made of them, and a photograph of cards."""
    folder = tmp_path_factory.mktemp("camera")
    for view in looks_at_sheet(CAMERA, SHEET, count=5, seed=2):
        Image.fromarray(sheet_photo(view, SHEET).pixels).save(folder / f"sheet_{view.photo}.png")
    step = OUTLINES["notched step"]
    scene = Scene(step, floor=FLOORS["concrete"], cards=laid_round(step))
    (view,) = looks_round(CAMERA, count=1, distance_mm=1350.0, tilt_deg=20.0)
    photo = photographed(scene, Shot(view, oversampling=1))
    Image.fromarray(photo.pixels).save(folder / "kitchen.png")
    Image.fromarray(photo.pixels[:, :1560]).save(folder / "narrow.png")
    sheets = sorted(folder.glob("sheet_*.png"))
    options = ("--squares", "10x7", "--square", "25 mm", "--fixed-focus")
    code, output = run("camera", *sheets, *options, "-o", folder / "phone.json")
    assert code == 0, output
    assert re.match(r"photos   5 used, corners within 0\.\d\d px\nfocal    1[12]\d\d\.", output)
    return folder


def test_the_file_follows_its_schema_and_holds_the_camera(folder):
    record = json.loads((folder / "phone.json").read_text("utf-8"))
    Draft202012Validator(json.loads(SCHEMA.read_text("utf-8"))).validate(record)
    found = read_camera(folder / "phone.json").camera
    assert found.size == CAMERA.size
    assert found.focal_px == pytest.approx(CAMERA.focal_px, rel=0.002)
    assert found.centre_px == pytest.approx(CAMERA.centre_px, abs=2.0)


def sure_mm(output: str) -> float:
    match = re.search(r"points among the cards: within ±([\d.]+) mm", output)
    assert match, output
    return float(match[1])


def test_a_check_with_the_calibrated_camera_is_surer(folder):
    code, with_camera = run("check", folder / "kitchen.png", "--camera", folder / "phone.json")
    assert code == 0, with_camera
    _, without = run("check", folder / "kitchen.png")
    assert sure_mm(with_camera) < 0.9 * sure_mm(without)


def test_a_job_uses_the_camera_and_refuses_another_size(folder, tmp_path):
    job = tmp_path / "step"
    assert run("new", job, folder / "kitchen.png")[0] == 0
    text = (job / "job.toml").read_text("utf-8")
    (job / "job.toml").write_text(text.replace('# camera = "camera.json"', 'camera = "it.json"'))
    code, output = run("check", job)
    assert code == 1
    assert "it.json cannot be read" in output
    (job / "it.json").write_bytes((folder / "phone.json").read_bytes())
    assert run("check", job)[0] == 0
    (job / "kitchen.png").write_bytes((folder / "narrow.png").read_bytes())
    code, output = run("measure", job)
    assert code == 1
    assert "kitchen.png has 1560 x 1200 pixels, but it.json is for pictures of 1600 x" in output


def test_a_file_is_not_replaced_unasked_and_mistakes_are_sentences(folder):
    sheets = sorted(folder.glob("sheet_*.png"))
    options = ("--square", "25 mm", "-o", folder / "phone.json")
    code, output = run("camera", *sheets, "--squares", "10x7", *options)
    assert code != 0
    assert "--replace" in output
    for squares, words in (("9x6", "8 x 5 inner corners"), ("many", "write for example 10x7")):
        code, output = run("camera", *sheets, "--squares", squares, *options, "--replace")
        assert code == 1
        assert words in output
