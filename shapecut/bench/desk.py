"""What all steps of a sitting work on, and what the page asks of a step."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Protocol

from shapecut.bench.job_store import JobStore
from shapecut.bench.long_step import LongStep
from shapecut.bench.pictures import Pictures
from shapecut.bench.tracing import Tracing
from shapecut.errors import ShapecutError
from shapecut.job.job import Job

__all__ = ["Call", "Desk", "Step", "Values"]

Values = dict[str, Any]
"""What goes to the page or comes from it: JSON's values."""

Call = Callable[[Values], Values | None]
"""Does what the page asks; answers with values, or with None for the whole job as it is then."""


class Desk:
    """A job folder: its job file, its photographs, and the outline found in them."""

    def __init__(self, folder: Path) -> None:
        """Lay a job folder on the desk.

        Raises:
            JobFileError: If it has no job file.
        """
        self.folder = folder.resolve()
        self.store = JobStore(self.folder)
        self.pictures = Pictures(self.folder)
        self.tracing = Tracing(self.folder)

    def plainly(self, words: str | ShapecutError) -> str:
        """A sentence without the places of this machine's disk."""
        return str(words).replace(f"{self.folder}/", "").replace(str(self.folder), "the job")


class Step(Protocol):
    """One step of the sitting."""

    @property
    def name(self) -> str:
        """Under which the page finds its values."""

    @property
    def calls(self) -> Mapping[str, Call]:
        """What the page can ask of it."""

    @property
    def long_steps(self) -> Mapping[str, LongStep]:
        """What it takes long for."""

    def shown(self, job: Job) -> Values:
        """What the page shows of it.

        Raises:
            ShapecutError: Its sentence is shown instead, as `wrong`.
        """
