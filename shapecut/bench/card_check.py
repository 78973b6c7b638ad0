"""Which cards the photographs show and what would help, as `shapecut check` says it."""

import hashlib
import json
from dataclasses import dataclass, replace
from pathlib import Path

from shapecut.bench.pictures import file_state
from shapecut.bench.scene import finding_values
from shapecut.capture_summary import outlook_lines, seen_words
from shapecut.errors import ShapecutError
from shapecut.findings import Finding
from shapecut.job.job import Job
from shapecut.job.reading import read_job
from shapecut.progress import Report
from shapecut.stages.checking import Check, check_of_job
from shapecut.stages.surveying import Seen

__all__ = ["CardCheck", "SeenCards", "check_cards", "source_of_check"]

Values = dict[str, object]


@dataclass(frozen=True)
class SeenCards:
    """What one photograph shows.

    Attributes:
        words: In words, or what is wrong with it.
        marks: Each mark's card, and its corners in the photograph, pixels.
        good: Whether it can be used.
    """

    words: str
    marks: tuple[tuple[str, list[list[float]]], ...] = ()
    good: bool = True


@dataclass(frozen=True)
class CardCheck:
    """A check of all photographs.

    Attributes:
        source: What it was made from; see `source_of_check`.
        photos: One for each photograph.
        outlook: How sure points are, and what would make them surer.
        tape: The two cards between which a taped distance would help most, if one would.
        findings: As the page shows them.
        measurable: Whether the photographs are fit to measure by.
        wrong: What kept the plane from being surveyed, if something did.
    """

    source: str
    photos: tuple[SeenCards, ...]
    outlook: tuple[str, ...] = ()
    tape: tuple[str, str] | None = None
    findings: tuple[Values, ...] = ()
    measurable: bool = False
    wrong: str = ""


def source_of_check(folder: Path, job: Job) -> str:
    """A digest of all that a check rests on: photographs, cards, references and the camera."""
    template = job.template
    names = [*template.photos, *([template.camera] if template.camera else [])]
    tables = [table.model_dump(mode="json") for table in (job.cards, job.reference)]
    lengths = [job.papers.units, job.papers.fraction]
    stated = [tables, lengths, [file_state(folder / name) for name in names]]
    return hashlib.sha256(json.dumps(stated, default=str).encode()).hexdigest()


def check_cards(folder: Path, report: Report) -> CardCheck:
    """Check the photographs of a job.

    Raises:
        JobFileError: If the job names none.
    """
    source = source_of_check(folder, read_job(folder))
    wanted = check_of_job(folder)
    try:
        seen = wanted.see(report=report)
    except ShapecutError as error:
        return CardCheck(source, _one_by_one(wanted), wrong=str(error))
    photos = tuple(_shown(seen, number) for number in range(len(seen.photos)))
    try:
        checked = wanted.survey(seen, report=report)
    except ShapecutError as error:
        return CardCheck(source, photos, findings=_values(seen.findings), wrong=str(error))
    return CardCheck(
        source,
        photos,
        tuple(outlook_lines(checked.shot, wanted.lengths)),
        (checked.shot.tape.start, checked.shot.tape.end) if checked.shot.tape else None,
        _values(checked.surveyed.survey.findings),
        checked.measurable,
    )


def _one_by_one(wanted: Check) -> tuple[SeenCards, ...]:
    """What each photograph shows, where not all can be used together."""
    looked = []
    for path in wanted.paths:
        try:
            looked.append(_shown(replace(wanted, paths=(path,)).see(), 0))
        except ShapecutError as error:
            looked.append(SeenCards(str(error), good=False))
    return tuple(looked)


def _shown(seen: Seen, photo: int) -> SeenCards:
    marks = tuple(
        (mark.card, mark.corners_px.round(1).tolist()) for mark in seen.marks if mark.photo == photo
    )
    return SeenCards(seen_words(seen, photo), marks)


def _values(findings: tuple[Finding, ...]) -> tuple[Values, ...]:
    return tuple(finding_values(findings))
