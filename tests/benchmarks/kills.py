"""Kill runs at random moments: results stay whole, and the next run clears what is left.

    python -m tests.benchmarks.kills        # 200 runs of `make` and 200 changes of a job file

Runs write by turns what two jobs give, so that a mixture of both, or a part of one, would show.
A fifth is killed at a moment by chance of the whole run, the others towards its end, where it
writes; half by SIGTERM, after which nothing may be left at all, half by SIGKILL.
"""

import hashlib
import os
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from multiprocessing import get_context
from pathlib import Path
from random import Random

from shapecut.bench.job_store import BEFORE_FILE, Edit, JobStore
from shapecut.cli import main
from shapecut.job.new_job import job_text
from shapecut.job.reading import JOB_FILE, read_job
from shapecut.job_folder import new_job
from shapecut.papers.draft import clear_old_drafts

__all__ = ["kill_changes", "kill_runs"]

WIDTHS = ("120 mm", "145 mm")

FORK = get_context("fork")
"""Processes with everything imported, so that a run is all work."""


def kill_runs(folder: Path, count: int, *, seed: int = 0) -> Counter[str]:
    """Kill runs of `make` on a job in a folder.

    Returns:
        How many results were old, new, broken; how many drafts were left, by signal.
    """
    random, told = Random(seed), Counter[str]()
    new_job(folder, ())
    text = (folder / JOB_FILE).read_text("utf-8")
    whole = []
    for width in WIDTHS:
        (folder / JOB_FILE).write_text(text.replace("140 mm", width), "utf-8")
        began = time.monotonic()
        _ended(_started(lambda: _make(folder)))
        took = time.monotonic() - began
        whole.append(digest(folder / "cut"))
    assert whole[0] != whole[1]
    for number in range(count):
        (folder / JOB_FILE).write_text(text.replace("140 mm", WIDTHS[number % 2]), "utf-8")
        before, drafts = digest(folder / "cut"), _drafts(folder)
        process = _started(lambda: _make(folder))
        time.sleep(took * (random.random() if random.random() < 0.2 else random.uniform(0.6, 1.4)))
        sent = random.choice((signal.SIGTERM, signal.SIGKILL))
        os.kill(process.pid, sent)
        _ended(process)
        after = digest(folder / "cut")
        told["old" if after == before else "new" if after in whole else "broken"] += 1
        told[f"left by {sent.name}"] += len(_drafts(folder) - drafts)
    _ended(_started(lambda: _make(folder)))
    told["left in the end"] = len(_drafts(folder))
    return told


def kill_changes(folder: Path, count: int, *, seed: int = 0) -> Counter[str]:
    """Kill a program that changes a job file as the bench does, again and again.

    Returns:
        How many job files, and how many of those kept from before, were whole or broken.
    """
    random, told = Random(seed), Counter[str]()
    folder.mkdir()
    (folder / JOB_FILE).write_text(job_text("Well cover", outline="outline.json"), "utf-8")
    for _ in range(count):
        process = _started(lambda: _change(folder))
        time.sleep(random.uniform(0.02, 0.1))
        os.kill(process.pid, signal.SIGKILL)
        _ended(process)
        for name in (JOB_FILE, BEFORE_FILE):
            told[f"{name} {_is_whole(folder, name)}"] += 1
    clear_old_drafts(folder)
    told["left in the end"] = len(_drafts(folder))
    return told


def digest(folder: Path) -> str:
    """One of all names and contents under a folder."""
    made = hashlib.sha256()
    for path in sorted(folder.rglob("*")):
        made.update(path.relative_to(folder).as_posix().encode())
        made.update(path.read_bytes() if path.is_file() else b"/")
    return made.hexdigest()


def _started(work: Callable[[], None]):
    process = FORK.Process(target=work)
    process.start()
    return process


def _ended(process) -> None:
    process.join(60)
    assert process.exitcode is not None, "it does not end"


def _make(folder: Path) -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    main(["make", str(folder), "--replace"])


def _change(folder: Path) -> None:
    store = JobStore(folder)
    for number in range(10_000):
        store.change([Edit("boards", "width", WIDTHS[number % 2])])


def _is_whole(folder: Path, name: str) -> str:
    """Whether a job file can be read and has nothing of another one."""
    if not (folder / name).exists():
        return "absent"
    with tempfile.TemporaryDirectory() as apart:
        (Path(apart) / JOB_FILE).write_bytes((folder / name).read_bytes())
        return "whole" if read_job(Path(apart)).title == "Well cover" else "broken"


def _drafts(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir() if path.name.startswith(".")}


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as scratch:
        for kill in (kill_runs, kill_changes):
            came = kill(Path(scratch) / kill.__name__, wanted)
            print(kill.__name__, ", ".join(f"{what}: {n}" for what, n in sorted(came.items())))
