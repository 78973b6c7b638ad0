"""Jobs that state references without cards, or several scans: their mistakes, and one whole run."""

import pytest
from PIL import Image

from shapecut.errors import JobFileError
from shapecut.job.reading import job_from_text
from shapecut.job_folder import measure_into
from tests.drawn_scans import drawn_scan
from tests.test_measuring_scans import CARDS, LEFT, OUTLINE, RIGHT, farthest_mm

BOARDS = """
[boards]
width = "140 mm"
[stock]
lengths = [{ length = "3.6 m" }]
"""

POINTS = """
[template]
photos = ["one.jpg", "two.jpg"]
[[reference.sheets]]
paper = "A4"
seen = { "one.jpg" = [[10, 20], [110, 20.5], [110, 160], [10, 160]] }
""" + "".join(
    f"""
[[reference.points]]
name = "{name}"
seen = {{ "one.jpg" = [{x}, {y}], "two.jpg" = [{y}, {x}] }}
"""
    for name, (x, y) in {"A": (1, 2), "B": (900, 2.5), "C": (901, 700), "D": (2, 699)}.items()
)
TAPES = "".join(
    f"""
[[reference.tapes]]
between = ["{pair[0]}", "{pair[1]}"]
length = "1.2 m"
"""
    for pair in ("AB", "AC", "AD", "BC", "BD", "CD")
)

FOUR_TAPES = TAPES.partition('\n[[reference.tapes]]\nbetween = ["B", "D"]')[0]


def test_sheets_points_and_tapes_are_read():
    reference = job_from_text(POINTS + TAPES + BOARDS).reference
    assert reference.pictures == {"one.jpg", "two.jpg"}
    assert reference.sheets[0].seen["one.jpg"][1] == (110.0, 20.5)
    assert [point.name for point in reference.points] == ["A", "B", "C", "D"]
    assert {(tape.length, tape.u) for tape in reference.tapes} == {(1200.0, 1.0)}


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('paper = "A4"', 'paper = "A44"', ["reference.sheets.0.paper", "A44", "'A4'"]),
        ("[110, 160], ", "", ["reference.sheets.0.seen.one.jpg"]),
        ('between = ["A", "B"]', 'between = ["A", "Q"]', ["A–Q names Q, which is none of the po"]),
        ('between = ["A", "B"]', 'between = ["A", "A"]', ["goes from A to itself"]),
        ('name = "B"', 'name = "A"', ["two points are called A"]),
        ('"two.jpg"]', '"three.jpg"]', ["something in two.jpg, which is none of the pictures"]),
        ('photos = ["one.jpg", "two.jpg"]', 'scans = ["one.jpg", "two.jpg"]', ["are for photogra"]),
        ('length = "1.2 m"', "length = 1200", ["reference.tapes.0.length = 1200", "no unit"]),
        (TAPES, "", ["reference.points needs reference.tapes"]),
        (TAPES, FOUR_TAPES, ["at least 6 taped distances"]),
        (
            'photos = ["one.jpg", "two.jpg"]',
            'scans = ["a/one.png", "one.png"]',
            ["scans names one"],
        ),
    ],
)
def test_a_mistake_in_a_reference_is_answered(old, new, says):
    text = POINTS + TAPES + BOARDS
    assert old in text
    with pytest.raises(JobFileError) as caught:
        job_from_text(text.replace(old, new, 1))
    for words in says:
        assert words in str(caught.value)


def test_a_job_of_two_scans_is_measured(tmp_path):
    job = tmp_path / "job"
    job.mkdir()
    for scan, name in ((LEFT, "left.png"), (RIGHT, "right.png")):
        photo = drawn_scan(scan, name, OUTLINE, CARDS)
        Image.fromarray(photo.pixels).save(job / name, dpi=photo.dpi)
    text = '[template]\nscans = ["left.png", "right.png"]\n' + BOARDS
    (job / "job.toml").write_text(text, encoding="utf-8")
    found = measure_into(job, tmp_path / "measured", replace=False)
    assert farthest_mm(found) < 0.1
    written = {path.name for path in (tmp_path / "measured").iterdir()}
    assert {"outline.json", "outline-over-left.png.jpg", "flat-right.png.jpg"} <= written
