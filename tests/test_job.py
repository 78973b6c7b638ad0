"""The job file: what it reads, and how it answers each mistake."""

import tomllib
from decimal import Decimal

import pytest

from shapecut.errors import JobFileError
from shapecut.job.new_job import job_text
from shapecut.job.reading import job_from_text, read_job
from shapecut.job.reference import Reference, TapeTable
from shapecut.job_folder import measure_into
from shapecut.shape.outline import Treatment

GOOD = """
title = "Boards"
[template]
photos = ["one.jpg"]
thickness = "4 mm"
[edges]
E1 = "wall"
others = "covered"
[boards]
width = "5 1/2 in"
direction = "along E1"
[stock]
lengths = [{ length = "12 ft", price = 21.35 }]
"""


def test_a_job_reads_into_millimetres_and_exact_prices():
    job = job_from_text(GOOD)
    assert job.boards.width == pytest.approx(139.7)
    assert job.boards.direction.edge == "E1"
    assert job.edges == {"E1": Treatment.WALL, "others": Treatment.COVERED}
    assert job.stock.lengths[0].price == Decimal("21.35")


def test_windows_line_endings_and_a_byte_order_mark_are_fine():
    assert job_from_text("\ufeff" + GOOD.replace("\n", "\r\n")) == job_from_text(GOOD)


def test_the_references_shown_in_a_new_job_read_back():
    shown = job_text("Steps", ["one.jpg", "two.jpg"]).partition("# [[reference.sheets]]")
    lines = (shown[1] + shown[2].partition("\n[edges]")[0]).splitlines()
    stated = [line.removeprefix("# ") for line in lines if "=" in line or "[[" in line]
    values = tomllib.loads("\n".join(stated))["reference"]
    (tape,) = values.pop("tapes")
    assert Reference.model_validate(values).pictures == {"one.jpg", "two.jpg"}
    assert TapeTable.model_validate(tape).length == 1260.0


def test_the_carpentry_shown_in_a_new_job_reads_back():
    """Every line of the boards' part that is not a sentence, with its mark taken away."""
    text = job_text("Steps", [])
    shown = text.partition("# start =")
    part = shown[2].partition("\n[stock]")
    lines = [
        line.removeprefix("# ") if " = " in line or line.startswith("# [") else line
        for line in ("# start =" + part[0]).splitlines()
    ]
    job = job_from_text(shown[0] + "\n".join(lines) + part[1] + part[2])
    assert job.boards.start.rule == "best"
    assert job.boards.seasoning.species == "douglas-fir"
    assert job.joists.spacing == 400.0
    assert job.joints.heat.hottest == 55
    assert job.saw.smallest_angle_deg == 20


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("photos", [[], ["one.jpg", 'odd "name".jpg']])
def test_the_job_written_for_a_newcomer_reads_back(photos, units):
    text = job_text('Steps at the "old" pond', photos, units=units)
    job = job_from_text(text)
    assert job.title == 'Steps at the "old" pond'
    assert list(job.template.photos) == photos
    assert job.papers.units == units
    values = tomllib.loads(text)
    assert values["boards"]["width"].endswith(units)


def test_a_job_whose_photographs_are_yet_to_be_taken_says_so_when_it_is_measured(tmp_path):
    (tmp_path / "job.toml").write_text(job_text("Steps"))
    assert not read_job(tmp_path).template.is_outline
    with pytest.raises(JobFileError, match="names no photograph yet"):
        measure_into(tmp_path, tmp_path / "measured", replace=False)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('width = "5 1/2 in"', 'widht = "5 1/2 in"', ["boards.widht", "did you mean width"]),
        ('width = "5 1/2 in"', "", ["boards.width is missing", "actual width"]),
        ('"5 1/2 in"', "140", ["boards.width = 140", "no unit"]),
        ('"5 1/2 in"', '"140"', ["boards.width", "no unit"]),
        ('"5 1/2 in"', '"-140 mm"', ["boards.width", "negative"]),
        ('"5 1/2 in"', '"0 mm"', ["boards.width", "more than zero"]),
        ('"5 1/2 in"', '"100 mm"\ngap = "100 mm"', ["gap 100 mm", "board width 100 mm"]),
        ('"wall"', '"wal"', ["edges.E1", "wal", "wall", "exposed"]),
        ('"along E1"', '"sideways"', ["boards.direction", "sideways", "along E3", "30 deg"]),
        ('thickness = "4 mm"', 'thickness = "40 mm"', ["template", "thickness 40 mm"]),
        ('photos = ["one.jpg"]', "", ["template", "exactly one of", "taped; it has none"]),
        ("21.35", '"cheap"', ["stock.lengths.0.price", "cheap"]),
        ("21.35", "-1", ["stock.lengths.0.price", "-1", "0"]),
        ('lengths = [{ length = "12 ft", price = 21.35 }]', "lengths = []", ["at least one"]),
        ("[stock]", "[stok]", ["stok", "did you mean stock"]),
        ("[stock]", '[stock]\ncurrency = "E\\nUR"', ["stock.currency", "cannot be printed"]),
        ("[stock]", "[stock]\nspare_percent = 101", ["stock.spare_percent = 101", "100"]),
        ('title = "Boards"', "title = ", ["not TOML", "line 2"]),
        ("[edges]", "[papers]\npage = 'A5'\n[edges]", ["papers.page", "A5", "Tabloid"]),
        ("[edges]", "[cards]\nown = { dictionary = 'x' }\n[edges]", ["cards.own", "side"]),
    ],
)
def test_a_mistake_is_answered_with_its_key_and_what_is_allowed(old, new, says):
    assert old in GOOD
    with pytest.raises(JobFileError) as caught:
        job_from_text(GOOD.replace(old, new, 1))
    for words in says:
        assert words in str(caught.value)


def test_every_mistake_is_listed_at_once():
    with pytest.raises(JobFileError) as caught:
        job_from_text(GOOD.replace("thickness", "thick").replace('"12 ft"', '"12"'))
    assert len(str(caught.value).splitlines()) == 2


def test_a_folder_without_a_job_says_how_to_start_one(tmp_path):
    with pytest.raises(JobFileError, match="shapecut new"):
        read_job(tmp_path)


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ('[edges]\nE1 = "wall"\n[left_long]\nE1 = "40 mm"\n', "E1, which is a wall"),
        ('[edges]\nothers = "wall"\n[left_long]\nE1 = "40 mm"\n', "E1, which is a wall"),
        (
            '[[points]]\nname = "light"\nedge = "E1"\ncount = 3\nclear_of_joists = "40 mm"\n',
            "clear_of_joists needs [joists]",
        ),
    ],
)
def test_what_could_not_be_kept_is_refused(lines, sentence):
    text = '[template]\noutline = "o.json"\n[boards]\nwidth = "140 mm"\n'
    text += '[stock]\nlengths = [{ length = "3 m" }]\n' + lines
    with pytest.raises(JobFileError) as refused:
        job_from_text(text)
    assert sentence in str(refused.value)
