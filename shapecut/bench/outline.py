"""The step of the outline: its edges, how sure they are, and what to look at."""

from collections.abc import Mapping

from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.long_step import LongStep
from shapecut.bench.scene import finding_values, outline_scene
from shapecut.job.job import Job
from shapecut.job_folder import job_outline
from shapecut.stages.planning import treated

__all__ = ["OutlineStep"]


class OutlineStep:
    """The outline, with what its edges meet."""

    name = "outline"
    calls: Mapping[str, Call] = {}
    long_steps: Mapping[str, LongStep] = {}

    def __init__(self, desk: Desk) -> None:
        """Show the outline of the job on a desk."""
        self._folder = desk.folder

    def shown(self, job: Job) -> Values:
        """The edges and the findings."""
        given = job_outline(self._folder, job)
        scene = outline_scene(treated(given.outline, job.edges))
        return scene | {"findings": finding_values(given.findings)}
