"""Jobs that start from an outline: from a drawing, our own results, or a tape."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from shapecut.cli import main
from tests.drawn_files import dxf_bytes, new_dxf, svg_page

EXAMPLES = Path(__file__).parent.parent / "examples"

JOB = """
[template]
{template}

[edges]
others = "covered"

[boards]
width = "140 mm"

[stock]
lengths = [{{ length = "2.4 m" }}]
"""


def made(folder: Path, template: str, command: str = "make"):
    (folder / "job.toml").write_text(JOB.format(template=template))
    return CliRunner().invoke(main, [command, str(folder), "--replace"])


def result(folder: Path):
    return json.loads((folder / "cut" / "job.json").read_text())


def shelf_dxf(units: int) -> bytes:
    document, space = new_dxf(units)
    corners = [(0, 0, 0), (900, 0, 0.3), (900, 400, 0), (0, 400, 0)]
    space.add_lwpolyline(corners, format="xyb", close=True, dxfattribs={"layer": "shelf"})
    space.add_lwpolyline([(2000, 0), (2100, 0), (2100, 90)], close=True)
    return dxf_bytes(document)


def test_a_drawing_with_its_layer_and_unit(tmp_path):
    (tmp_path / "shelf.dxf").write_bytes(shelf_dxf(units=0))
    template = 'outline = "shelf.dxf"\noutline_layers = ["shelf"]\n'
    asked = made(tmp_path, template)
    assert asked.exit_code == 1
    assert "template.outline_units" in asked.output
    assert "Traceback" not in asked.output

    done = made(tmp_path, template + 'outline_units = "mm"')
    assert done.exit_code == 0, done.output
    edges = result(tmp_path)["outline"]["rings"][0]["edges"]
    assert sorted(edge["kind"] for edge in edges) == ["arc", "line", "line", "line"]


def test_our_own_drawing_of_a_plan_is_an_outline_again(tmp_path):
    # Nothing is left at covered edges, so the field is the outline.
    (tmp_path / "shelf.svg").write_bytes(svg_page('<path d="M0 0H900A200 200 0 0 1 900 400H0Z"/>'))
    first = made(tmp_path, 'outline = "shelf.svg"')
    assert first.exit_code == 0, first.output
    before = result(tmp_path)["outline"]
    for name, layer in (("boards.dxf", "field"), ("plan.svg", "field")):
        (tmp_path / name).write_bytes((tmp_path / "cut" / name).read_bytes())
        again = made(tmp_path, f'outline = "{name}"\noutline_layers = ["{layer}"]')
        assert again.exit_code == 0, again.output
        after = result(tmp_path)["outline"]
        assert len(after["rings"]) == len(before["rings"]) == 1
        lengths = sorted(edge["length"] for edge in after["rings"][0]["edges"])
        expected = sorted(edge["length"] for edge in before["rings"][0]["edges"])
        assert lengths == pytest.approx(expected, rel=1e-6, abs=2e-3)  # written to a micrometre


def test_a_curve_is_treated_by_its_one_name(tmp_path):
    page = svg_page('<path d="M0 300V0C200 150 400 -150 600 0V300Z"/>')
    (tmp_path / "waves.svg").write_bytes(page)
    job = JOB.replace('others = "covered"', 'others = "covered"\nE2 = "wall"')
    (tmp_path / "job.toml").write_text(job.format(template='outline = "waves.svg"'))
    done = CliRunner().invoke(main, ["make", str(tmp_path)])
    assert done.exit_code == 0, done.output
    edges = result(tmp_path)["outline"]["rings"][0]["edges"]
    waves = [edge for edge in edges if edge["name"].startswith("E2.")]
    assert len(waves) > 8
    assert {edge["treatment"] for edge in waves} == {"wall"}
    assert {edge["treatment"] for edge in edges if edge not in waves} == {"covered"}

    slip = (tmp_path / "job.toml").read_text().replace("E2", "E9")
    (tmp_path / "job.toml").write_text(slip)
    refused = CliRunner().invoke(main, ["make", str(tmp_path), "--replace"])
    assert "it has E1, E2, E3, E4." in refused.output


def test_what_is_to_be_known_of_the_outline_is_in_every_result(tmp_path):
    (tmp_path / "shelf.dxf").write_bytes(shelf_dxf(units=1))
    done = made(tmp_path, 'outline = "shelf.dxf"\noutline_layers = ["shelf"]\noutline_units = "mm"')
    assert "25.4 mm" in done.output
    assert "25.4 mm" in result(tmp_path)["outline_findings"][0]["what"]
    assert "25.4 mm" in (tmp_path / "cut" / "report.html").read_text()


@pytest.mark.parametrize(
    ("template", "says"),
    [
        ('outline = "gone.dxf"', "gone.dxf cannot be read"),
        ('outline = "a.svg"\nphotos = ["a.jpg"]', "it has photos and outline"),
        ('photos = ["a.jpg"]\noutline_units = "mm"', "belong to outline"),
        ('outline = "a.dxf"\noutline_units = "furlong"', "template.outline_units"),
        ('[template.taped]\ncorners = ["A", "B"]', "template.taped"),
    ],
)
def test_a_template_that_cannot_be_is_refused(tmp_path, template, says):
    refused = made(tmp_path, template)
    assert refused.exit_code == 1
    assert says in refused.output
    assert "Traceback" not in refused.output


def test_there_is_nothing_to_measure_in_a_taped_job(tmp_path):
    (tmp_path / "job.toml").write_text((EXAMPLES / "corner_shelf" / "job.toml").read_text())
    refused = CliRunner().invoke(main, ["measure", str(tmp_path)])
    assert refused.exit_code == 1
    assert "nothing to measure" in refused.output


def test_the_taped_example_fits_its_distances(tmp_path):
    job = tmp_path / "corner_shelf"
    job.mkdir()
    (job / "job.toml").write_text((EXAMPLES / "corner_shelf" / "job.toml").read_text())
    done = CliRunner().invoke(main, ["make", str(job)])
    assert done.exit_code == 0, done.output
    assert "serious" not in done.output
    edges = {edge["name"]: edge for edge in result(job)["outline"]["rings"][0]["edges"]}
    assert {name: edge["kind"] for name, edge in edges.items()} == {
        "A-B": "line", "B-D": "arc", "D-A": "line",
    }  # fmt: skip
    assert edges["A-B"]["length"] == pytest.approx(742, abs=1)
    assert edges["D-A"]["length"] == pytest.approx(905, abs=1)
    assert all(0.1 < edge["u"] < 1.0 for edge in edges.values())
