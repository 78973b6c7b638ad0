"""A job in inches is told everything in inches: findings of its boards and fittings, refusals."""

import json
import re

import pytest

from shapecut.errors import JobFileError, LayoutError, StockError
from shapecut.job_folder import plan_into
from shapecut.summary import made_lines
from shapecut.units import LengthStyle

MILLIMETRES = re.compile(r"\d ?mm|cm²")

POINTED = [(0, 0), (3400, 0), (3400, 900), (3000, 900), (3000, 1006), (3400, 1006), (3400, 1100),
           (2150, 1812), (0, 1400)]  # fmt: skip
"""A place with a notch, a slanted corner and a slanted side: small parts of every kind."""

JOB = """
title = "Landing"
[template]
outline = "outline.json"
[boards]
size = "5/4x6"
gap = "1/8 in"
smallest_rip = "2 in"
smallest_length = "10 in"
seasoning = { species = "redwood", at_laying = 12, in_service = 9 }
[saw]
blade = "3/16 in"
smallest_angle_deg = 60
[joists]
spacing = "24 in"
measured_from = "E9"
[joints]
offset = "10 in"
heat = { per_kelvin = 4e-5, laid_at = 10, hottest = 40 }
[border]
edges = ["E1"]
[fasteners]
[fascia]
frame_depth = "7 1/4 in"
edges = ["E1"]
lengths = [{ length = "8 ft" }]
[[points]]
name = "light"
edge = "E1"
count = 7
size = "2 in"
clear_of_joists = "3 in"
[[strips]]
name = "edging"
edges = ["E4"]
pitch = "3 in"
lengths = [{ length = "3 ft" }]
[stock]
lengths = [{ length = "8 ft" }]
[papers]
units = "in"
"""


def planned(folder, text=JOB):
    edges = [
        {"name": f"E{n}", "kind": "line", "from": start, "to": end}
        for n, (start, end) in enumerate(
            zip(POINTED, [*POINTED[1:], POINTED[0]], strict=True), start=1
        )
    ]
    outline = {"units": "mm", "rings": [{"kind": "outer", "edges": edges}]}
    (folder / "outline.json").write_text(json.dumps(outline))
    (folder / "job.toml").write_text(text)
    return plan_into(folder, folder / "planned", replace=False)


def test_no_finding_speaks_of_millimetres(tmp_path):
    made = planned(tmp_path)
    findings = (*made.plan.layout.findings, *made.fittings.findings)
    assert len({finding.where for finding in findings}) >= 12
    for finding in findings:
        assert not MILLIMETRES.search(f"{finding.what} {finding.todo}"), finding
        assert "e-" not in finding.what
    assert any(" in " in finding.what for finding in findings)


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ('offset = "10 in"', 'longest = "2 ft"', "pieces of 10 in to 24 in"),
        ('offset = "10 in"', 'shortest = "9 ft"', "at least 108 in long and at most 96 in"),
        ("[border]", "[border]\ncourses = 14", r"\(14 × 5 1/2 in and a gap each\)"),
        ('frame_depth = "7 1/4 in"', 'frame_depth = "1 ft"\nboard_width = "8 in"', "13 in wide"),
        ('size = "2 in"', 'size = "2 ft"', "7 points of 24 in have no room on 133 7/8 in"),
    ],
)
def test_no_refusal_does_either(tmp_path, old, new, says):
    with pytest.raises(LayoutError, match=says) as caught:
        planned(tmp_path, JOB.replace(old, new, 1))
    assert not MILLIMETRES.search(str(caught.value))


def test_lengths_too_small_for_their_step_keep_a_figure():
    assert LengthStyle("in")(-1e-30) == "0 in"
    assert LengthStyle()(-1e-9) == "0 mm"
    assert LengthStyle("in").fine(0.3) == "0.01 in"
    assert LengthStyle().fine(0.02) == "0.02 mm"
    assert LengthStyle("in", 4).fine(138.0) == "5 1/2 in"
    assert LengthStyle("in").area(64516) == "100 sq in"


SHELF = """
title = "Shelf"
[template]
outline = "outline.json"
[boards]
size = "5/4x6"
[stock]
lengths = [{ length = "8 ft" }, { length = "12 ft" }]
[papers]
units = "in"
"""


def test_what_stands_against_a_board_and_the_size_of_the_outline_are_told_in_inches(tmp_path):
    """3400 mm are 133 7/8 in."""
    made = planned(tmp_path, SHELF)
    short, *_ = made.plan.alternatives
    assert "is 133 7/8 in long and the longest board 96 in" in short.why_not
    said = "\n".join(made_lines(made))
    assert "outline  9 edges, 133 7/8 in × " in said
    assert not MILLIMETRES.search(said + short.why_not)


def test_a_refusal_to_cut_is_told_in_inches(tmp_path):
    blocking = '[joists]\nspacing = "24 in"\n[blocking]\nlengths = [{ length = "1 in" }]\n[stock]'
    with pytest.raises(
        StockError, match=r"blocking 1 is [\d /]+ in long and the longest board 1 in"
    ):
        planned(tmp_path, SHELF.replace("[stock]", blocking))


def test_figures_of_the_job_file_are_told_in_both(tmp_path):
    with pytest.raises(JobFileError, match=r"width 139\.7 mm \(5 1/2 in\)"):
        planned(tmp_path, SHELF.replace("[boards]", '[boards]\ngap = "6 in"'))
