"""Several jobs made side by side, each by a program of its own; one that fails stops no other."""

import os
import subprocess
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor, as_completed
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

__all__ = ["Ended", "make_each"]

MOST_AT_ONCE = 4
"""Jobs side by side on however many processors: each may take half a gigabyte of memory."""

STOPPING_S = 20.0
"""A program that was asked to stop and has not by then is ended."""

_PROGRAM = (sys.executable, "-c", "from shapecut.cli import main; main(prog_name='shapecut')")


@dataclass(frozen=True)
class Ended:
    """What came of a job: the words of `make` on it, and its exit code, 0 for a job made."""

    folder: Path
    exit_code: int
    said: str
    complained: str


def make_each(folders: Sequence[Path], *, replace: bool) -> Iterator[Ended]:
    """Make jobs, each into its own folder `cut`; those still running are stopped with the caller.

    Args:
        folders: The jobs'; one named twice is made once.
        replace: Whether results may be replaced, whole.

    Yields:
        What came of each, in the order in which they end.
    """
    distinct = {folder.resolve(): folder for folder in folders}.values()
    running = _Running()
    with ThreadPoolExecutor(min(len(distinct), os.cpu_count() or 1, MOST_AT_ONCE)) as threads:
        try:
            begun = [threads.submit(running.make, folder, replace) for folder in distinct]
            for ended in as_completed(begun):
                yield ended.result()
        finally:
            running.stop()


class _Running:
    """The programs at work."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._stopped = False
        self._programs: set[subprocess.Popen[str]] = set()

    def make(self, folder: Path, replace: bool) -> Ended:
        """Make one job and wait for its end; nothing once all were stopped."""
        arguments = [*_PROGRAM, "make", *(["--replace"] if replace else []), "--", str(folder)]
        with self._lock:
            if self._stopped:
                return Ended(folder, 1, "", "not begun")
            program = subprocess.Popen(
                arguments,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                errors="replace",
                env=os.environ | {"PYTHONIOENCODING": "utf-8"},
            )
            self._programs.add(program)
        said, complained = program.communicate()
        with self._lock:
            self._programs.discard(program)
        return Ended(folder, program.returncode, said.rstrip(), complained.rstrip())

    def stop(self) -> None:
        """Stop those that run, so that they clear their drafts away, and begin no other."""
        with self._lock:
            self._stopped = True
            programs = list(self._programs)
            for program in programs:
                program.terminate()
        for program in programs:
            with suppress(subprocess.TimeoutExpired):
                program.wait(STOPPING_S)
            program.kill()
