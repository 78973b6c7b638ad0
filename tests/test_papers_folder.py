"""Results are written whole or not at all, and nothing of the user's is ever replaced."""

import os
import signal
import subprocess
import sys
from contextlib import contextmanager

import pytest

from shapecut.errors import OutputError, UsageError
from shapecut.papers.draft import clear_old_drafts
from shapecut.papers.folder import MANIFEST, whole_file, whole_folder


def fill(path, *, replace=False, **files):
    with whole_folder(path, replace=replace) as draft:
        for name, text in files.items():
            (draft / name).write_text(text)


def names(path):
    return sorted(entry.name for entry in path.iterdir())


def test_a_new_folder_holds_what_was_written(tmp_path):
    fill(tmp_path / "deep" / "out", plan="rows", report="words")

    assert names(tmp_path / "deep" / "out") == [MANIFEST, "plan", "report"]
    assert names(tmp_path / "deep") == ["out"]
    assert (tmp_path / "deep" / "out").stat().st_mode & 0o555 == 0o555 & ~os.umask(os.umask(0o022))


def test_an_existing_folder_is_refused(tmp_path):
    (tmp_path / "out").mkdir()

    with pytest.raises(UsageError, match=r"exists already.*--replace"):
        fill(tmp_path / "out", plan="rows")


def test_replace_takes_the_whole_folder(tmp_path):
    fill(tmp_path / "out", plan="old", stale="old")
    fill(tmp_path / "out", replace=True, plan="new")

    assert names(tmp_path / "out") == [MANIFEST, "plan"]
    assert (tmp_path / "out" / "plan").read_text() == "new"
    assert names(tmp_path) == ["out"]


def test_replace_accepts_an_empty_folder(tmp_path):
    (tmp_path / "out").mkdir()
    fill(tmp_path / "out", replace=True, plan="new")

    assert (tmp_path / "out" / "plan").read_text() == "new"


def test_a_folder_of_other_things_is_never_replaced(tmp_path):
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "letter.txt").write_text("mine")

    with pytest.raises(UsageError, match=r"letter\.txt, which shapecut did not write"):
        fill(tmp_path / "home", replace=True, plan="rows")
    assert (tmp_path / "home" / "letter.txt").read_text() == "mine"


@pytest.mark.parametrize("foreign", ["notes.txt", "sub/notes.txt", "empty/"])
def test_something_added_to_our_folder_keeps_it(tmp_path, foreign):
    fill(tmp_path / "out", plan="old")
    added = tmp_path / "out" / foreign
    if foreign.endswith("/"):
        added.mkdir()
    else:
        added.parent.mkdir(exist_ok=True)
        added.write_text("mine")

    with pytest.raises(UsageError, match="did not write"):
        fill(tmp_path / "out", replace=True, plan="new")
    assert (tmp_path / "out" / "plan").read_text() == "old"
    assert names(tmp_path) == ["out"]


FILL = """
import pathlib, sys, time
from shapecut.papers.folder import whole_folder
with whole_folder(pathlib.Path(sys.argv[1]), replace=True) as draft:
    (draft / "plan").write_text("half")
    print("filling", flush=True)
    time.sleep(60)
"""


@contextmanager
def another_run(path):
    """Another process that fills the same folder, until the end or until it is killed."""
    process = subprocess.Popen([sys.executable, "-c", FILL, path], stdout=subprocess.PIPE)
    try:
        assert process.stdout.readline()
        yield process
    finally:
        process.kill()
        process.wait()
        process.stdout.close()


def test_two_runs_at_once_do_not_meet(tmp_path):
    fill(tmp_path / "out", plan="old")

    with another_run(tmp_path / "out") as other:
        with pytest.raises(UsageError, match="Another run is writing"):
            fill(tmp_path / "out", replace=True, plan="new")
        fill(tmp_path / "elsewhere", plan="new")
        clear_old_drafts(tmp_path)
        assert len(names(tmp_path)) == 3
        assert other.poll() is None
    assert (tmp_path / "out" / "plan").read_text() == "old"


def test_what_a_killed_run_left_goes_with_the_next_one(tmp_path):
    fill(tmp_path / "out", plan="old")
    with another_run(tmp_path / "out") as other:
        other.send_signal(signal.SIGKILL)
        other.wait()
    assert len(names(tmp_path)) == 2

    fill(tmp_path / "out", replace=True, plan="new")
    assert names(tmp_path) == ["out"]


def test_a_disk_without_locks_takes_results_too(tmp_path, monkeypatch):
    (tmp_path / ".out-0123456789ab").mkdir()
    monkeypatch.setattr("shapecut.papers.draft.fcntl", None)

    fill(tmp_path / "out", plan="new")

    assert names(tmp_path) == [".out-0123456789ab", "out"]


@pytest.mark.parametrize("new_in_place", [False, True])
def test_results_that_stepped_aside_come_back(tmp_path, new_in_place):
    """Where two folders cannot change places, a kill between two renames loses nothing."""
    fill(tmp_path / "out", plan="old")
    (tmp_path / "out").rename(tmp_path / ".out-before")
    if new_in_place:
        (tmp_path / ".out-before").rename(tmp_path / "kept")
        fill(tmp_path / "out", plan="new")
        (tmp_path / "kept").rename(tmp_path / ".out-before")

    with pytest.raises(UsageError, match="exists already"):
        fill(tmp_path / "out", plan="third")

    assert (tmp_path / "out" / "plan").read_text() == ("new" if new_in_place else "old")
    assert names(tmp_path) == ["out"]


def test_a_file_keeps_its_rights_and_its_links(tmp_path):
    (tmp_path / "kept").mkdir()
    whole_file(tmp_path / "kept" / "job.toml", b"old", replace=False)
    (tmp_path / "kept" / "job.toml").chmod(0o600)
    (tmp_path / "job.toml").symlink_to(tmp_path / "kept" / "job.toml")

    whole_file(tmp_path / "job.toml", b"new", replace=True)

    assert (tmp_path / "job.toml").is_symlink()
    assert (tmp_path / "kept" / "job.toml").read_bytes() == b"new"
    assert (tmp_path / "kept" / "job.toml").stat().st_mode & 0o777 == 0o600


def fail_halfway(path):
    with whole_folder(path, replace=True) as draft:
        (draft / "plan").write_text("half")
        raise RuntimeError("halfway")


def test_a_failure_leaves_the_old_folder_and_nothing_else(tmp_path):
    fill(tmp_path / "out", plan="old")

    with pytest.raises(RuntimeError, match="halfway"):
        fail_halfway(tmp_path / "out")

    assert (tmp_path / "out" / "plan").read_text() == "old"
    assert names(tmp_path) == ["out"]


def test_a_failed_move_brings_the_old_folder_back(tmp_path, monkeypatch):
    fill(tmp_path / "out", plan="old")
    rename = type(tmp_path).rename

    def fails_for_the_draft(self, target):
        if (self / MANIFEST).is_file() and (self / "plan").read_text() == "new":
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr("shapecut.papers.folder._exchange", lambda *_: False)
    monkeypatch.setattr(type(tmp_path), "rename", fails_for_the_draft)
    with pytest.raises(OutputError, match="no space left"):
        fill(tmp_path / "out", replace=True, plan="new")

    assert (tmp_path / "out" / "plan").read_text() == "old"
    assert names(tmp_path) == ["out"]


def test_a_file_in_place_of_the_folder_is_named(tmp_path):
    (tmp_path / "out").write_text("a file")

    for replace in (False, True):
        with pytest.raises(UsageError, match="is not a folder"):
            fill(tmp_path / "out", replace=replace, plan="rows")
    assert (tmp_path / "out").read_text() == "a file"


def test_a_link_is_not_followed(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "out").symlink_to(tmp_path / "real", target_is_directory=True)

    with pytest.raises(UsageError, match="is not a folder"):
        fill(tmp_path / "out", replace=True, plan="rows")


def test_a_place_that_cannot_be_written_gets_a_sentence(tmp_path):
    (tmp_path / "blocked").write_text("a file where a folder would have to be")

    with pytest.raises(OutputError, match=r"cannot be written \(.*\): choose a place"):
        fill(tmp_path / "blocked" / "out", plan="rows")


def test_a_file_is_written_over_an_older_one(tmp_path):
    whole_file(tmp_path / "sub" / "outline.json", b"old", replace=False)
    whole_file(tmp_path / "sub" / "outline.json", b"new", replace=True)

    assert (tmp_path / "sub" / "outline.json").read_bytes() == b"new"
    assert names(tmp_path / "sub") == ["outline.json"]


def test_a_folder_in_place_of_a_file_is_named(tmp_path):
    with pytest.raises(UsageError, match="is a folder"):
        whole_file(tmp_path, b"data", replace=True)


def test_a_file_that_cannot_be_written_gets_a_sentence(tmp_path):
    (tmp_path / "blocked").write_text("a file")

    with pytest.raises(OutputError, match="cannot be written"):
        whole_file(tmp_path / "blocked" / "outline.json", b"data", replace=False)
