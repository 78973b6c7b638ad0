"""One job at the bench: its steps, what the page shows of them and what it can ask for."""

import hashlib
from collections.abc import Mapping
from pathlib import Path

from shapecut.bench.buy import BuyStep
from shapecut.bench.changes import Changes
from shapecut.bench.desk import Call, Desk, Step, Values
from shapecut.bench.long_step import LongStep
from shapecut.bench.outline import OutlineStep
from shapecut.bench.papers import PapersStep
from shapecut.bench.photographs import Photographs
from shapecut.bench.rows import Rows
from shapecut.bench.supports import SupportsStep
from shapecut.errors import ShapecutError, UsageError
from shapecut.job.job import Job

__all__ = ["Sitting"]

TABLES = (
    "template", "cards", "cards.own", "edges", "boards", "joists", "joints", "stock", "papers"
)  # fmt: skip
"""Of the job file, whose values the page shows as they stand there."""


class Sitting:
    """A job folder and the steps that lead from its photographs to its papers."""

    def __init__(self, folder: Path) -> None:
        """Open a job folder.

        Raises:
            JobFileError: If it has no job file.
        """
        self._desk = Desk(folder)
        self.photographs = Photographs(self._desk)
        self.outline = OutlineStep(self._desk)
        self.papers = PapersStep(self._desk)
        rows = Rows(self._desk)
        self._steps: tuple[Step, ...] = (
            self.photographs,
            self.outline,
            rows,
            SupportsStep(self._desk, rows),
            BuyStep(self._desk),
            self.papers,
        )
        self._calls: dict[str, Call] = {
            **Changes(self._desk).calls, "start": self._start, "stop": self._stop
        }  # fmt: skip
        for step in self._steps:
            self._calls |= step.calls

    def call(self, name: str, values: Values) -> Values | None:
        """Do what the page asks; None if there is no such thing.

        Raises:
            ShapecutError: If it cannot be done.
        """
        asked = self._calls.get(name)
        if asked is None:
            return None
        answer = asked(values)
        return self.shown() if answer is None else answer

    def shown(self) -> Values:
        """All that the page shows; of a step that cannot be shown, why not."""
        store = self._desk.store
        values: Values = {
            "undo": store.can_undo,
            "redo": store.can_redo,
            "tables": {},
            "progress": self.progress(),
            "stamp": self.stamp(),
        }
        try:
            job = store.job
            values["tables"] = {table: store.raw(table) for table in TABLES}
        except ShapecutError as error:
            return values | {"wrong": self.plainly(error)}
        steps = {step.name: self._shown(step, job) for step in self._steps}
        return values | {"title": job.title} | steps

    def stamp(self) -> str:
        """What changes with the job file, and when a long step begins or ends."""
        try:
            text = self._desk.store.text
        except ShapecutError as error:
            text = str(error)
        states = [step.progress.state.value for step in self._long_steps.values()]
        return hashlib.sha256("\n".join([*states, text]).encode()).hexdigest()

    def progress(self) -> Values:
        """How far each long step is."""
        return {name: self._told(step) for name, step in self._long_steps.items()}

    def plainly(self, error: ShapecutError) -> str:
        """An error's sentence, without the places of this machine's disk."""
        return self._desk.plainly(error)

    def close(self) -> None:
        """Stop what is under way."""
        for step in self._long_steps.values():
            step.stop()

    @property
    def _long_steps(self) -> Mapping[str, LongStep]:
        return {name: one for step in self._steps for name, one in step.long_steps.items()}

    def _shown(self, step: Step, job: Job) -> Values:
        try:
            return step.shown(job)
        except ShapecutError as error:
            return {"wrong": self.plainly(error)}

    def _told(self, step: LongStep) -> Values:
        progress = step.progress
        return {"state": progress.state.value, "words": self._desk.plainly(progress.words)}

    def _start(self, values: Values) -> Values:
        self._named(values).start()
        return self.progress()

    def _stop(self, values: Values) -> Values:
        self._named(values).stop()
        return self.progress()

    def _named(self, values: Values) -> LongStep:
        step = self._long_steps.get(str(values.get("step")))
        if step is None:
            raise UsageError("There is no such step.")
        return step
