"""Checking photographs while the cards still lie there: what they give, what would help most."""

from dataclasses import dataclass
from pathlib import Path

from shapecut.capture.photos import read_photos
from shapecut.errors import JobFileError
from shapecut.findings import Level
from shapecut.job.cards import Cards
from shapecut.job.reading import JOB_FILE, read_job
from shapecut.job.reference import Reference
from shapecut.progress import Report, quiet
from shapecut.stages.surveying import Seen, Surveyed, card_set, card_tapes, see_cards, survey_seen
from shapecut.survey.camera_file import read_camera
from shapecut.survey.next_shot import NextShot, next_shot
from shapecut.units import MILLIMETRES, LengthStyle

__all__ = ["Check", "Checked", "check_of_job"]


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


@dataclass(frozen=True)
class Check:
    """What is to be checked.

    Attributes:
        paths: Of the photographs.
        cards: What is stated of the cards.
        camera: Path of a calibrated camera's file, or None.
        reference: What is stated of sheets and points, or None.
        lengths: How lengths are said.
    """

    paths: tuple[Path, ...]
    cards: Cards
    camera: Path | None = None
    reference: Reference | None = None
    lengths: LengthStyle = MILLIMETRES

    def see(self, *, report: Report = quiet) -> Seen:
        """Find the cards in the photographs.

        Raises:
            CaptureError: Photographs that cannot be read, or marks that cannot be used.
        """
        report("reading the pictures")
        photos = read_photos(self.paths)
        return see_cards(photos, card_set(self.cards), reference=self.reference, report=report)

    def survey(self, seen: Seen, *, report: Report = quiet) -> Checked:
        """Survey the plane and try what would help.

        Raises:
            ShapecutError: Whatever keeps the plane from being measured.
        """
        surveyed = survey_seen(
            seen,
            reference=self.reference,
            tapes=card_tapes(self.cards),
            calibrated=read_camera(self.camera) if self.camera else None,
            report=report,
        )
        report("trying what would help")
        return Checked(surveyed, next_shot(surveyed.adjusted.joint))


def check_of_job(folder: Path) -> Check:
    """The check of the photographs that a job folder names, as the job states.

    Raises:
        JobFileError: If the job file is missing or mistaken, or names no photographs.
    """
    job = read_job(folder)
    template = job.template
    if not template.photos:
        raise JobFileError(f"{JOB_FILE}: template names no photos: there is nothing to check.")
    return Check(
        tuple(folder / name for name in template.photos),
        job.cards,
        folder / template.camera if template.camera else None,
        job.reference,
        LengthStyle(job.papers.units, job.papers.fraction),
    )
