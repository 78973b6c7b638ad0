"""A long step: done in a process of its own, with its progress, and stopped when asked to.

What it writes it writes whole or not at all (see `papers.folder`); stopped, it leaves what was.
"""

import multiprocessing
import signal
import sys
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from threading import Lock, Thread
from typing import Any

from shapecut.errors import ShapecutError

__all__ = ["LongStep", "Progress", "State", "Work"]

STOPPING_S = 5.0
"""A process that does not stop within this time when asked to is ended."""

Work = Callable[..., Any]
"""What a step does: a function of a module, called with a `Report` and what the step is given."""


class State(StrEnum):
    """How far a step is."""

    IDLE = "idle"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"
    STOPPED = "stopped"


@dataclass(frozen=True)
class Progress:
    """How far a step is, and in words what it does or what went wrong."""

    state: State = State.IDLE
    words: str = ""


class LongStep:
    """One kind of work, under way at most once at a time."""

    def __init__(self, work: Work) -> None:
        """Nothing is begun yet."""
        self._work = work
        self._lock = Lock()
        self._progress = Progress()
        self._result: Any = None
        self._process: BaseProcess | None = None

    @property
    def progress(self) -> Progress:
        """How far it is."""
        return self._progress

    @property
    def result(self) -> Any:
        """What came of it; None until it is done."""
        return self._result

    def start(self, *given: Any) -> None:
        """Begin; nothing where it is under way."""
        with self._lock:
            if self._progress.state is State.RUNNING:
                return
            spawning = multiprocessing.get_context("spawn")
            heard, told = spawning.Pipe(duplex=False)
            process = spawning.Process(target=_do, args=(self._work, given, told), daemon=True)
            process.start()
            told.close()
            self._process, self._result = process, None
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
                state, words, result = heard.recv()
                self._tell(process, Progress(state, words), result)
        except EOFError:
            process.join()
            ended = Progress(State.FAILED, "It ended before it was done: try again.")
            self._tell(process, ended)

    def _tell(self, process: BaseProcess, progress: Progress, result: Any = None) -> None:
        """Take up what a process tells while it runs; a later one may be running by now."""
        with self._lock:
            if self._process is process and self._progress.state is State.RUNNING:
                self._progress, self._result = progress, result


def _do(work: Work, given: tuple[Any, ...], told: Connection) -> None:
    """In the process of its own."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # unwinds, so that drafts are removed
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the terminal's is for the server

    def report(words: str) -> None:
        told.send((State.RUNNING, words, None))

    try:
        result = work(report, *given)
    except ShapecutError as error:
        told.send((State.FAILED, str(error), None))
    else:
        told.send((State.DONE, "", result))
