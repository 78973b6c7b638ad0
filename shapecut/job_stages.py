"""The stages for a job: what its file states and its folder holds, handed to each of them."""

from collections.abc import Sequence
from pathlib import Path

from shapecut.capture.photos import read_photos
from shapecut.drawings.drawn_outline import GivenOutline
from shapecut.drawings.outline_import import imported_outline
from shapecut.drawings.outline_units import UnitName
from shapecut.errors import JobFileError
from shapecut.job.job import Job
from shapecut.job.offcut_file import read_offcuts
from shapecut.job.reading import JOB_FILE
from shapecut.layout.layout import Layout
from shapecut.layout.supports import Supports
from shapecut.papers.machining import machining_findings
from shapecut.progress import Report, quiet
from shapecut.results import (
    OUTLINE_FILE,
    Made,
)
from shapecut.stages.boarding import Boarding
from shapecut.stages.carpentry import edging_rules
from shapecut.stages.fitting_out import FittingTables, fitted_out
from shapecut.stages.measuring import Measured, measure, measure_scans
from shapecut.stages.planning import Plan, planned, rows_alone, treated
from shapecut.stages.surveying import card_set, card_tapes
from shapecut.stages.taped_outline import taped_outline
from shapecut.stock.cutplan import Offcut
from shapecut.survey.camera_file import read_camera
from shapecut.trace.decisions import Decisions
from shapecut.trace.template_tapes import TemplateTape
from shapecut.units import LengthStyle

__all__ = [
    "job_decisions",
    "job_made",
    "job_measured",
    "job_outline",
    "job_rows",
    "job_supports",
    "job_traced",
]

MEASURED = "measured"
"""Folder in a job's where `measure` leaves the outline."""


def job_outline(folder: Path, job: Job, path: Path | None = None) -> GivenOutline:
    """The outline in a file, or as the job gives it, or as `measure` left it in its folder.

    Raises:
        ShapecutError: If there is none yet, or none that can be read.
    """
    template = job.template
    if path:
        return _read_outline(path)
    if template.taped:
        return taped_outline(template.taped, _length_style(job))
    if template.outline:
        return _read_outline(
            folder / template.outline, units=template.outline_units, layers=template.outline_layers
        )
    path = folder / MEASURED / OUTLINE_FILE
    if not path.exists():
        raise JobFileError(
            f"{folder} has no measured outline yet: run `shapecut measure {folder}` first, or name "
            "one with --outline."
        )
    return _read_outline(path)


def job_rows(job: Job, given: GivenOutline) -> Layout:
    """The rows of a job's boards on an outline, without the boards to buy.

    Raises:
        ShapecutError: Edges that the outline lacks, boards that cannot be laid.
    """
    return rows_alone(treated(given.outline, job.edges), _boarding(job, given))


def job_supports(job: Job, given: GivenOutline, layout: Layout) -> Supports | None:
    """What carries the rows of a job; None where it states no joists.

    Raises:
        LayoutError: Joists that cannot be, or that run along the rows.
    """
    return _boarding(job, given).supports(given.outline, layout)


def job_traced(folder: Path, job: Job, report: Report = quiet) -> Measured:
    """Measure a job's template as its pictures show it, the person's decisions left out.

    Raises:
        ShapecutError: Whatever is wrong with the pictures.
    """
    template = job.template
    if not template.pictures:
        raise JobFileError(
            f"{JOB_FILE}: template.photos names no photograph yet: put some beside it, and name "
            "them there."
        )
    cards = card_set(job.cards)
    report("reading the pictures")
    photos = read_photos([folder / name for name in template.pictures])
    if not template.photos:
        return measure_scans(
            photos,
            cards,
            shown=template.shown,
            reference=job.reference,
            decisions=None,
            report=report,
        )
    return measure(
        photos,
        cards,
        thickness_mm=template.thickness,
        cards_on=template.cards_on,
        shown=template.shown,
        reference=job.reference,
        tapes=card_tapes(job.cards),
        template_tapes=[
            TemplateTape(*tape.between, tape.length, tape.u) for tape in template.tapes
        ],
        calibrated=read_camera(folder / template.camera) if template.camera else None,
        decisions=None,
        report=report,
    )


def job_decisions(job: Job) -> Decisions:
    """What the job decides about the traced outline."""
    return Decisions(tuple(table.correction for table in job.corrections), job.template.regular)


def job_measured(folder: Path, job: Job, report: Report) -> Measured:
    """Measure a job's template, with the person's decisions applied.

    Raises:
        ShapecutError: Whatever is wrong with the pictures or the decisions.
    """
    return job_traced(folder, job, report).decided(job_decisions(job))


def _read_outline(
    path: Path, *, units: UnitName | None = None, layers: Sequence[str] = ()
) -> GivenOutline:
    try:
        data = path.read_bytes()
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise JobFileError(f"The outline {path} cannot be read: {reason}.") from None
    return imported_outline(data, path.name, units=units, layers=layers)


def job_made(
    folder: Path,
    job: Job,
    given: GivenOutline,
    measured: Measured | None = None,
    report: Report = quiet,
) -> Made:
    """The boards planned on an outline, and what is fitted besides them: a job but for its files.

    Raises:
        ShapecutError: Boards that cannot be laid, cut or fitted out.
    """
    made = _planned(folder, job, given, report)
    tables = FittingTables(job.fasteners, job.fascia, job.points, job.strips, job.blocking)
    fittings = fitted_out(
        made, job.boards, tables, kerf_mm=job.stock.kerf, lengths=_length_style(job)
    )
    return Made(job, measured, made, given.findings, fittings, given.marks)


def _planned(folder: Path, job: Job, given: GivenOutline, report: Report) -> Plan:
    report("laying out the boards")
    on_hand = read_offcuts(folder / job.stock.offcuts) if job.stock.offcuts else ()
    boarding = _boarding(job, given, on_hand)
    made = planned(treated(given.outline, job.edges), boarding)
    return made.noting(
        machining_findings(made.layout, made.cut_plan, job.papers.bit, boarding.lengths)
    )


def _boarding(job: Job, given: GivenOutline, on_hand: Sequence[Offcut] = ()) -> Boarding:
    """How a job lays its boards, with offcuts that are there besides those that it states."""
    written = _length_style(job)
    return Boarding(
        job.boards,
        job.allowances,
        job.stock,
        joists=job.joists,
        joints=job.joints,
        saw=job.saw,
        on_hand=on_hand,
        edging=edging_rules(job.border, job.breakers, job.left_long, written),
        marks=given.marks,
        lengths=written,
    )


def _length_style(job: Job) -> LengthStyle:
    """How sentences about the boards write lengths."""
    return LengthStyle(job.papers.units, job.papers.fraction)
