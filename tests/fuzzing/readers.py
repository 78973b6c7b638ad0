"""What is fuzzed: every reader as a function of bytes, with valid files to begin with.

A reader may refuse what it is given with a `ShapecutError`, and with nothing else.
"""

import io
import json
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from shapecut.bench.changes import edits_of
from shapecut.bench.job_store import edited
from shapecut.capture.photo import photo_from, photo_size
from shapecut.drawings.outline_import import imported_outline
from shapecut.errors import UsageError
from shapecut.job.job import Job
from shapecut.job.offcut_file import read_offcuts
from shapecut.job.reading import JOB_FILE, job_from_text, read_job
from shapecut.job_stages import job_decisions
from shapecut.stages.surveying import card_set, card_tapes
from shapecut.stages.taped_outline import taped_outline
from shapecut.survey.camera_file import read_camera
from tests.fuzzing import seeds

__all__ = ["READERS", "Reader"]


@dataclass(frozen=True)
class Reader:
    """One reader and valid files for it."""

    read: Callable[[bytes], object]
    seeds: Callable[[], tuple[bytes, ...]]


def _in_a_folder(name: str, data: bytes, read: Callable[[Path], object]) -> None:
    """Read a file from the disk, as a user's is."""
    with tempfile.TemporaryDirectory(prefix="fuzzing-") as folder:
        (Path(folder) / name).write_bytes(data)
        read(Path(folder))


def _photo(data: bytes) -> None:
    photo_from(io.BytesIO(data), Path("a.jpg"))
    _in_a_folder("a.jpg", data, lambda folder: photo_size(folder / "a.jpg"))


def _job(data: bytes) -> None:
    _in_a_folder(JOB_FILE, data, lambda folder: _taken_up(read_job(folder)))


def _taken_up(job: Job) -> None:
    """Make of a job's tables what the stages take."""
    card_set(job.cards)
    card_tapes(job.cards)
    job_decisions(job)
    for offcut in job.stock.on_hand:
        offcut.offcut()
    if job.template.taped:
        taped_outline(job.template.taped)


def _outline(ending: str) -> Callable[[bytes], object]:
    return lambda data: imported_outline(data, f"outline.{ending}")


def _offcuts(data: bytes) -> None:
    _in_a_folder("offcuts.toml", data, lambda folder: read_offcuts(folder / "offcuts.toml"))


def _camera(data: bytes) -> None:
    _in_a_folder("camera.json", data, lambda folder: read_camera(folder / "camera.json"))


def _bench(data: bytes) -> None:
    """A change of a job as the bench's page sends it; the bench takes no call that is no object."""
    try:
        values = json.loads(data)
    except (ValueError, RecursionError):
        values = None
    if not isinstance(values, dict):
        raise UsageError("No call.")
    job_from_text(edited(seeds.job_files()[1].decode(), edits_of(values)))


READERS = {
    "photo": Reader(_photo, seeds.photo_files),
    "job": Reader(_job, seeds.job_files),
    "json": Reader(_outline("json"), seeds.outline_files),
    "dxf": Reader(_outline("dxf"), seeds.dxf_files),
    "svg": Reader(_outline("svg"), seeds.svg_files),
    "csv": Reader(_outline("csv"), seeds.csv_files),
    "offcuts": Reader(_offcuts, seeds.offcut_files),
    "camera": Reader(_camera, seeds.camera_files),
    "bench": Reader(_bench, seeds.bench_calls),
}
"""By name."""
