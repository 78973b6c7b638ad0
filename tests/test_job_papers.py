"""The table `[papers]`: what a person may ask for, and what `make` then writes."""

import re

import ezdxf
import pypdfium2 as pdfium
import pytest
from click.testing import CliRunner

from shapecut.cli import main
from shapecut.errors import JobFileError
from shapecut.job.reading import job_from_text
from shapecut.papers.paper import Paper
from shapecut.papers.printer import Printer
from shapecut.papers.tile_kind import TileKind
from shapecut.papers.tool import Tool

JOB = """
[template]
outline = "outline.json"
[boards]
width = "140 mm"
[stock]
kerf = "6 mm"
lengths = [{ length = "4 m" }]
[papers]
"""


def papers(text: str = ""):
    return job_from_text(JOB + text).papers


def test_what_is_left_out():
    assert papers().page.paper is Paper.A4
    assert papers().tiles == (TileKind.PLAN,)
    assert papers().printer == Printer(100.0, 100.0)
    assert papers().dxf == "R2010"
    assert papers().bit is None


def test_what_is_stated():
    asked = papers(
        'page = "roll 24 in"\ntiles = ["cuts", "placing"]\nbar_along = "97.3 mm"\n'
        'bar_across = "98.9 mm"\ndxf = "R12"\ntool = "1/4 in"\nrelieve = true\n'
    )
    assert asked.page.width_mm == pytest.approx(609.6)
    assert asked.page.height_mm is None
    assert asked.tiles == (TileKind.CUTS, TileKind.PLACING)
    assert asked.printer == Printer(97.3, 98.9)
    assert asked.bit == Tool(pytest.approx(6.35), relieves=True)
    assert asked.model_dump(mode="json")["page"] == "roll 24 in"


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('page = "B5"', "papers.page"),
        ('page = "roll 50 mm"', "check bars"),
        ('tiles = ["plan", "plan"]', "twice"),
        ('tiles = ["cut"]', "papers.tiles"),
        ('bar_along = "4 in"', None),
        ('bar_along = "254 mm"', "chequered bar"),
        ('dxf = "R14"', "papers.dxf"),
        ("relieve = true", "needs tool"),
        ('tool = "6 m"', r"wider than 60 mm \(2 3/8 in\)"),
        ('tool = "0 mm"', "more than zero"),
    ],
)
def test_wrong_values_get_one_sentence(line, says):
    if says is None:
        assert papers(line).printer.bar_along_mm == pytest.approx(101.6)
        return
    with pytest.raises(JobFileError, match=says) as refused:
        papers(line)
    assert len(str(refused.value).splitlines()) == 1


def test_make_writes_what_was_asked_for(tmp_path):
    runner = CliRunner()
    job = tmp_path / "shelf"
    assert runner.invoke(main, ["new", str(job)]).exit_code == 0
    text = (job / "job.toml").read_text("utf-8")
    asked = 'tiles = ["cuts", "placing"]\ntool = "6 mm"\ndxf = "R12"\nbar_along = "99 mm"\n'
    (job / "job.toml").write_text(text.replace("[papers]\n", f"[papers]\n{asked}"), "utf-8")
    result = runner.invoke(main, ["make", str(job)])

    assert result.exit_code == 0, result.output
    written = {path.name for path in (job / "cut").iterdir()}
    assert {"cut-templates.pdf", "placing-guide.pdf"} < written
    assert not {"tiles.pdf", "drilling-templates.pdf"} & written
    first = pdfium.PdfDocument(job / "cut" / "cut-templates.pdf")[0]
    said = re.sub(r"\s+", " ", first.get_textpage().get_text_range())
    assert "99 mm of 100 mm along the sheet" in said
    boards = ezdxf.readfile(job / "cut" / "boards-as-cut.dxf")
    assert boards.dxfversion == "AC1009"
    layers = {entity.dxf.layer for entity in boards.modelspace()}
    assert {"cut-outside", "engrave-label", "board-blank", "reference"} <= layers
    assert "bit" in (job / "cut" / "report.html").read_text("utf-8")
