"""The steps of edges and boards: the rows as they lie, and as they would lie."""

from collections.abc import Mapping

from shapecut.bench.changes import edits_of
from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.job_store import edited
from shapecut.bench.long_step import LongStep
from shapecut.bench.scene import rows_scene
from shapecut.job.job import Job
from shapecut.job.reading import job_from_text
from shapecut.job_folder import job_rows

__all__ = ["Rows"]


class Rows:
    """The rows of boards."""

    name = "rows"
    long_steps: Mapping[str, LongStep] = {}

    def __init__(self, desk: Desk) -> None:
        """Lay the boards of the job on a desk."""
        self._tracing, self._store = desk.tracing, desk.store

    @property
    def calls(self) -> Mapping[str, Call]:
        """What the page can ask for."""
        return {"try": self._try}

    def shown(self, job: Job) -> Values:
        """The pieces of all rows."""
        return rows_scene(job_rows(job, self._tracing.outline(job)))

    def _try(self, values: Values) -> Values:
        """The rows as they would be; nothing is written."""
        return self.shown(job_from_text(edited(self._store.text, edits_of(values))))
