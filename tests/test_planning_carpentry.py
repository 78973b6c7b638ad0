"""From a job's tables to joists, joints, starts and directions; and how mistakes are answered."""

import json

import pytest

from shapecut.errors import JobFileError, LayoutError
from shapecut.findings import Level
from shapecut.job.boards import Boards, JointTable, JoistTable, SawTable
from shapecut.job.edges import Allowances
from shapecut.job.reading import job_from_text
from shapecut.job.stock import StockTable
from shapecut.job_folder import plan_into
from shapecut.layout.rules import RowStart
from shapecut.shape.outline import Treatment
from shapecut.shape.outline_file import outline_record, setting_out_record
from shapecut.shape.placement import Placement
from shapecut.shape.setting_out import SetLine, SettingOut
from shapecut.stages.planning import plan
from tests.test_layout_supports import outline_of

NONE = Allowances(wall="0 mm", exposed="0 mm", overhang="0 mm")
STOCK = StockTable(lengths=[{"length": "3.6 m"}, {"length": "4.8 m"}])
ROOM = outline_of((0, 0), (3000, 0), (3000, 1000), (0, 1000))
LONG = outline_of((0, 0), (8000, 0), (8000, 865), (0, 865))


def boards(**stated):
    return Boards.model_validate({"width": "140 mm", "gap": "5 mm", **stated})


class TestStart:
    def test_the_words(self):
        assert boards(start="best").start.rule is RowStart.BEST
        assert boards(start="balanced").start.rule is RowStart.BALANCED
        assert boards(start="E2").start.edge == "E2"
        taped = boards(start="1 1/2 in from the old deck").start
        assert (taped.edge, taped.taped_mm) == ("the old deck", pytest.approx(38.1))

    def test_rows_that_continue_an_existing_deck(self):
        """The deck's next board begins 37 mm from the wall; the gap at the wall is 6 mm: a first
        row of 37 - 5 - 6 = 26 mm and then full boards."""
        walled = outline_of((0, 0), (3000, 0), (3000, 1000), (0, 1000))
        walls = Allowances(wall="6 mm", covered="0 mm")
        outline = type(walled)(
            type(walled.outer)(
                tuple(
                    type(edge)(edge.name, edge.curve, None, Treatment.WALL)
                    for edge in walled.outer.edges
                )
            )
        )
        made = plan(outline, boards(start="37 mm from E1"), walls, STOCK)
        assert made.layout.rows[1].across_mm == pytest.approx((37, 177))
        assert made.layout.pieces[0].region.area / (3000 - 12) == pytest.approx(26)

    def test_best_start_reports_the_runners_up(self):
        made = plan(ROOM, boards(start="best"), NONE, STOCK)
        assert len(made.layout.starts) == 4
        assert made.layout.starts[0].narrow_rows == 0


class TestDirection:
    def test_the_better_of_two_directions_is_taken(self):
        """1000 x 3000: along E1 a row needs 3 m of board; along E2 three pieces of 1 m."""
        made = plan(ROOM, boards(direction="best", start="balanced"), NONE, STOCK)
        assert {trial.edge for trial in made.trials} == {"E1", "E2"}
        ranks = [trial.rank for trial in made.trials]
        assert ranks == sorted(ranks)
        assert made.layout.frame.turn_rad == made.trials[0].direction_rad
        assert made.trials[0].bought_mm == made.cut_plan.bought_mm
        assert made.trials[0].boards == len(made.cut_plan.boards)
        assert 0 < made.trials[0].waste < 1

    def test_a_direction_that_cannot_be_cut_is_kept_with_its_reason(self):
        long_stock = StockTable(lengths=[{"length": "1.2 m"}])
        made = plan(ROOM, boards(direction="best"), NONE, long_stock)
        assert made.trials[0].edge == "E2"
        assert "3000 mm long" in made.trials[1].refused

    def test_none_that_can_be_cut_is_an_error(self):
        with pytest.raises(LayoutError, match=r"No edge gives a direction .* Piece"):
            plan(ROOM, boards(direction="best"), NONE, StockTable(lengths=[{"length": "0.9 m"}]))


class TestSupportsAndJoints:
    joists = JoistTable(spacing="400 mm", first="100 mm", measured_from="E4")

    def test_a_long_row_is_joined_and_carried(self):
        made = plan(LONG, boards(thickness="28 mm"), NONE, STOCK, joists=self.joists,
                    joints=JointTable(gap="4 mm"))  # fmt: skip
        assert len(made.layout.joints) == len(made.layout.rows)
        assert made.supports is not None
        assert all(piece.joists for piece in made.supports.pieces)
        cautions = [f for f in made.findings if "local building code" in f.what]
        assert len(cautions) == 1

    def test_the_end_gap_grows_with_the_heat(self):
        """4 · 10⁻⁵ x 4800 mm x 30 K = 5.76 mm between the two pieces of a row, and 2 mm open."""
        heat = {"per_kelvin": 4e-5, "laid_at": 20, "hottest": 50}
        made = plan(LONG, boards(), NONE, STOCK, joists=self.joists,
                    joints=JointTable(gap="2 mm", heat=heat))  # fmt: skip
        first, second = [piece for piece in made.layout.pieces if piece.row == 1]
        assert any("at 50 °C 2.0 mm of that" in finding.what for finding in made.findings)
        assert 8000 - first.length_mm - second.length_mm == pytest.approx(7.76)

    def test_without_joints_a_long_piece_is_refused_by_name(self):
        with pytest.raises(LayoutError, match=r"Piece 1a is 8000 mm .* 4800 mm.*\[joints\]"):
            plan(LONG, boards(), NONE, STOCK)

    def test_the_gap_is_laid_for_the_season(self):
        """Douglas-fir from 14 to 8 %: 140 x 0.00267 x 6 = 2.24 mm narrower: laid 2.76 mm apart."""
        season = {"species": "douglas-fir", "at_laying": 14, "in_service": 8}
        made = plan(ROOM, boards(seasoning=season), NONE, STOCK)
        assert made.layout.board.gap_mm == pytest.approx(5 - 2.2428)
        (note,) = [finding for finding in made.findings if finding.where == "gap"]
        assert "Leave 2.8 mm between rows at 14 %" in note.what
        assert "137.8 mm wide and 5.0 mm apart" in note.what

    def test_findings_of_the_saw_come_along(self):
        sharp = outline_of((0, 0), (3000, 0), (0, 700))
        made = plan(sharp, boards(), NONE, STOCK, saw=SawTable(smallest_angle_deg=25))
        assert any("less than 25°" in finding.what for finding in made.findings)


def test_slats_narrower_than_the_smallest_rip_left_out_may_be_ripped_to_half():
    """250 mm of slats 36 mm wide: six, and a rip of 250 - 6 x 41 = 4 mm is the only small part."""
    slats = Boards.model_validate({"width": "36 mm", "gap": "5 mm"})
    made = plan(outline_of((0, 0), (900, 0), (900, 250), (0, 250)), slats, NONE, STOCK)
    assert [finding.where for finding in made.layout.findings] == ["row 7"]


JOB = """
[template]
outline = "outline.json"
[boards]
width = "140 mm"
[stock]
lengths = [{ length = "12 ft" }]
"""


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("[stock]", "[joints]\n[stock]", ["joints needs [joists]"]),
        ("[stock]", "[joists]\n[stock]", ["joists", "spacing, or lines or marked"]),
        ("[stock]", "[joists]\nlines = []\n[stock]", ["joists", "spacing, or lines or marked"]),
        (
            "[stock]", '[joists]\nspacing = "400 mm"\nlines = ["1 m"]\n[stock]',
            ["spacing and lines both say where", "leave one of them out"],
        ),
        (
            "[stock]", '[joists]\nmarked = ["L1"]\nspacing = "400 mm"\n[stock]',
            ["spacing and marked both say where"],
        ),
        (
            "[stock]", '[joists]\nmarked = ["L1"]\nmeasured_from = "E1"\n[stock]',
            ["leave direction and measured_from out"],
        ),
        (
            "[stock]", '[joists]\nspacing = "400 mm"\nwidth = "10 m"\n[stock]',
            ["width 10000 mm (393 11/16 in) is more than 300 mm (11 13/16 in)"],
        ),
        (
            "[stock]", '[joists]\nspacing = "30 mm"\n[stock]',
            ["spacing 30 mm (1 3/16 in) is no more than their width 38 mm (1 1/2 in)"],
        ),
        ("[stock]", '[joists]\nspacing = "0 mm"\n[stock]', ["joists.spacing", "more than zero"]),
        ("[stock]", '[joists]\nspacin = "4 mm"\n[stock]', ["did you mean spacing"]),
        ("[stock]", '[joists]\nspacing = "400 mm"\ndirection = "up"\n[stock]', ["along E3"]),
        ("[stock]", "[saw]\nsmallest_angle_deg = 95\n[stock]", ["smallest_angle_deg", "0 to 90"]),
        ('"140 mm"', '"140 mm"\nsize = "2x6"', ["size and width both state the board"]),
        ('width = "140 mm"', 'size = "2x7"', ["boards", "2x7", "real width"]),
        ('"140 mm"', '"140 mm"\nsmallest_rip = "150 mm"', ["smallest_rip 150 mm", "140 mm"]),
        ('"140 mm"', '"140 mm"\nstart = "37 from E2"', ["boards.start", "no unit"]),
        ('"140 mm"', '"140 mm"\nstart = ""', ["boards.start", "balanced"]),
        ('"140 mm"', '"140 mm"\ndirection = "well"', ["boards.direction", "along E3", '"best"']),
        (
            '"140 mm"', '"140 mm"\ndirection = "best"\nstart = "E2"',
            ["compares directions", "along E2"],
        ),
        (
            '"140 mm"',
            '"140 mm"\nseasoning = { species = "balsa", at_laying = 12, in_service = 8 }',
            ["balsa", "redwood", "state the gap at laying"],
        ),
    ],
)  # fmt: skip
def test_a_mistake_is_answered_by_name(old, new, says):
    with pytest.raises(JobFileError) as caught:
        job_from_text(JOB.replace(old, new, 1))
    for words in says:
        assert words in str(caught.value)


class TestJoistsDrawnOnTheTemplate:
    """Lines at x = 300, 1000 and 1702 in their middles, the last leaning by 4 mm in 800."""

    marks = SettingOut(
        lines=(
            SetLine("L1", (300.0, 100.0), (300.0, 900.0), 0.2),
            SetLine("L2", (1000.0, 900.0), (1000.0, 100.0), 0.2),
            SetLine("L3", (1700.0, 100.0), (1704.0, 900.0), 0.2),
            SetLine("L4", (200.0, 500.0), (2000.0, 500.0), 0.2),
        )
    )

    def planned(self, *names):
        return plan(ROOM, boards(), NONE, STOCK, joists=JoistTable(marked=names), marks=self.marks)

    def test_they_lie_along_the_lines(self):
        supports = self.planned("L1", "L2", "L3").supports
        assert len(supports.joists.lines_mm) == 3
        crossings = supports.joists.crossings(Placement((0.0, 500.0)))
        assert crossings.along_mm == pytest.approx((300, 1000, 1702), abs=1e-3)

    def test_they_come_with_the_outline(self, tmp_path):
        """`measure` leaves the marks in outline.json, and `plan` takes them from there."""
        lines = setting_out_record(self.marks)
        record = outline_record(ROOM) | {"setting_out": lines}
        (tmp_path / "outline.json").write_text(json.dumps(record))
        joists = '[joists]\nmarked = ["L1", "L2", "L3"]\n[stock]'
        (tmp_path / "job.toml").write_text(JOB.replace("[stock]", joists))
        made = plan_into(tmp_path, tmp_path / "planned", replace=False)
        assert len(made.plan.supports.joists.lines_mm) == 3
        assert ">L2</text>" in (tmp_path / "planned" / "plan.svg").read_text("utf-8")
        written = json.loads((tmp_path / "planned" / "outline.json").read_text("utf-8"))
        assert written["setting_out"] == lines

    def test_a_line_that_is_not_there_or_not_parallel_is_named(self):
        with pytest.raises(LayoutError, match=r"Joist L9 .* it has L1, L2, L3, L4"):
            self.planned("L1", "L9")
        with pytest.raises(LayoutError, match=r"Joist L\d is .* off the direction of the others"):
            self.planned("L1", "L4")
        with pytest.raises(LayoutError, match="none was found on it"):
            plan(ROOM, boards(), NONE, STOCK, joists=JoistTable(marked=("L1",)))


def test_a_nominal_size_stands_for_the_real_one():
    job = job_from_text(JOB.replace('width = "140 mm"', 'size = "5/4x6"'))
    assert (job.boards.width, job.boards.thickness) == pytest.approx((139.7, 25.4))


def test_a_smallest_piece_longer_than_any_board_is_refused():
    joists = JoistTable(spacing="400 mm")
    with pytest.raises(LayoutError, match="at least 5000 mm long and at most 4800 mm"):
        plan(LONG, boards(), NONE, STOCK, joists=joists, joints=JointTable(shortest="5 m"))


def test_sixty_square_metres_plan_with_everything():
    """Forty rows of 10.4 m, three posts, joints and supports: all pieces carried and labelled."""
    posts = [[(x, 2000), (x, 2120), (x + 120, 2120), (x + 120, 2000)] for x in (2000, 5000, 8000)]
    outer = outline_of((0, 0), (10400, 0), (10400, 5795), (0, 5795))
    holes = tuple(
        type(outer.outer)(
            tuple(
                type(edge)(f"P{n}{edge.name}", edge.curve) for edge in outline_of(*post).outer.edges
            )
        )
        for n, post in enumerate(posts)
    )
    made = plan(
        type(outer)(outer.outer, holes), boards(start="best"), NONE, STOCK,
        joists=JoistTable(spacing="400 mm", first="19 mm", measured_from="E4"),
        joints=JointTable(offset="800 mm", shortest="600 mm"),
    )  # fmt: skip
    assert len(made.layout.rows) == 40
    assert made.supports is not None
    assert all(piece.joists for piece in made.supports.pieces)
    labels = [piece.label for piece in made.layout.pieces]
    assert len(set(labels)) == len(labels)
    assert not [f for f in made.layout.findings if f.level is Level.SERIOUS]
