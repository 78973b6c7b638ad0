"""A long step in a process of its own, which can be stopped."""

import multiprocessing
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Lock, Thread
from typing import Any

from shapecut.errors import ShapecutError

__all__ = ["LongStep", "Progress", "State", "Work"]

STOPPING_S = 5.0
"""A process that does not stop within this time when asked to is ended."""

Work = Callable[..., Any]
"""Works on a job folder, reports, is given values, and returns what it found; of a module's top.

Called with the folder, a `Report`, and what `LongStep` was told to give.
"""


class State(StrEnum):
    """How far a step is."""

    IDLE = "idle"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"


@dataclass(frozen=True)
class Progress:
    """How far a step is, in words what it does or what went wrong, and what came of it."""

    state: State = State.IDLE
    words: str = ""
    result: Any = None


class LongStep:
    """Works on a job folder, one run at a time."""

    def __init__(
        self, folder: Path, work: Work, given: Callable[[], tuple[Any, ...]] = tuple
    ) -> None:
        """Nothing is under way yet.

        Args:
            folder: The job's.
            work: What to do.
            given: Asked at each start for further values to work on.
        """
        self._folder, self._work, self._given = folder, work, given
        self._lock = Lock()
        self._progress = Progress()
        self._process: BaseProcess | None = None

    @property
    def progress(self) -> Progress:
        """How far it is."""
        return self._progress

    def start(self) -> None:
        """Begin; nothing where it is under way.

        Raises:
            ShapecutError: If there is not yet what it works on.
        """
        given = self._given()
        with self._lock:
            if self._progress.state is State.RUNNING:
                return
            spawning = multiprocessing.get_context("spawn")
            heard, told = spawning.Pipe(duplex=False)
            process = spawning.Process(
                target=_run, args=(self._work, self._folder, given, told), daemon=True
            )
            process.start()
            told.close()
            self._process = process
            self._progress = Progress(State.RUNNING, "starting")
        Thread(target=self._follow, args=(process, heard), daemon=True).start()

    def stop(self) -> None:
        """Stop it, and wait until it has; nothing where nothing is under way."""
        with self._lock:
            process = self._process
            if self._progress.state is not State.RUNNING or process is None:
                return
            self._progress = Progress(State.STOPPED)
            process.terminate()
        process.join(STOPPING_S)
        if process.is_alive():
            process.kill()
            process.join()

    def _follow(self, process: BaseProcess, heard: Connection) -> None:
        try:
            while True:
                self._tell(process, heard.recv())
        except EOFError:
            process.join()
            self._tell(process, Progress(State.FAILED, "It ended before it was done: try again."))

    def _tell(self, process: BaseProcess, progress: Progress) -> None:
        """Take up what a process tells while it runs; a later one may be running by now."""
        with self._lock:
            if self._process is process and self._progress.state is State.RUNNING:
                self._progress = progress


def _run(work: Work, folder: Path, given: tuple[Any, ...], told: Connection) -> None:
    """In the process of its own."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # unwinds, so that drafts are removed
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's is for the server
    try:
        result = work(folder, lambda step: told.send(Progress(State.RUNNING, step)), *given)
    except ShapecutError as error:
        told.send(Progress(State.FAILED, str(error)))
    else:
        told.send(Progress(State.DONE, result=result))
