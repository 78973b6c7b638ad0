"""From photographs to the plane they show: capture and survey, one after the other.

Takes and returns values; no file is read or written.  `check` ends here; measuring goes on from it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapecut.capture.cards import (
    READING_U_MM,
    Card,
    CardSet,
    our_cards,
    single_mark_cards,
    square_mark,
)
from shapecut.capture.mark_looks import MarkLook, look_findings, mark_looks
from shapecut.capture.marks import find_marks, marks_if_any
from shapecut.capture.originals import original_findings, refuse_twins
from shapecut.capture.photo import Photo
from shapecut.capture.sighting import Sighting
from shapecut.findings import Finding
from shapecut.job.cards import Cards
from shapecut.job.reference import Reference
from shapecut.progress import Report, quiet, side_by_side
from shapecut.stages.references import pointed_at
from shapecut.survey.adjust import Adjusted, adjusted_photos
from shapecut.survey.calibrated import CalibratedCamera
from shapecut.survey.survey import Survey
from shapecut.survey.tapes import Tape

__all__ = ["Seen", "Surveyed", "card_set", "card_tapes", "see_cards", "survey_seen"]


@dataclass(frozen=True)
class Seen:
    """The marks of photographs, nothing measured yet.

    Attributes:
        photos: The photographs.
        marks: The marks found in them.
        looks: For each photograph how it shows its marks.
        relative_u: Standard uncertainty of the cards' scale, as a fraction.
        findings: What the pictures say against measuring by them.
    """

    photos: tuple[Photo, ...]
    marks: tuple[Sighting, ...]
    looks: tuple[tuple[MarkLook, ...], ...]
    relative_u: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Surveyed:
    """Photographs surveyed, with all that was seen on the way.

    Attributes:
        seen: The photographs and their marks.
        sightings: The marks, and the sheets and points that a person pointed at.
        adjusted: The adjustment.
        survey: The measured plane; its findings are all there are so far.
    """

    seen: Seen
    sightings: tuple[Sighting, ...]
    adjusted: Adjusted
    survey: Survey


def card_set(cards: Cards) -> CardSet:
    """The cards a job may show: our printed ones, or the user's own marks."""
    own = cards.own
    if own is None:
        return our_cards(along_mm=cards.bar_along, across_mm=cards.bar_across)
    if own.side is not None:
        return single_mark_cards(own.dictionary, own.side)
    made = tuple(
        Card(
            card.name,
            tuple(
                square_mark(
                    own.dictionary,
                    mark.number,
                    side_mm=mark.side,
                    centre_mm=mark.at,
                    turn_deg=mark.turn_deg,
                )
                for mark in card.marks
            ),
        )
        for card in own.card
    )
    smallest = min(mark.side for card in own.card for mark in card.marks)
    return CardSet(made, relative_u=READING_U_MM / smallest)


def card_tapes(cards: Cards) -> tuple[Tape, ...]:
    """The distances that a job states between its cards."""
    return tuple(Tape(*tape.between, tape.length, tape.u) for tape in cards.tapes)


def see_cards(
    photos: Sequence[Photo],
    cards: CardSet,
    *,
    reference: Reference | None = None,
    report: Report = quiet,
) -> Seen:
    """Find the cards in photographs, and look at how they are shown.

    Args:
        photos: The photographs.
        cards: The cards that may lie there.
        reference: Sheets or points; where there are any, a photograph may show no card.
        report: Called with a few words before each step.

    Raises:
        CaptureError: Marks that cannot be used, or a photograph given twice.
    """
    refuse_twins(photos)
    report("finding the cards")
    find = marks_if_any if reference and reference.pictures else find_marks
    found = side_by_side(lambda index: find(photos[index], index, cards), range(len(photos)))
    looks = tuple(
        mark_looks(photo, of_photo.sightings, cards)
        for photo, of_photo in zip(photos, found, strict=True)
    )
    findings = [
        *original_findings(photos),
        *(finding for of_photo in found for finding in of_photo.findings),
        *(
            finding
            for photo, seen in zip(photos, looks, strict=True)
            for finding in look_findings(photo, seen)
        ),
    ]
    marks = tuple(sighting for of_photo in found for sighting in of_photo.sightings)
    return Seen(tuple(photos), marks, looks, cards.relative_u, tuple(findings))


def survey_seen(
    seen: Seen,
    *,
    height_mm: float = 0.0,
    reference: Reference | None = None,
    tapes: Sequence[Tape] = (),
    calibrated: CalibratedCamera | None = None,
    report: Report = quiet,
) -> Surveyed:
    """Measure the plane that the cards in photographs lie on.

    Args:
        seen: The photographs and their marks; nothing was moved between the photographs.
        height_mm: Height of the face to be measured above the plane the cards lie on.
        reference: Sheets of paper or taped points, beside the cards or for them.
        tapes: Distances taped between cards.
        calibrated: The camera of all photographs, where it was calibrated before.
        report: Called with a few words before each step.

    Raises:
        CaptureError: Sheets that cannot be used.
        SurveyError: Cards from which no plane can be measured.
    """
    report("surveying the plane")
    pointed = pointed_at(seen.photos, reference or Reference(), seen.marks, calibrated)
    sightings = (*seen.marks, *pointed.sightings)
    adjusted = adjusted_photos(
        seen.photos,
        sightings,
        relative_u=max(seen.relative_u if seen.marks else 0.0, pointed.relative_u),
        tapes=tapes,
        calibrated=calibrated,
    )
    survey = adjusted.survey(height_mm)
    findings = seen.findings + pointed.findings + survey.findings
    return Surveyed(seen, sightings, adjusted, replace(survey, findings=findings))
