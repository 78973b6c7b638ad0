"""Checking photographs while the cards still lie there: what they give, what would help most."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from shapecut.capture.photo import read_photo
from shapecut.errors import JobFileError
from shapecut.findings import Level
from shapecut.job import JOB_FILE, Cards, read_job
from shapecut.job_reference import Reference
from shapecut.progress import Report, quiet, side_by_side
from shapecut.survey.camera_file import read_camera
from shapecut.survey.next_shot import NextShot, next_shot
from shapecut.surveying import Surveyed, card_set, card_tapes, survey_pictures

__all__ = ["Checked", "check_job", "check_photos"]


@dataclass(frozen=True)
class Checked:
    """Photographs checked: what they give, and what would help most."""

    surveyed: Surveyed
    shot: NextShot

    @property
    def measurable(self) -> bool:
        """Whether nothing serious speaks against measuring by them."""
        findings = self.surveyed.survey.findings
        return all(finding.level is not Level.SERIOUS for finding in findings)


def check_photos(
    paths: Sequence[Path],
    cards: Cards,
    *,
    camera: Path | None = None,
    reference: Reference | None = None,
    report: Report = quiet,
) -> Checked:
    """Check photographs of cards.

    Args:
        paths: Of the photographs.
        cards: What a job would state of the cards.
        camera: Path of a calibrated camera's file.
        reference: What a job would state of sheets and points.
        report: Told of each step.

    Raises:
        ShapecutError: Whatever keeps the plane from being measured.
    """
    report("reading the pictures")
    surveyed = survey_pictures(
        side_by_side(read_photo, paths),
        card_set(cards),
        reference=reference,
        tapes=card_tapes(cards),
        calibrated=read_camera(camera) if camera else None,
        report=report,
    )
    report("trying what would help")
    return Checked(surveyed, next_shot(surveyed.adjusted.joint))


def check_job(folder: Path, *, report: Report = quiet) -> Checked:
    """Check the photographs that a job folder names.

    Raises:
        ShapecutError: Whatever is wrong with the job or keeps the plane from being measured.
    """
    job = read_job(folder)
    template = job.template
    if not template.photos:
        raise JobFileError(f"{JOB_FILE}: template names no photos: there is nothing to check.")
    return check_photos(
        [folder / name for name in template.photos],
        job.cards,
        camera=folder / template.camera if template.camera else None,
        reference=job.reference,
        report=report,
    )
