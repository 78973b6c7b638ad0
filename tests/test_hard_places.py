"""Where results cannot be written: full disks, other people's folders, two runs at once."""

import os
import resource
import signal
import subprocess
from multiprocessing import get_context

import pytest
from click.testing import CliRunner

from shapecut.cli import main
from shapecut.papers.draft import draft_folder

FORK = get_context("fork")


def run_apart(*arguments, before=lambda: None):
    """Exit code and words of a command in a process of its own, something done there before it."""
    ours, theirs = FORK.Pipe(duplex=False)

    def child():
        before()
        result = CliRunner().invoke(main, [str(argument) for argument in arguments])
        theirs.send((result.exit_code, result.output))

    process = FORK.Process(target=child)
    process.start()
    told = ours.recv()
    process.join()
    return told


def as_somebody_else():
    import shapecut.job_folder  # noqa: F401  # somebody else may not read where Python lies

    os.setegid(65534)
    os.seteuid(65534)


def small_files_only():
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))


@pytest.fixture
def job(tmp_path):
    """A job on a typed outline, with a result that a failing run must leave alone."""
    folder = tmp_path / "landing"
    assert run_apart("new", folder)[0] == 0
    assert run_apart("make", folder)[0] == 0
    return folder


def contents(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def assert_refused(job, says, **how):
    before = contents(job)
    code, output = run_apart("make", job, "--replace", **how)
    assert code == 1, output
    assert says in output
    assert "Traceback" not in output
    assert contents(job) == before
    assert sorted(path.name for path in job.iterdir()) == ["cut", "job.toml", "outline.json"]


def test_a_disk_that_takes_only_small_files(job):
    assert_refused(job, "cannot be written (file too large)", before=small_files_only)


@pytest.mark.skipif(os.geteuid() != 0, reason="only root becomes somebody else")
def test_a_folder_of_somebody_elses(job):
    for path in (job, *job.parents):
        if path.stat().st_mode & 0o055 != 0o055 and path.owner() == "root":
            path.chmod(path.stat().st_mode | 0o055)
    assert_refused(job, "cannot be written (permission denied)", before=as_somebody_else)


def test_a_full_disk(tmp_path):
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=160k", "tmpfs", disk]
    try:
        mounted = subprocess.run(mount, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        mounted = False
    if not mounted:
        pytest.skip("no small disk can be mounted here")
    try:
        code, output = run_apart("new", disk / "job")
        assert code == 0, output
        code, output = run_apart("make", disk / "job")
        assert code == 1
        assert "cannot be written (no space left on device)" in output
        assert sorted(path.name for path in (disk / "job").iterdir()) == [
            "job.toml",
            "outline.json",
        ]
    finally:
        subprocess.run(["umount", disk], check=True)


def test_a_second_run_on_the_same_folder_is_told_of_the_first(job):
    before = contents(job)
    with draft_folder(job / "cut"):
        code, output = run_apart("make", job, "--replace")
    assert code == 2
    assert "Another run is writing" in output
    assert contents(job) == before
