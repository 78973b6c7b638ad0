"""What is said while the cards still lie there, of photographs with one thing wrong each."""

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from click.testing import CliRunner
from PIL import Image

from shapecut.capture.cards import CardSet, Mark, our_cards
from shapecut.capture.photo import Photo
from shapecut.capture_summary import outlook_lines
from shapecut.cli import main
from shapecut.findings import Finding, Level
from shapecut.stages.surveying import see_cards, survey_seen
from shapecut.survey.next_shot import FurtherPhoto, FurtherTape, NextShot
from shapecut.survey.tapes import Tape
from shapecut.units import LengthStyle
from tests.renderer import LaidCard, Scene, Shot, photographed
from tests.scenes import FLOORS, OUTLINES, laid_round, look_at, looks_round, phone_camera

STEP = OUTLINES["notched step"]
SCENE = Scene(STEP, floor=FLOORS["concrete"], cards=laid_round(STEP))
VIEWS = looks_round(phone_camera(), count=3, distance_mm=1350.0, tilt_deg=25.0)


@cache
def taken(number: int, scene: Scene = SCENE, **how: float) -> Photo:
    shot = Shot(VIEWS[number], **{"oversampling": 1, **how})
    return photographed(scene, shot, f"kitchen_{number + 1}.jpg")


def findings(*photos: Photo, cards: CardSet | None = None, **more: object) -> list[Finding]:
    surveyed = survey_seen(see_cards(photos, cards or our_cards()), **more)
    return [f for f in surveyed.survey.findings if f.level is not Level.NOTE]


def where_and_what(found: list[Finding]) -> list[str]:
    return [f"{finding.where}: {finding.what}" for finding in found]


def test_nothing_is_said_against_good_photographs():
    exact = replace(our_cards(), relative_u=1e-4)
    assert findings(taken(0), taken(1), cards=exact) == []


def test_a_blurred_photograph_is_named():
    said = where_and_what(findings(taken(0), taken(1, blur_px=2.2)))
    assert [text for text in said if text.startswith("kitchen_2.jpg: It is blurred")]
    assert not [text for text in said if text.startswith("kitchen_1.jpg")]


def test_a_cropped_photograph_is_named_and_still_measured():
    """The crop keeps the camera's note of the whole; the axis is found again by the marks."""
    whole = taken(0)
    cut = replace(whole, pixels=whole.pixels[:, :1380], taken_size=whole.size)
    said = where_and_what(findings(cut, taken(1)))
    assert [text for text in said if text.startswith("kitchen_1.jpg: It was cropped")]
    assert not [text for text in said if "hardly exists" in text]


def test_a_reduced_photograph_is_a_note():
    photo = taken(0)
    half = replace(photo, taken_size=(2 * photo.size[0], 2 * photo.size[1]))
    surveyed = survey_seen(see_cards([half], our_cards()))
    notes = [f for f in surveyed.survey.findings if "reduced" in f.what]
    assert [(note.level, note.where) for note in notes] == [(Level.NOTE, "kitchen_1.jpg")]


@pytest.mark.parametrize(
    ("facts", "words"),
    [({"camera": "Other"}, "another camera"), ({"focal_35mm": 52.0}, "another zoom (52 mm")],
)
def test_mixed_cameras_and_zooms_that_state_it_are_a_note(facts, words):
    surveyed = survey_seen(see_cards([taken(0), replace(taken(1), **facts)], our_cards()))
    notes = [f for f in surveyed.survey.findings if words in f.what]
    assert [(note.level, note.where) for note in notes] == [(Level.NOTE, "kitchen_2.jpg")]


def test_a_zoomed_photograph_that_does_not_state_it_is_named():
    zoomed = look_at(replace(phone_camera(), focal_px=1.35 * 1200), (0, 1000, 1750), photo=1)
    other = replace(
        photographed(SCENE, Shot(zoomed, oversampling=1), "kitchen_2.jpg"),
        focal_35mm=taken(0).focal_35mm,
    )
    said = where_and_what(findings(taken(0), other, taken(2)))
    assert [text for text in said if text.startswith("kitchen_2.jpg: By its marks it was taken at")]


def test_cards_all_on_one_side_are_told():
    """Four cards along and before the near side; the template lies beyond them."""
    here = [(-450.0, -420.0), (-100.0, -560.0), (200.0, -400.0), (480.0, -540.0)]
    cards = tuple(
        LaidCard(laid.card, replace(laid.placement, origin=place))
        for laid, place in zip(SCENE.cards, here, strict=False)
    )
    views = [
        look_at(phone_camera(), (x, -400.0, 1500.0), photo=k) for k, x in enumerate((-250, 250))
    ]
    scene = replace(SCENE, cards=cards)
    photos = [
        photographed(scene, Shot(view, oversampling=1), f"kitchen_{view.photo + 1}.jpg")
        for view in views
    ]
    said = where_and_what(findings(*photos))
    assert [text for text in said if text.startswith("cards: All cards lie to one side")]


def shrunk(laid: LaidCard, factor: float) -> LaidCard:
    def scaled(mark: Mark) -> Mark:
        a, b, c, d = ((factor * x, factor * y) for x, y in mark.corners_mm)
        return replace(mark, corners_mm=(a, b, c, d))

    return replace(laid, card=replace(laid.card, marks=tuple(map(scaled, laid.card.marks))))


def test_cards_printed_at_97_per_cent_are_told_by_two_tapes():
    scene = replace(SCENE, cards=tuple(shrunk(laid, 0.97) for laid in SCENE.cards))
    at = {laid.card.name: np.array(laid.placement.origin) for laid in scene.cards}
    tapes = [
        Tape(a, b, round(float(np.linalg.norm(at[b] - at[a]))))
        for a, b in (("card 1", "card 4"), ("card 2", "card 5"))
    ]
    photos = [taken(0, scene), taken(1, scene)]
    told = [f for f in findings(*photos, tapes=tapes) if "printed at 97.0%" in f.what]
    assert [(finding.level, finding.where) for finding in told] == [(Level.SERIOUS, "cards")]


# --- the command -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("kitchen")
    for number in (0, 1):
        Image.fromarray(taken(number).pixels).save(folder / f"kitchen_{number + 1}.png")
    return folder


def run(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["check", *map(str, arguments)])
    return result.exit_code, result.output


def test_check_says_what_was_seen_and_what_would_help(folder):
    code, output = run(folder / "kitchen_1.png", folder / "kitchen_2.png")
    lines = output.splitlines()
    assert code == 0, output
    assert re.match(r"kitchen_1\.png: 6 cards seen \(card 1, .*\), marks \d+ to \d+ px", lines[0])
    assert "blur 0." in lines[0]
    assert lines[2].startswith("kitchen_1.png: 6 cards used, tilted 25°, from 1.2 m above")
    assert [line.split(":")[0] for line in lines[4:10]] == [f"card {k}" for k in range(1, 7)]
    assert all(re.search(r"fit within 0\.\d\d px = 0\.\d\d mm", line) for line in lines[4:10])
    # The print was not measured, so a tape helps most.
    assert re.search(r"points among the cards: within ±0\.\d\d mm, with the scale", output)
    assert re.search(r"better with a tape from the middle of card \d to that of card \d", output)
    assert lines[-1] == "fit to measure by"


def test_check_takes_a_job_folder_s_cards_and_tapes(folder, tmp_path):
    """A taped job wants no further tape over the same distance."""
    _, before = run(folder / "kitchen_1.png")
    proposed = re.search(r"from the middle of (card \d) to that of (card \d) \(about (\d+)", before)
    assert proposed
    job = tmp_path / "step"
    made = CliRunner().invoke(main, ["new", str(job), str(folder / "kitchen_1.png")])
    assert made.exit_code == 0
    start, end, length = proposed.groups()
    tape = f'[cards]\ntapes = [{{ between = ["{start}", "{end}"], length = "{length} mm" }}]\n'
    text = (job / "job.toml").read_text("utf-8").replace("[cards]\n", tape)
    (job / "job.toml").write_text(text, "utf-8")
    code, after = run(job)
    assert code == 0, after
    assert f"from the middle of {start} to that of {end} " not in after
    sure = [float(re.search(r"with the scale ±([\d.]+)", text)[1]) for text in (before, after)]
    assert sure[1] < 0.6 * sure[0]
    assert "better with a photograph from" in after


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--own-dictionary", "ArUco 4x4 50", "--own-side", "100 mm"), "No card was found"),
        (("--own-dictionary", "AprilTag 36h11"), "cards.own: needs either side"),
        (("--bar-along", "12"), "cards.bar_along"),
    ],
)
def test_check_refuses_in_one_sentence(folder, arguments, words):
    code, output = run(folder / "kitchen_1.png", *arguments)
    assert code == 1
    assert words in output
    assert "Traceback" not in output


def test_check_says_what_was_seen_before_it_refuses(tmp_path):
    few = replace(SCENE, cards=SCENE.cards[:2])
    Image.fromarray(taken(0, few).pixels).save(tmp_path / "few.png")
    code, output = run(tmp_path / "few.png")
    assert code == 1
    assert "few.png: 2 cards seen (card 1, card 2)" in output
    assert "Only two cards" in output


def test_check_exits_with_1_where_a_serious_finding_stands(tmp_path):
    """The lower right part of a photograph, enlarged: no camera has such an axis."""
    photo = taken(0)
    middle = photo.pixels[260:, 330:]
    Image.fromarray(middle).resize((1600, 1184)).save(tmp_path / "edited.png")
    code, output = run(tmp_path / "edited.png")
    assert code == 1
    assert "edited.png" in output


def test_what_would_help_is_said_in_the_jobs_units():
    shot = NextShot(
        0.05,
        0.4,
        FurtherPhoto("from the left", 20.0, 1219.2, 0.025),
        FurtherTape("card 1", "card 4", 1260.5, 0.1),
    )
    said = list(outlook_lines(shot, LengthStyle("in")))
    assert said == [
        "points among the cards: within ±0.004 in, with the scale ±0.031 in (95 %)",
        "better with a tape from the middle of card 1 to that of card 4 (about 49 5/8 in): "
        "±0.008 in with the scale",
        "better with a photograph from the left, tilted 20°, from about 4.0 ft: "
        "±0.002 in before the scale",
    ]
    assert "(about 1260 mm): ±0.20 mm" in list(outlook_lines(shot))[1]
