"""The commands as a person types them: what they write, say, and answer to bad input."""

import errno
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from click.testing import CliRunner
from PIL import Image

from shapecut.cli import main
from shapecut.job.new_job import SAMPLE_OUTLINE

JOB = """
title = "Landing by the kiln"
[template]
outline = "outline.json"
[edges]
others = "covered"
[boards]
width = "120 mm"
gap = "4 mm"
[stock]
lengths = [{ length = "2.4 m", price = 9.60 }, { length = "3.6 m", price = 14.40 }]
"""


def run(*arguments):
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def job(tmp_path):
    """A job folder on a typed outline."""
    folder = tmp_path / "landing"
    folder.mkdir()
    (folder / "job.toml").write_text(JOB, encoding="utf-8")
    (folder / "outline.json").write_text(json.dumps(SAMPLE_OUTLINE), encoding="utf-8")
    return folder


def rewrite(folder, old, new):
    text = (folder / "job.toml").read_text(encoding="utf-8")
    assert old in text
    (folder / "job.toml").write_text(text.replace(old, new), encoding="utf-8")


def files_under(folder):
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()
    )


class TestEachCommand:
    @pytest.mark.parametrize("command", ["cards", "new", "measure", "plan", "make", "demo"])
    def test_help_shows_an_example(self, command):
        result = run(command, "--help")
        assert result.exit_code == 0
        assert f"Example:  shapecut {command}" in result.output

    def test_cards_writes_a_pdf(self, tmp_path):
        result = run("cards", "--page", "Letter", "-o", tmp_path / "cards.pdf")
        assert result.exit_code == 0
        assert (tmp_path / "cards.pdf").read_bytes().startswith(b"%PDF")

    def test_new_without_photographs_makes_a_job_that_runs(self, tmp_path):
        folder = tmp_path / "kiln landing"
        assert run("new", folder).exit_code == 0
        result = run("make", folder)
        assert result.exit_code == 0, result.output
        assert "kiln landing" in result.output

    @pytest.mark.parametrize("title", ["two\nlines", "x" * 201])
    def test_new_refuses_a_title_that_no_job_can_have(self, tmp_path, title):
        result = run("new", tmp_path / "job", "--title", title)
        assert result.exit_code == 1
        assert "title" in result.output
        assert not (tmp_path / "job").exists()

    def test_new_copies_photographs_and_names_them_in_the_job(self, tmp_path):
        Image.new("RGB", (400, 400)).save(tmp_path / "one.png")
        assert run("new", tmp_path / "job", tmp_path / "one.png").exit_code == 0
        assert 'photos = ["one.png"]' in (tmp_path / "job" / "job.toml").read_text("utf-8")
        assert (tmp_path / "job" / "one.png").exists()

    def test_new_adds_a_job_to_a_folder_of_photographs(self, tmp_path):
        Image.new("RGB", (400, 400)).save(tmp_path / "one.png")
        assert run("new", tmp_path, tmp_path / "one.png").exit_code == 0
        assert files_under(tmp_path) == ["job.toml", "one.png"]

    def test_make_writes_every_paper(self, job):
        result = run("make", job)
        assert result.exit_code == 0, result.output
        pieces = [name for name in files_under(job / "cut") if name.startswith("pieces/")]
        assert re.search(rf"{len(pieces)} pieces", result.output)
        assert set(files_under(job / "cut")) - set(pieces) == {
            ".shapecut-files",
            "boards-to-buy.csv",
            "boards-as-cut.dxf",
            "boards.dxf",
            "cut-cards.pdf",
            "cut-list.csv",
            "job.json",
            "materials.csv",
            "offcuts.toml",
            "outline.json",
            "plan.json",
            "plan.svg",
            "report.html",
            "tiles.pdf",
            "ways-of-buying.csv",
        }

    def test_the_same_job_gives_the_same_bytes(self, job):
        for out in ("one", "two"):
            assert run("make", job, "--out", job / out).exit_code == 0
        for name in files_under(job / "one"):
            assert (job / "one" / name).read_bytes() == (job / "two" / name).read_bytes(), name

    def test_plan_takes_a_typed_outline(self, job, tmp_path):
        rewrite(job, 'outline = "outline.json"', 'photos = ["none.jpg"]')
        result = run("plan", job, "--outline", job / "outline.json", "-o", tmp_path / "planned")
        assert result.exit_code == 0, result.output
        plan = json.loads((tmp_path / "planned" / "plan.json").read_text("utf-8"))
        assert plan["proved"] is True
        assert [board["length"] for board in plan["boards_to_buy"]]

    def test_results_follow_their_published_schemas(self, job):
        from jsonschema import Draft202012Validator

        assert run("make", job).exit_code == 0
        schemas = Path(__file__).parent.parent / "shapecut" / "schemas"
        for name in ("plan.json", "job.json"):
            schema = json.loads((schemas / f"{name}.schema.json").read_text("utf-8"))
            value = json.loads((job / "cut" / name).read_text("utf-8"))
            Draft202012Validator(schema).validate(value)

    def test_a_photograph_in_the_job_is_measured_when_the_outline_is_not_given(self, job):
        result = run("measure", job)
        assert result.exit_code == 1
        assert "nothing to measure" in result.output


BAD_JOBS = {
    "an outline that crosses itself": (
        lambda job: cross_itself(job),
        ["cross", "E"],
    ),
    "an outline file that is not JSON": (
        lambda job: (job / "outline.json").write_text("outline"),
        ["outline.json", "not JSON"],
    ),
    "an outline in furlongs": (
        lambda job: edit_outline(job, lambda outline: outline | {"units": "furlong"}),
        ["outline.json", "units", "mm"],
    ),
    "a template smaller than the smallest rip": (
        lambda job: rewrite(job, '"120 mm"', '"900 mm"\nsmallest_rip = "700 mm"'),
        ["640.0 mm across", "smallest rip of 700.0 mm"],
    ),
    "a gap as wide as the board": (
        lambda job: rewrite(job, '"4 mm"', '"120 mm"'),
        ["gap 120 mm", "board width 120 mm"],
    ),
    "a negative length": (
        lambda job: rewrite(job, '"4 mm"', '"-4 mm"'),
        ["boards.gap", "negative"],
    ),
    "a missing length": (
        lambda job: rewrite(job, 'width = "120 mm"', ""),
        ["boards.width is missing"],
    ),
    "a length without a unit": (
        lambda job: rewrite(job, '"120 mm"', "120"),
        ["boards.width", "no unit"],
    ),
    "an unknown key": (
        lambda job: rewrite(job, "gap =", "gapp ="),
        ["boards.gapp", "did you mean gap"],
    ),
    "an unknown edge": (
        lambda job: rewrite(job, "others =", "E77 ="),
        ["E77", "E1, E2"],
    ),
    "boards along an arc": (
        lambda job: rewrite(job, "gap =", 'direction = "along E4"\ngap ='),
        ["E4", "arc"],
    ),
    "a missing photograph": (
        lambda job: rewrite(job, 'outline = "outline.json"', 'photos = ["gone.jpg"]'),
        ["gone.jpg"],
    ),
    "a directory in place of a photograph": (
        lambda job: rewrite(job, 'outline = "outline.json"', 'photos = ["."]'),
        ["folder"],
    ),
    "a missing outline": (
        lambda job: (job / "outline.json").unlink(),
        ["outline.json"],
    ),
    "a piece longer than any stock": (
        lambda job: (
            rewrite(job, '{ length = "3.6 m", price = 14.40 }', "").__class__
            and rewrite(job, '"2.4 m"', '"0.8 m"')
        ),
        ["1a", "800"],
    ),
}


def edit_outline(job, change):
    outline = json.loads((job / "outline.json").read_text("utf-8"))
    (job / "outline.json").write_text(json.dumps(change(outline)), encoding="utf-8")


def cross_itself(job):
    corners = [[0, 0], [600, 600], [600, 0], [0, 600]]
    edges = [
        {"name": f"E{k + 1}", "kind": "line", "from": corners[k], "to": corners[(k + 1) % 4]}
        for k in range(4)
    ]
    edit_outline(job, lambda _: {"units": "mm", "rings": [{"kind": "outer", "edges": edges}]})


class TestBadInput:
    @pytest.mark.parametrize("case", BAD_JOBS)
    def test_is_answered_with_a_sentence_and_leaves_nothing_behind(self, job, case):
        spoil, says = BAD_JOBS[case]
        spoil(job)
        before = files_under(job)
        result = run("make", job)
        assert result.exit_code == 1
        assert result.output.startswith("shapecut: ")
        assert "Traceback" not in result.output
        for words in says:
            assert words in result.output
        assert files_under(job) == before

    def test_an_existing_result_is_refused_then_replaced_whole(self, job):
        assert run("make", job).exit_code == 0
        before = {name: (job / "cut" / name).read_bytes() for name in files_under(job / "cut")}
        rewrite(job, '"120 mm"', '"140 mm"')
        refused = run("make", job)
        assert refused.exit_code == 2
        assert "--replace" in refused.output
        assert before == {
            name: (job / "cut" / name).read_bytes() for name in files_under(job / "cut")
        }
        assert run("make", job, "--replace").exit_code == 0
        assert (job / "cut" / "plan.json").read_bytes() != before["plan.json"]

    def test_a_failing_job_leaves_the_old_result(self, job):
        assert run("make", job).exit_code == 0
        before = files_under(job)
        rewrite(job, '"120 mm"', '"900 mm"\nsmallest_rip = "700 mm"')
        assert run("make", job, "--replace").exit_code == 1
        assert files_under(job) == before

    def test_a_folder_that_shapecut_did_not_write_is_never_replaced(self, job):
        (job / "cut").mkdir()
        (job / "cut" / "diary.txt").write_text("mine")
        result = run("make", job, "--replace")
        assert result.exit_code == 2
        assert "diary.txt" in result.output
        assert (job / "cut" / "diary.txt").read_text() == "mine"

    @pytest.mark.parametrize("out", [".", ".."])
    def test_a_result_never_takes_the_place_of_its_job(self, job, out):
        before = files_under(job)
        result = run("make", job, "--out", job / out, "--replace")
        assert result.exit_code == 2
        assert "holds the job itself" in result.output
        assert files_under(job) == before

    def test_a_job_that_new_wrote_is_the_users_own(self, tmp_path):
        assert run("new", tmp_path / "job").exit_code == 0
        result = run("demo", tmp_path / "job", "--replace")
        assert result.exit_code == 2
        assert "did not write" in result.output
        assert (tmp_path / "job" / "job.toml").exists()

    def test_a_photograph_called_like_the_job_file_is_refused(self, tmp_path):
        Image.new("RGB", (400, 400)).save(tmp_path / "job.toml", "PNG")
        result = run("new", tmp_path / "job", tmp_path / "job.toml")
        assert result.exit_code == 2
        assert "job.toml" in result.output
        assert not (tmp_path / "job").exists()

    def test_a_full_disk_is_said_plainly_and_leaves_nothing(self, job, monkeypatch):
        def full(*_):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

        monkeypatch.setattr("shapecut.job_folder.write_papers", full)
        before = files_under(job)
        result = run("make", job)
        assert result.exit_code == 1
        assert "cannot be written (no space left on device)" in result.output
        assert files_under(job) == before

    @pytest.mark.parametrize("asked", [signal.SIGTERM, signal.SIGHUP])
    def test_a_run_asked_to_stop_leaves_no_draft(self, tmp_path, asked):
        example = Path(__file__).parent.parent / "examples" / "alcove_shelf"
        call = "from shapecut.cli import main; main()"
        process = subprocess.Popen(
            [sys.executable, "-c", call, "make", example, "--out", tmp_path / "cut"]
        )
        while process.poll() is None and not any(tmp_path.iterdir()):
            time.sleep(0.01)
        process.send_signal(asked)
        assert process.wait(timeout=300) in (0, 128 + asked)
        assert [path.name for path in tmp_path.iterdir()] in ([], ["cut"])

    def test_cards_do_not_overwrite_a_file_unasked(self, tmp_path):
        (tmp_path / "cards.pdf").write_text("mine")
        result = run("cards", "-o", tmp_path / "cards.pdf")
        assert result.exit_code == 2
        assert "--replace" in result.output
        assert (tmp_path / "cards.pdf").read_text() == "mine"

    @pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
    def test_a_place_that_cannot_be_written(self, job, tmp_path):
        locked = tmp_path / "locked"
        locked.mkdir(mode=0o500)
        result = run("make", job, "--out", locked / "cut")
        assert result.exit_code == 1
        assert "cannot be written" in result.output

    def test_an_output_below_a_file_cannot_be_written(self, job):
        result = run("make", job, "--out", job / "job.toml" / "cut")
        assert result.exit_code == 1
        assert "cannot be written" in result.output

    @pytest.mark.parametrize(
        ("arguments", "says"),
        [
            (["make", "nowhere"], "nowhere"),
            (["make", __file__], "is a file"),
            (["new", "job", "missing.jpg"], "missing.jpg"),
            (["cards", "--page", "A5"], "A5"),
            (["cards", "--paeg", "A4"], "--page"),
            (["bake"], "bake"),
        ],
    )
    def test_a_mistyped_command_exits_with_2(self, arguments, says):
        result = run(*arguments)
        assert result.exit_code == 2
        assert says in result.output

    def test_new_does_not_touch_an_existing_job(self, job):
        before = (job / "job.toml").read_bytes()
        result = run("new", job)
        assert result.exit_code == 2
        assert (job / "job.toml").read_bytes() == before

    def test_new_refuses_what_is_not_a_photograph(self, tmp_path):
        (tmp_path / "one.jpg").write_text("not a picture")
        result = run("new", tmp_path / "job", tmp_path / "one.jpg")
        assert result.exit_code == 1
        assert "one.jpg" in result.output
        assert not (tmp_path / "job").exists()

    def test_a_truncated_photograph_is_named(self, job, tmp_path):
        photo = Path(__file__).parent.parent / "examples" / "alcove_shelf" / "alcove.jpg"
        (job / "cut.jpg").write_bytes(photo.read_bytes()[:1_000_000])
        rewrite(job, 'outline = "outline.json"', 'photos = ["cut.jpg"]')
        result = run("make", job)
        assert result.exit_code == 1
        assert "cut.jpg" in result.output

    def test_a_fault_of_ours_is_one_sentence_too(self, job, monkeypatch):
        monkeypatch.setattr("shapecut.job_stages.planned", lambda *_, **__: 1 / 0)
        result = run("make", job)
        assert result.exit_code == 1
        assert "something went wrong that should not: ZeroDivisionError" in result.output


def test_the_demo_runs_and_can_be_run_again(tmp_path):
    assert run("demo", tmp_path / "demo").exit_code == 0
    shutil.rmtree(tmp_path / "demo" / "cut" / "pieces")
    assert run("demo", tmp_path / "demo").exit_code == 2
    again = run("demo", tmp_path / "demo", "--replace")
    assert again.exit_code == 0, again.output
    assert (tmp_path / "demo" / "cut" / "pieces").is_dir()
