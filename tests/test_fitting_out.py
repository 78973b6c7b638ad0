"""Fittings and materials of whole jobs: from the job file to the lists, the JSON and the report."""

import csv
import doctest
import json
import math
import shutil
from collections import Counter
from decimal import Decimal
from io import StringIO
from pathlib import Path

import pytest

from shapecut.errors import JobFileError, LayoutError, StockError
from shapecut.job.boards import Boards, JoistTable
from shapecut.job.edges import Allowances
from shapecut.job.fittings import (
    BlockingTable,
    FasciaTable,
    FastenerTable,
    PointsTable,
    StripTable,
)
from shapecut.job.reading import job_from_text
from shapecut.job.stock import StockTable
from shapecut.job_folder import make_into
from shapecut.layout.fasteners import Fixing
from shapecut.papers.cut_list import buying_list_csv
from shapecut.papers.drawing import Drawing, Layer
from shapecut.papers.drill_list import drill_marks_csv
from shapecut.papers.fascia_strips import fascia_strips
from shapecut.papers.fittings_drawing import with_fittings
from shapecut.papers.material_list import materials_csv, ways_of_buying_csv
from shapecut.shape.curves import Arc
from shapecut.shape.outline import Treatment
from shapecut.shape.setting_out import SetPoint
from shapecut.stages.fitting_out import FittingTables, fitted_out
from shapecut.stages.planning import plan, treated
from shapecut.stock import spares
from shapecut.stock.cutplan import Blank, Stock
from shapecut.stock.materials import Fittings, total_cost
from shapecut.stock.plan import plan_cuts
from shapecut.stock.spares import with_spares
from shapecut.summary import made_lines
from tests.test_layout_supports import outline_of
from tests.test_planning_carpentry import JOB

BOARDS = Boards(width="140 mm", thickness="28 mm", gap="5 mm", edges="grooved")
DECK = outline_of((0, 0), (3000, 0), (3000, 1445), (0, 1445))
NOSES = outline_of(
    *((0, 0), (3000, 0), (3000, 1445), (2250, 1445), (2250, 1590), (2050, 1590), (2050, 1445)),
    *((1250, 1445), (1250, 1590), (1050, 1590), (1050, 1445), (0, 1445)),
)
"""The same with two noses 200 mm wide between joists, one row deep."""

NONE = Allowances(wall="0 mm", exposed="0 mm")
STOCK = StockTable(lengths=[{"length": "3.6 m", "price": 20}, {"length": "4.2 m", "price": 30}])
JOISTS = JoistTable(spacing="500 mm", measured_from="E4")
"""Seven joists, at 0, 500, ... 3000 mm."""


def fitted(outline=DECK, *, joists=JOISTS, boards=BOARDS, **tables):
    made = plan(outline, boards, NONE, STOCK, joists=joists)
    return fitted_out(made, boards, FittingTables(**tables), kerf_mm=3.0)


def marks_of(made, *, boards=BOARDS, points=()):
    planned = plan(DECK, boards, NONE, STOCK, joists=JOISTS)
    layout, cut_plan = planned.layout, planned.cut_plan
    return rows_of(drill_marks_csv(layout, cut_plan, made, points=points, point_mm=5.0))


def rows_of(data):
    return list(csv.DictReader(StringIO(data.decode("utf-8-sig"))))


class TestMaterials:
    def test_a_deck_on_paper(self):
        """Ten boards of 3000 mm from 3600: one in six is waste.  Seven joists: 9 x 7 = 63 clips and
        10 % are 69.3, so 70; 7 starters and 7 screws come to 8 each.
        10 x 20 + 70 x 0.50 + 8 x 0.10 = 235.80; starters have no price."""
        table = FastenerTable(clip_price=Decimal("0.50"), screw_price=Decimal("0.10"))
        made = fitted(fasteners=table)
        lines = {material.name: material for material in made.materials}
        assert (lines["boards"].bought, lines["boards"].wasted) == (10, pytest.approx(1 / 6))
        assert (lines["hidden clips"].needed, lines["hidden clips"].bought) == (63, 70)
        assert lines["starter fixings"].bought == 8
        assert lines["face screws"].bought == 8
        assert total_cost(made.materials) == Decimal("235.80")

    def test_spare_boards_are_bought_and_cut_from_nothing(self):
        """Ten boards of 3.6 m at 20: 15 % are one and a half, so 2 spares, 40 more."""
        stock = STOCK.model_copy(update={"spare_percent": 15.0})
        made = plan(DECK, BOARDS, NONE, stock)
        (line,) = fitted_out(made, BOARDS, FittingTables(), kerf_mm=3.0).materials
        assert (line.needed, line.bought, line.cost) == (10, 12, 240)
        assert line.wasted == pytest.approx(1 / 6)
        assert (made.cut_plan.cost, made.cut_plan.purchase_cost) == (200, 240)
        assert made.cut_plan.proved
        (bought,) = rows_of(buying_list_csv(made.cut_plan))
        assert (bought["boards"], bought["price"]) == ("12", "240.00")

    def test_spares_are_of_the_longest_boards_that_can_be_had(self):
        yard = [Stock(2400.0, Decimal(10)), Stock(3600.0, Decimal(15), available=2)]
        blanks = [Blank("1a", 3500.0), *(Blank(f"{i}a", 2300.0) for i in range(2, 12))]
        made = with_spares(plan_cuts(blanks, yard, kerf_mm=3.0), 0.2)
        assert [stock.length_mm for stock in made.spares] == [3600.0, 2400.0, 2400.0]

    def test_ways_of_buying_stand_side_by_side(self):
        """Ten boards of 3.6 m at 20 or of 4.2 m at 30; the mix is the former."""
        made = plan(DECK, BOARDS, NONE, STOCK)
        lines = rows_of(ways_of_buying_csv(made.alternatives))
        assert [(line["buy"], line["boards"], line["price without spares"]) for line in lines] == [
            ("one length", "10", "200.00"),
            ("one length", "10", "300.00"),
            ("cheapest mix", "10", "200.00"),
        ]
        assert [line["waste %"] for line in lines] == ["16.7", "28.6", "16.7"]

    def test_docstring_of_the_spares(self):
        failed, attempted = doctest.testmod(spares)
        assert attempted > 0
        assert failed == 0

    def test_blocking_is_cut_from_the_timber_that_is_stated(self):
        """Two under each nose, 500 - 38 mm long; three and their cuts take 1392 mm of 1.6 m."""
        joists = JoistTable(spacing="500 mm", measured_from="E12")
        made = plan(NOSES, BOARDS, NONE, STOCK, joists=joists)
        assert [block.length_mm for block in made.supports.blocks] == pytest.approx([462] * 4)
        table = BlockingTable(lengths=[{"length": "1.6 m", "price": 4}], spare_percent=10)
        lines = fitted_out(made, BOARDS, FittingTables(blocking=table), kerf_mm=3.0).materials
        timber = next(line for line in lines if line.name == "blocking timber")
        assert (timber.needed, timber.bought, timber.cost) == (2, 3, 12)
        assert timber.wasted == pytest.approx(1 - 4 * 462 / 3200)
        short = BlockingTable(lengths=[{"length": "400 mm"}])
        with pytest.raises(StockError, match=r"blocking 1 is 462\.0 mm long"):
            fitted_out(made, BOARDS, FittingTables(blocking=short), kerf_mm=3.0)

    def test_the_list_as_csv(self):
        made = fitted(fasteners=FastenerTable(clip_price=Decimal("0.50")))
        lines = rows_of(materials_csv(made.materials))
        assert [line["material"] for line in lines][:2] == ["boards", "hidden clips"]
        assert (lines[0]["waste %"], lines[0]["price"]) == ("16.7", "200.00")
        assert (lines[1]["spare % as bought"], lines[1]["price"]) == ("11.1", "35.00")
        assert (lines[-1]["material"], lines[-1]["price"]) == (
            "total of what has a price",
            "235.00",
        )

    def test_boards_without_grooves_are_screwed(self):
        """Ten rows x seven joists x two screws."""
        square = BOARDS.model_copy(update={"edges": "square"})
        made = fitted(boards=square, fasteners=FastenerTable())
        assert made.fasteners.counts() == {Fixing.SCREW: 140}

    def test_fascia_boards_are_cut_together(self):
        """3040 and 1485 mm with a 3 mm kerf fit a 4.8 m board: two of them for all four edges."""
        fascia = FasciaTable(frame_depth="140 mm", lengths=[{"length": "4.8 m", "price": 30}])
        made = fitted(fascia=fascia)
        assert sorted(part.length_mm for part in made.fascia.parts) == pytest.approx(
            [1485, 1485, 3040, 3040]
        )
        line = next(m for m in made.materials if m.name == "fascia boards")
        assert (line.bought, line.cost) == (2, Decimal(60))
        assert line.wasted == pytest.approx(1 - 4525 / 4800)

    def test_the_rip_width_is_frame_board_and_reveal(self):
        lengths = [{"length": "4.8 m"}]
        made = fitted(fascia=FasciaTable(frame_depth="140 mm", reveal="5 mm", lengths=lengths))
        assert made.fascia.rules.width_mm == pytest.approx(140 + 28 + 5)
        made = fitted(fascia=FasciaTable(frame_depth="140 mm", reveal="-8 mm", lengths=lengths))
        assert made.fascia.rules.width_mm == pytest.approx(160)

    def test_only_covered_edges_get_a_fascia_unless_named(self):
        walled = treated(DECK, {"E1": Treatment.WALL})
        fascia = FasciaTable(frame_depth="140 mm", lengths=[{"length": "4.8 m"}])
        assert [part.edge for part in fitted(walled, fascia=fascia).fascia.parts] == [
            "E2", "E3", "E4",
        ]  # fmt: skip

    def test_a_covered_arc_is_said_to_be_left_out(self):
        edges = list(DECK.outer.edges)
        edges[1] = type(edges[1])("E2", Arc((3000, 0), (3000, 1445), (3000, 722.5), True))
        bowed = type(DECK)(type(DECK.outer)(tuple(edges)))
        stock = {"frame_depth": "140 mm", "lengths": [{"length": "4.8 m"}]}
        made = fitted(bowed, fascia=FasciaTable(**stock))
        (finding,) = [f for f in made.findings if "fascia along E2" in f.where]
        assert f"{math.pi * 722.5:.0f} mm long" in finding.what
        with pytest.raises(LayoutError, match="No fascia can be mitred at E2: it is an arc"):
            fitted(bowed, fascia=FasciaTable(edges=("E1", "E2"), **stock))

    def test_a_fascia_wider_than_its_boards_is_refused(self):
        fascia = FasciaTable(
            frame_depth="180 mm", board_width="190 mm", lengths=[{"length": "4.8 m"}]
        )
        with pytest.raises(LayoutError, match=r"208\.0 mm wide .*boards are only 190\.0 mm"):
            fitted(fascia=fascia)

    def test_a_fascia_with_nothing_left_of_it_is_refused(self):
        """140 mm of frame and 28 mm of boards; it is to end 170 mm above the frame's lower side."""
        fascia = FasciaTable(frame_depth="140 mm", reveal="-170 mm", lengths=[{"length": "4.8 m"}])
        said = r"140\.0 mm deep, the boards are 28\.0 mm thick, and it ends 170\.0 mm above"
        with pytest.raises(LayoutError, match=said):
            fitted(fascia=fascia)

    def test_strips_are_cut_from_reels(self):
        """1400 + 3000 + 1400 mm at a pitch of 100 mm from 5 m: 4400 on one reel, one on another."""
        strip = StripTable(
            name="light strip", edges=("E2", "E3", "E4"), pitch="100 mm",
            lengths=[{"length": "5 m", "price": 18}],
        )  # fmt: skip
        made = fitted(strips=(strip,))
        assert [piece.length_mm for piece in made.strips[0].pieces] == pytest.approx(
            [1400, 3000, 1400]
        )
        line = next(m for m in made.materials if m.name == "light strip")
        assert (line.bought, line.cost) == (2, Decimal(36))
        spared = strip.model_copy(update={"spare_percent": 10.0})
        line = next(m for m in fitted(strips=(spared,)).materials if m.name == "light strip")
        assert (line.needed, line.bought, line.cost) == (2, 3, Decimal(54))

    def test_what_stands_at_points_is_bought_where_it_has_a_price(self):
        lights = PointsTable(
            name="light", edge="E1", count=3, price=Decimal("12.50"), spare_percent=10
        )
        marks = PointsTable(name="mark", edge="E2", count=2)
        materials = fitted(points=(lights, marks)).materials
        line = next(m for m in materials if m.name == "light")
        assert (line.needed, line.bought, line.cost) == (3, 4, Decimal(50))
        assert "mark" not in [m.name for m in materials]

    def test_marks_to_drill(self):
        lights = PointsTable(name="light", edge="E1", count=3)
        fascia = FasciaTable(
            edges=("E1",), frame_depth="140 mm", lengths=[{"length": "4.8 m"}],
            screws={"spacing": "1500 mm"},
        )  # fmt: skip
        lines = marks_of(fitted(points=(lights,), fascia=fascia))
        assert [line["mark"] for line in lines] == [
            "F1-1a", "F1-1b", "F1-2a", "F1-2b", "F1-3a", "F1-3b", "light 1", "light 2", "light 3",
        ]  # fmt: skip
        assert (lines[0]["along mm"], lines[0]["up mm"]) == ("40.0", "30.0")
        assert (lines[-1]["along mm"], lines[-1]["x mm"]) == ("2500.0", "2500.0")

    def test_marks_on_pieces_are_measured_as_on_their_cut_cards(self):
        """A cross on the second row, and the screws of that row's board, 20 mm from its edges."""
        square = BOARDS.model_copy(update={"edges": "square"})
        made = fitted(boards=square, fasteners=FastenerTable())
        lines = marks_of(made, boards=square, points=(SetPoint("P1", (700.0, 175.0), 0.1),))
        (cross,) = [line for line in lines if line["mark"] == "P1"]
        assert (cross["on"], cross["measured from"]) == ("2a", "reference end")
        assert (cross["along mm"], cross["up mm"], cross["diameter mm"]) in {
            ("700.0", "30.0", "5.0"), ("2300.0", "110.0", "5.0"),
        }  # fmt: skip
        assert (cross["x mm"], cross["y mm"]) == ("700.0", "175.0")
        screws = [line for line in lines if line["mark"] == "face screw"]
        assert len(screws) == 140
        assert {line["up mm"] for line in screws} == {"20.0", "120.0"}

    def test_nothing_to_mark_is_no_file(self):
        planned = plan(DECK, BOARDS, NONE, STOCK)
        assert drill_marks_csv(planned.layout, planned.cut_plan, Fittings(), point_mm=5.0) is None

    def test_points_are_marked_on_the_fascia_that_hides_their_edge(self):
        """Mitres of 45° take the face 20 mm past the back at both ends."""
        fascia = FasciaTable(frame_depth="140 mm", thickness="20 mm", lengths=[{"length": "4.8 m"}])
        lights = PointsTable(name="light", edge="E1", count=3, size="60 mm")
        made = fitted(fascia=fascia, points=(lights,))
        strips = {strip.label: strip for strip in fascia_strips(made.fascia, made.rows, 5.0)}
        (strip,) = strips.values()
        assert [(m.name, m.along_mm, m.size_mm) for m in strip.marks] == [
            ("light 1", pytest.approx(520.0), 60.0),
            ("light 2", pytest.approx(1520.0), 60.0),
            ("light 3", pytest.approx(2520.0), 60.0),
        ]

    def test_fasteners_and_points_are_drawn_where_they_are(self):
        lights = PointsTable(name="light", edge="E1", count=3, size="60 mm")
        made = fitted(fasteners=FastenerTable(), points=(lights,))
        drawing = with_fittings(Drawing("", ()), made, name_mm=20.0)
        sides = Counter(len(s.curves) for s in drawing.on(Layer.FASTENER).strokes)
        assert sides == {4: 63, 3: 7, 2: 7}  # clips, starters, screws
        assert [text.text for text in drawing.on(Layer.POINT).texts] == [
            "light 1", "light 2", "light 3",
        ]  # fmt: skip
        rims = [s.curves[0] for s in drawing.on(Layer.POINT).strokes if s.closed]
        assert [(rim.centre, rim.radius) for rim in rims] == [
            (pytest.approx((x, 0.0)), 30.0) for x in (500.0, 1500.0, 2500.0)
        ]


@pytest.mark.parametrize(
    ("new", "says"),
    [
        ("[fasteners]", ["fasteners needs [joists]"]),
        (
            '[joists]\nspacing = "400 mm"\n[fasteners]\nkind = "clips"',
            ['kind = "clips" needs grooves', '"eased"'],
        ),
        ('[joists]\nspacing = "400 mm"\n[fasteners]\nspare_percent = -5', ["spare_percent"]),
        ('[blocking]\nlengths = [{length = "3 m"}]', ["blocking needs [joists]"]),
        ("[fascia]\nlengths = []", ["fascia", "frame_depth", "lengths"]),
        ('[[points]]\nname = "light"', ["points", "edge or length"]),
        ('[[points]]\nname = "light"\nedge = "E1"', ["points", "count or at_most"]),
        (
            '[[points]]\nname = "l"\nlength = "1 m"\ncount = 2\nclear_of_joists = "5 mm"',
            ["clear_of_joists needs an edge"],
        ),
        ('[[strips]]\nname = "edging"\nlengths = [{length = "3 m"}]', ["strips", "edges"]),
    ],
)
def test_a_mistake_in_the_job_is_answered_by_name(new, says):
    with pytest.raises(JobFileError) as caught:
        job_from_text(JOB.replace("[stock]", f"{new}\n[stock]", 1))
    for words in says:
        assert words in str(caught.value)


TERRACE = """
title = "Terrace"
[template]
outline = "outline.json"
[boards]
width = "140 mm"
thickness = "28 mm"
edges = "grooved"
[joists]
spacing = "400 mm"
measured_from = "E4"
[border]
edges = ["E1", "E2"]
[[breakers]]
measured_from = "E4"
at = "1500 mm"
[left_long]
E4 = "40 mm"
[fasteners]
[fascia]
frame_depth = "140 mm"
lengths = [{ length = "4.2 m" }]
screws = { spacing = "600 mm" }
[[points]]
name = "light"
edge = "E1"
count = 4
[[strips]]
name = "edging"
edges = ["E3"]
lengths = [{ length = "3 m" }]
[stock]
lengths = [{ length = "3.6 m" }]
"""


def test_a_job_with_everything_is_written(tmp_path):
    points = [(0, 0), (3400, 0), (3400, 1800), (0, 1800)]
    ends = [*points[1:], points[0]]
    edges = [
        {"name": f"E{n}", "kind": "line", "from": start, "to": end}
        for n, (start, end) in enumerate(zip(points, ends, strict=True), start=1)
    ]
    outline = {"units": "mm", "rings": [{"kind": "outer", "edges": edges}]}
    (tmp_path / "outline.json").write_text(json.dumps(outline))
    (tmp_path / "job.toml").write_text(TERRACE)
    make_into(tmp_path, tmp_path / "cut", replace=False)
    record = json.loads((tmp_path / "cut" / "plan.json").read_text("utf-8"))
    assert {"B1", "B2", "D1"} < {piece["label"] for piece in record["pieces"]}
    (corner,) = record["edging"]["corners"]
    assert corner["mitre_deg"] == pytest.approx(45)
    (trim,) = record["edging"]["trims"]
    rough, left = trim["pieces"]["1a"]
    assert rough - left == pytest.approx(40)
    assert len(record["fittings"]["fascia"]) == 4
    assert {one["name"] for one in record["fittings"]["materials"]} >= {
        "boards", "fascia boards", "edging", "hidden clips",
    }  # fmt: skip
    report = (tmp_path / "cut" / "report.html").read_text("utf-8")
    for section in ("edging", "fittings", "materials"):
        assert f'<section id="{section}"' in report
    assert "snap one line from mark to mark" in report
    assert "45.0° off square" in report
    assert "number 1, from 0.0\N{NO-BREAK SPACE}mm" in report
    assert rows_of((tmp_path / "cut" / "drill-marks.csv").read_bytes())
    cautions = [f for f in record["findings"] if "building code" in f["what"]]
    assert len(cautions) == 1


def test_console_and_report_tell_the_same_costs(tmp_path):
    """One spare board; what else is bought makes the total, the same in both."""
    example = Path(__file__).parent.parent / "examples" / "pond_terrace"
    shutil.copytree(example, tmp_path / "job")
    job = (tmp_path / "job" / "job.toml").read_text("utf-8")
    job = job.replace("[stock]\n", "[stock]\nspare_percent = 1\n", 1)
    (tmp_path / "job" / "job.toml").write_text(job, "utf-8")
    made = make_into(tmp_path / "job", tmp_path / "cut", replace=False)
    buy, also = (
        next(line for line in made_lines(made) if line.startswith(word)) for word in ("buy", "also")
    )
    report = (tmp_path / "cut" / "report.html").read_text("utf-8")
    boards, total = made.plan.cut_plan.purchase_cost, total_cost(made.fittings.materials)
    assert f", 1 of them spare: {boards} EUR (no cheaper way)" in buy
    assert f", 1 of them spare, {boards} EUR</p>" in report
    assert f": {total} EUR with the boards" in also
    assert f"<p>Also {also.removeprefix('also').strip()}.</p>" in report
    unpriced = {one.name for one in made.fittings.materials if one.price is None}
    assert unpriced
    assert unpriced == set(also.split("(no price: ")[1].rstrip(")").split(", "))
    assert total > boards


def test_the_terrace_by_the_pond(tmp_path):
    """Its corners by hand: the slanted edge leans by 350 in 1900 mm, 10.44° from upright, so the
    border turns by 79.56° at E4/E5 and by 100.44° at E5/E6 of the place."""
    example = Path(__file__).parent.parent / "examples" / "pond_terrace"
    made = make_into(example, tmp_path / "cut", replace=False)
    angles = {corner.edges: math.degrees(corner.mitre_rad) for corner in made.plan.edging.corners}
    lean = math.degrees(math.atan2(350, 1900))
    assert sorted(angles.values()) == pytest.approx([(90 - lean) / 2, (90 + lean) / 2])
    trimmed = made.plan.edging.trims[0].pieces
    assert {round(piece.rough_mm - piece.left_mm, 6) for piece in trimmed} == {40}
    report = " ".join((tmp_path / "cut" / "report.html").read_text("utf-8").split())
    assert "E3: cut here 40 mm (1 9/16 in) too long; it is trimmed to its line once" in report
    assert "E3 (covered): the line" not in report
    fascia = made.fittings.fascia
    assert fascia is not None
    assert {part.edge for part in fascia.parts} == {"E3", "E4", "E5", "E6"}
    assert all(part.length_mm <= 4200 for part in fascia.parts)
