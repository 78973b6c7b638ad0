"""What a job's results are made from, to tell when they are out of date."""

import hashlib
import json
from collections.abc import Iterator
from pathlib import Path

from shapecut.bench.pictures import file_state
from shapecut.job.job import Job

__all__ = ["inputs_digest", "inputs_of"]


def inputs_of(folder: Path, job: Job) -> Iterator[Path]:
    """The files that a job names, besides the job file."""
    template, names = job.template, []
    names += [*template.pictures, *filter(None, (template.camera, template.outline))]
    names += [job.stock.offcuts] if job.stock.offcuts else []
    return (folder / name for name in names)


def inputs_digest(folder: Path, job: Job) -> str:
    """A digest of a job and of the files that it names, as they are now."""
    stated = [job.model_dump(mode="json"), [file_state(path) for path in inputs_of(folder, job)]]
    return hashlib.sha256(json.dumps(stated, default=str).encode()).hexdigest()
