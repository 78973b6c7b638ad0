"""The outline that every step of a sitting stands on, traced once and corrected at once.

Tracing takes seconds and what a person decides about the outline a hundredth of one, so what was
traced is kept, and decisions are applied to it whenever it is asked for.  It counts only for the
pictures and tables that it was made from: once they change, no outline of before is shown.
"""

import hashlib
import json
from dataclasses import dataclass, replace
from pathlib import Path

from shapecut.bench.long_step import LongStep
from shapecut.bench.pictures import file_state
from shapecut.drawings.drawn_outline import GivenOutline
from shapecut.errors import JobFileError
from shapecut.job.job import Job
from shapecut.job.reading import read_job
from shapecut.job_stages import job_decisions, job_outline, job_traced
from shapecut.papers.rectified import flat_picture_jpeg, rectified_picture
from shapecut.progress import Report
from shapecut.shape.monotone import bounds
from shapecut.stages.measuring import Measured
from shapecut.trace.decisions import Decisions

__all__ = ["Flat", "NotTracedError", "Seen", "Tracing"]

FLAT_SIDE_PX = 1800
"""Longest side of a flat picture."""

FLAT_MARGIN = 0.12
"""How far a flat picture reaches round the outline, as a share of its longer side."""


class NotTracedError(JobFileError):
    """The outline was not found yet in the pictures as they are now."""


@dataclass(frozen=True)
class Flat:
    """A picture of the template as seen from straight above.

    Attributes:
        jpeg: Its file.
        box: (left, low, right, high) that it shows of the plane, mm.
    """

    jpeg: bytes
    box: tuple[float, float, float, float]

    @property
    def sides(self) -> tuple[float, float]:
        """Its width and height, mm."""
        left, low, right, high = self.box
        return (right - left, high - low)


@dataclass(frozen=True)
class Seen:
    """What tracing gave.

    Attributes:
        source: What it was made from; see `source_of`.
        measured: The outline as traced; its photographs are left out.
        names: The pictures' names.
        sizes: Their (width, height) in pixels.
        flats: One for each of the survey's views.
    """

    source: str
    measured: Measured
    names: tuple[str, ...]
    sizes: tuple[tuple[int, int], ...]
    flats: tuple[Flat, ...]


class Tracing:
    """Finds the outline of a job, and keeps it."""

    def __init__(self, folder: Path) -> None:
        """Nothing is traced yet."""
        self._folder = folder
        self.step = LongStep(folder, _trace)
        self._decided: tuple[str, Decisions, Measured] | None = None

    def seen(self, job: Job) -> Seen:
        """What was traced in the pictures of a job.

        Raises:
            NotTracedError: If they were not traced, or something about them changed since.
        """
        seen = self.step.progress.result
        if not isinstance(seen, Seen) or seen.source != source_of(self._folder, job):
            raise NotTracedError("The outline comes first: find it at the step Outline.")
        return seen

    def measured(self, job: Job) -> Measured:
        """The same with the person's decisions.

        Raises:
            NotTracedError: See `seen`.
            TraceError: If a decision is impossible.
        """
        seen, decisions = self.seen(job), job_decisions(job)
        kept = self._decided
        if kept and kept[:2] == (seen.source, decisions):
            return kept[2]
        measured = seen.measured.decided(decisions)
        self._decided = (seen.source, decisions, measured)
        return measured

    def outline(self, job: Job) -> GivenOutline:
        """The outline of a job, given or traced.

        Raises:
            ShapecutError: If there is none.
        """
        if job.template.is_outline:
            return job_outline(self._folder, job)
        measured = self.measured(job)
        return GivenOutline(measured.outline, measured.findings, measured.traced.setting_out)


def source_of(folder: Path, job: Job) -> str:
    """A digest of all that tracing rests on: the tables that say how, and the files as they are."""
    template = job.template
    names = [*template.pictures, *([template.camera] if template.camera else [])]
    tables = [
        template.model_dump(mode="json", exclude={"regular"}),
        job.cards.model_dump(mode="json"),
        job.reference.model_dump(mode="json"),
    ]
    stated = [tables, [file_state(folder / name) for name in names]]
    return hashlib.sha256(json.dumps(stated, default=str).encode()).hexdigest()


def _trace(folder: Path, report: Report) -> Seen:
    """In a process of its own."""
    job = read_job(folder)
    source = source_of(folder, job)
    measured = job_traced(folder, job, report)
    report("drawing it flat")
    photos = measured.photos
    return Seen(
        source,
        replace(measured, photos=()),
        tuple(photo.name for photo in photos),
        tuple(photo.size for photo in photos),
        _flats(measured),
    )


def _flats(measured: Measured) -> tuple[Flat, ...]:
    left, low, right, high = bounds(edge.curve for edge in measured.outline.outer.edges)
    margin = FLAT_MARGIN * max(right - left, high - low)
    box = (left - margin, low - margin, right + margin, high + margin)
    step = max(box[2] - box[0], box[3] - box[1]) / FLAT_SIDE_PX
    return tuple(
        Flat(
            flat_picture_jpeg(
                rectified_picture(
                    measured.photos[view.photo],
                    view,
                    box,
                    mm_per_px=step,
                    height_mm=measured.survey.height_mm,
                )
            ),
            box,
        )
        for view in measured.survey.views
    )
