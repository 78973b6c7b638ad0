"""Several jobs in one `make`: side by side, past a failing one, all told in the end."""

import subprocess
import sys
import time

import pytest

from tests.test_cli import files_under, rewrite, run

PROGRAM = [sys.executable, "-c", "from shapecut.cli import main; main()"]


@pytest.fixture
def jobs(tmp_path):
    """Three jobs, the second of which cannot be laid."""
    folders = [tmp_path / name for name in ("attic", "barn door", "cellar")]
    for folder in folders:
        assert run("new", folder).exit_code == 0
    rewrite(folders[1], '"140 mm"', '"2 m"')
    return folders


def test_a_failing_job_stops_no_other(jobs):
    result = run("make", *jobs)
    assert result.exit_code == 1
    made = [(folder / "cut" / "report.html").exists() for folder in jobs]
    assert made == [True, False, True]
    assert f"2 of 3 jobs made; not made: {jobs[1]} (why is said above)" in result.output
    assert "The place to be boarded is on" in result.output
    for folder in jobs:
        assert f"--- {folder}\n" in result.output
    assert files_under(jobs[1]) == ["job.toml", "outline.json"]


def test_a_job_named_twice_is_made_once(jobs):
    result = run("make", jobs[0], jobs[2], jobs[0].parent / "." / "attic")
    assert result.exit_code == 0, result.output
    assert "2 of 2 jobs made" in result.output


def test_one_output_for_several_jobs_is_refused(jobs, tmp_path):
    result = run("make", *jobs, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert "leave it out" in result.output
    assert not any((folder / "cut").exists() for folder in jobs)


def test_stopped_they_leave_nothing_half_done(jobs):
    process = subprocess.Popen([*PROGRAM, "make", *jobs], stdout=subprocess.DEVNULL)
    while process.poll() is None and not any(
        path.name.startswith(".") for folder in jobs for path in folder.iterdir()
    ):
        time.sleep(0.01)
    process.terminate()
    assert process.wait(timeout=300) == 143
    for folder in jobs:
        assert {path.name for path in folder.iterdir()} <= {"cut", "job.toml", "outline.json"}
