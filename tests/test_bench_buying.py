"""What to buy at the bench is what the command line says, and says when it is out of date."""

import shutil
from pathlib import Path

import pytest

pytest.importorskip("tomlkit", reason="the bench's extra is not installed")

from shapecut.bench.bench import Bench
from shapecut.bench.buy import with_sold
from shapecut.errors import ShapecutError, UsageError
from shapecut.job.reading import job_from_text
from shapecut.job_folder import plan_into
from shapecut.stock.money import money_text
from shapecut.summary import plan_lines
from tests.test_bench_outline import run

EXAMPLE = Path(__file__).parent.parent / "examples" / "pond_terrace"
TEXT = (EXAMPLE / "job.toml").read_text("utf-8")


@pytest.fixture
def bench(tmp_path):
    bench = Bench(shutil.copytree(EXAMPLE, tmp_path / "terrace"))
    yield bench
    bench.close()


def test_the_boards_are_the_command_lines(bench, tmp_path):
    assert run(bench, "plan")["state"] == "done"
    plan = bench.shown()["buy"]["plan"]
    by_hand = plan_into(bench.folder, tmp_path / "planned", replace=False)
    cut_plan = by_hand.plan.cut_plan
    assert [one["count"] for one in plan["boards"]] == list(cut_plan.purchase.values())
    assert plan["cost"] == money_text(cut_plan.purchase_cost, "EUR")
    assert plan["cost"] in "\n".join(plan_lines(by_hand))
    assert len(plan["materials"]) == len(by_hand.fittings.materials)
    assert [one["cost"] for one in plan["ways"]][-1] == plan["cost"]
    labels = [label["text"] for board in plan["cuts"] for label in board["labels"]]
    assert sorted(labels) == sorted(piece.label for piece in by_hand.plan.layout.pieces)


def test_a_plan_is_out_of_date_once_the_job_changes_and_not_before(bench):
    run(bench, "plan")
    assert bench.shown()["buy"]["current"]
    changed = bench.call("change", {"edits": [["boards", "gap", "6 mm"]]})
    assert changed["buy"]["plan"]
    assert not changed["buy"]["current"]
    assert bench.call("undo", {})["buy"]["current"]


def test_papers_are_out_of_date_once_the_job_or_its_files_change(bench):
    run(bench, "make")
    assert bench.shown()["papers"]["changed"] == ""
    changed = bench.call("change", {"edits": [["boards", "gap", "6 mm"]]})
    assert changed["papers"]["changed"] == "the job"
    assert bench.call("undo", {})["papers"]["changed"] == ""
    outline = bench.folder / "outline.json"
    outline.write_bytes(outline.read_bytes())
    assert bench.shown()["papers"]["changed"] == "outline.json"
    assert bench.shown()["papers"]["names"]


def test_papers_that_the_command_line_made_are_known_too(bench):
    run(bench, "make")
    assert Bench(bench.folder).shown()["papers"]["changed"] == ""


def test_what_the_yard_sells_is_written_where_it_stands(bench):
    sold = bench.call("sold", {"number": 0, "length": "3.9 m", "price": "24.00"})["buy"]["sold"]
    assert sold[0] == {"length": "3.9 m", "price": "24.00"}
    assert (bench.folder / "job.toml").read_text() == TEXT.replace(
        '{ length = "3.6 m", price = 23.40 }', '{ length = "3.9 m", price = 24.00 }'
    )


def test_a_length_more_and_one_less():
    more = with_sold(TEXT, 3, "6 m", None)
    assert [one.length for one in job_from_text(more).stock.lengths] == [3600, 4200, 4800, 6000]
    less = with_sold(more, 1, None, None)
    assert [one.length for one in job_from_text(less).stock.lengths] == [3600, 4800, 6000]


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"number": -1, "length": "6 m"},
        {"number": 9, "length": "6 m"},
        {"number": 0, "length": "long"},
        {"number": 0, "length": 6},
        {"number": 0, "length": "6 m", "price": "cheap"},
        {"number": 0, "length": "6 m", "price": "nan"},
        {"number": 0, "length": "6 m", "price": "1\nkerf = 0"},
    ],
)
def test_what_no_yard_sells_is_refused(bench, values):
    with pytest.raises(ShapecutError):
        bench.call("sold", values)
    assert (bench.folder / "job.toml").read_text() == TEXT


def test_all_lengths_cannot_be_taken_out(bench):
    bench.call("sold", {"number": 0, "length": None})
    bench.call("sold", {"number": 0, "length": None})
    with pytest.raises(ShapecutError, match="at least one"):
        bench.call("sold", {"number": 0, "length": None})
    with pytest.raises(UsageError):
        with_sold(TEXT, 3, None, None)


def test_joists_are_shown_with_blocking_and_the_caution(bench):
    supports = bench.shown()["supports"]
    assert supports["count"] == 13
    assert supports["blocks"]
    assert "licensed practice" in supports["caution"]
    listed = bench.call(
        "change",
        {
            "edits": [
                ["joists", "lines", ["29 mm", "400 mm", "4500 mm"]],
                ["joists", "spacing", None],
                ["joists", "first", None],
            ]
        },
    )
    assert listed["supports"]["count"] == 3
    assert listed["tables"]["joists"]["lines"] == ["29 mm", "400 mm", "4500 mm"]
    assert any(one["level"] == "serious" for one in listed["supports"]["findings"])
