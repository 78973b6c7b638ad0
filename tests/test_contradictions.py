"""Rules that contradict each other or the place, each answered by name and with nothing written."""

import json

import pytest

from tests.test_cli import files_under, run

CORNERS = [(0, 0), (5000, 0), (5000, 1800), (0, 1800)]

JOB = """
[template]
outline = "outline.json"
[boards]
width = "140 mm"
gap = "5 mm"
[joists]
spacing = "400 mm"
measured_from = "E4"
[joints]
[stock]
lengths = [{ length = "3.6 m" }]
"""

CASES = {
    "a smallest piece longer than the board": (
        ("[joints]", '[joints]\nshortest = "4 m"'),
        "No piece can be at least 4000 mm long and at most 3600 mm",
    ),
    "a smallest length longer than the board": (
        ('gap = "5 mm"', 'gap = "5 mm"\nsmallest_length = "4 m"'),
        "No piece can be at least 4000 mm long and at most 3600 mm",
    ),
    "a smallest rip wider than the board": (
        ('gap = "5 mm"', 'gap = "5 mm"\nsmallest_rip = "150 mm"'),
        "smallest_rip 150 mm (5 7/8 in) is more than the board width 140 mm (5 1/2 in)",
    ),
    "an empty list of joists": (
        ('spacing = "400 mm"', "lines = []"),
        "joists: needs either spacing, or lines or marked with at least one of them.",
    ),
    "joists stated twice": (
        ('spacing = "400 mm"', 'spacing = "400 mm"\nlines = ["1 m"]'),
        "spacing and lines both say where the joists are; leave one of them out.",
    ),
    "joists beyond the place": (
        ('spacing = "400 mm"', 'lines = ["9 m"]'),
        "No joist lies under the place",
    ),
    "joists along the boards": (
        ('spacing = "400 mm"', 'spacing = "400 mm"\ndirection = "0 deg"'),
        "E4: it is 90.0° off their direction",
    ),
    "a border wider than the place": (
        ("[joints]", '[joints]\n[border]\nedges = ["E1", "E3"]\ncourses = 7'),
        "The border is wider than the place: along E1, E3 it takes 1015 mm",
    ),
    "a mitre at an arc": (
        ("[joints]", '[joints]\n[border]\nedges = ["E1", "E2"]'),
        "No border can lie along E2: it is an arc of radius 900 mm",
    ),
    "a fascia's mitre at an arc": (
        (
            "[joints]",
            '[joints]\n[fascia]\nedges = ["E1", "E2"]\nframe_depth = "145 mm"\n'
            'lengths = [{ length = "4 m" }]',
        ),
        "No fascia can be mitred at E2: it is an arc of radius 900 mm",
    ),
    "a row longer than any board, with joints forbidden": (
        ("[joints]", ""),
        "Piece 1a is 5000 mm long, and the longest board gives 3600 mm",
    ),
    "a stagger that these joists cannot give": (
        ("[joints]", '[joints]\noffset = "3 m"'),
        "The joints of rows 1 and 2 cannot be 3000 mm apart",
    ),
    "a place narrower than the smallest rip": (
        ('width = "140 mm"', 'width = "2 m"\nsmallest_rip = "1.9 m"'),
        "less than the smallest rip of 1900.0 mm",
    ),
    "a kerf wider than any blade": (
        ("[stock]", '[stock]\nkerf = "3 m"'),
        "kerf 3000 mm (118 1/8 in) is more than 60 mm (2 3/8 in)",
    ),
    "squared ends that leave nothing of a board": (
        ("[stock]", '[stock]\nsquared_end = "1.8 m"'),
        "squared_end 1800 mm (70 7/8 in) leaves nothing of the board of 3600 mm (141 3/4 in)",
    ),
    "joists in one another": (
        ('spacing = "400 mm"', 'lines = ["900 mm", "500 mm", "930 mm"]'),
        "lines 900 mm (35 7/16 in) and 930 mm (36 5/8 in) are nearer to each other than",
    ),
    "a joint wider than its joist": (
        ("[joints]", '[joints]\ngap = "40 mm"'),
        "joints.gap 40 mm (1 9/16 in) is no less than the width of the joists, 38 mm (1 1/2 in)",
    ),
    "a fascia twice along an edge": (
        (
            "[stock]",
            '[fascia]\nframe_depth = "1 m"\nedges = ["E1", "E1"]\nlengths = [{ length = "2 m" }]\n'
            "[stock]",
        ),
        "names E1 twice; name it once",
    ),
    "two rows of points of one name": (
        ("[stock]", 2 * '[[points]]\nname = "light"\nedge = "E1"\ncount = 2\n' + "[stock]"),
        "two of points are called light; give each a name of its own",
    ),
    "a strip called as the boards are": (
        (
            "[stock]",
            '[[strips]]\nname = "boards"\nedges = ["E1"]\nlengths = [{ length = "2 m" }]\n[stock]',
        ),
        "is what the list of materials calls something else; choose another name",
    ),
    "a price with its currency": (
        ('{ length = "3.6 m" }', '{ length = "3.6 m", price = "€ 12,50" }'),
        "write a number with a decimal point, and the currency under [stock]: price = 12.50",
    ),
    "a size of no standard": (
        ('width = "140 mm"', 'size = "0x0"'),
        "state the board's real width and thickness instead.",
    ),
}


@pytest.mark.parametrize("case", CASES)
def test_is_answered_by_name_and_writes_nothing(case, tmp_path):
    (old, new), says = CASES[case]
    edges = [
        {"name": f"E{n}", "kind": "line", "from": start, "to": end}
        for n, (start, end) in enumerate(zip(CORNERS, [*CORNERS[1:], CORNERS[0]], strict=True), 1)
    ]
    if "arc" in case:
        edges[1] |= {"kind": "arc", "centre": [5000, 900], "radius": 900, "turn": "ccw"}
    outline = {"units": "mm", "rings": [{"kind": "outer", "edges": edges}]}
    (tmp_path / "outline.json").write_text(json.dumps(outline))
    assert JOB.count(old) == 1
    (tmp_path / "job.toml").write_text(JOB.replace(old, new))
    before = files_under(tmp_path)
    result = run("plan", tmp_path)
    assert result.exit_code == 1
    assert says in result.output
    assert "Traceback" not in result.output
    assert files_under(tmp_path) == before
