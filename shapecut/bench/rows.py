"""The steps of edges and boards: the rows as they lie, and as they would lie."""

from collections.abc import Mapping
from threading import Lock

from shapecut.bench.changes import edits_of
from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.inputs import inputs_digest
from shapecut.bench.job_store import edited
from shapecut.bench.long_step import LongStep
from shapecut.bench.scene import rows_scene
from shapecut.drawings.drawn_outline import GivenOutline
from shapecut.job.job import Job
from shapecut.job.reading import job_from_text
from shapecut.job_stages import job_rows
from shapecut.layout.layout import Layout

__all__ = ["Rows"]


class Rows:
    """The rows of boards; those of the job as it is are laid once."""

    name = "rows"
    long_steps: Mapping[str, LongStep] = {}

    def __init__(self, desk: Desk) -> None:
        """Lay the boards of the job on a desk."""
        self._desk = desk
        self._lock = Lock()
        self._laid: tuple[str, Layout] | None = None

    @property
    def calls(self) -> Mapping[str, Call]:
        """What the page can ask for."""
        return {"try": self._try}

    def shown(self, job: Job) -> Values:
        """The pieces of all rows."""
        return rows_scene(self.layout(job, self._desk.tracing.outline(job)))

    def layout(self, job: Job, given: GivenOutline) -> Layout:
        """The rows of a job as it is, on its outline."""
        with self._lock:
            digest = inputs_digest(self._desk.folder, job)
            if self._laid is None or self._laid[0] != digest:
                self._laid = (digest, job_rows(job, given))
            return self._laid[1]

    def _try(self, values: Values) -> Values:
        """The rows as they would be; nothing is written."""
        job = job_from_text(edited(self._desk.store.text, edits_of(values)))
        return rows_scene(job_rows(job, self._desk.tracing.outline(job)))
