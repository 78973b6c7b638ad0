"""A folder at the bench: a job to begin, and from then on its sitting."""

from pathlib import Path
from threading import Lock

from shapecut.bench.beginning import begin_job, beginning
from shapecut.bench.desk import Values
from shapecut.bench.sitting import Sitting
from shapecut.errors import ShapecutError, UsageError
from shapecut.job.reading import JOB_FILE
from shapecut.papers.draft import clear_old_drafts

__all__ = ["Bench"]


class Bench:
    """What the page talks to, whether or not the folder has a job yet."""

    def __init__(self, folder: Path) -> None:
        """Open a folder, which need not exist.

        Raises:
            JobFileError: If its job file cannot be read.
        """
        self.folder = folder.resolve()
        self._lock = Lock()
        if self.folder.is_dir():
            clear_old_drafts(self.folder)
        self._sitting = Sitting(self.folder) if (self.folder / JOB_FILE).exists() else None

    @property
    def sitting(self) -> Sitting:
        """The job's.

        Raises:
            UsageError: If there is no job yet.
        """
        if self._sitting is None:
            raise UsageError("There is no job yet: start one first.")
        return self._sitting

    def call(self, name: str, values: Values) -> Values | None:
        """Do what the page asks; None if there is no such thing.

        Raises:
            ShapecutError: If it cannot be done.
        """
        if name == "begin":
            return self._begin(values)
        return self.sitting.call(name, values)

    def shown(self) -> Values:
        """All that the page shows."""
        if self._sitting is None:
            return {"beginning": beginning(self.folder)}
        return self._sitting.shown()

    def stamp(self) -> str:
        """What changes whenever `shown` does otherwise than by the page's own asking."""
        return self._sitting.stamp() if self._sitting else ""

    def plainly(self, error: ShapecutError) -> str:
        """An error's sentence, without the places of this machine's disk."""
        return str(error).replace(f"{self.folder}/", "").replace(str(self.folder), "the job")

    def close(self) -> None:
        """Stop what is under way."""
        if self._sitting:
            self._sitting.close()

    def _begin(self, values: Values) -> Values:
        with self._lock:
            if self._sitting is None:
                begin_job(self.folder, values)
                self._sitting = Sitting(self.folder)
        return self.shown()
