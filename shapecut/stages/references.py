"""References without cards: what a job points at in its photographs, as the survey takes it."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np

from shapecut.capture.paper_sizes import PAPER_SIZES_MM, SHEET_U_MM
from shapecut.capture.photo import Photo
from shapecut.capture.sheet import sheet_sighting
from shapecut.capture.sighting import STATED_U_PX, Sighting
from shapecut.findings import Finding
from shapecut.job.reference import PointTable, Reference, SheetTable
from shapecut.shape.placement import Point
from shapecut.survey.beforehand import Beforehand
from shapecut.survey.calibrated import CalibratedCamera
from shapecut.survey.pointed import settled_points
from shapecut.survey.tapes import Tape

__all__ = ["PointedAt", "pointed_at", "shared_points"]

T = TypeVar("T")

TAPE_RELATIVE_U = 3e-4
"""Standard uncertainty of a tape's own scale (class II, 0.3 mm + 0.2 mm a metre: Directive
2014/32/EU, annex X)."""


@dataclass(frozen=True)
class PointedAt:
    """References that a person pointed at.

    Attributes:
        sightings: Of sheets and points, as if they were cards.
        relative_u: Standard uncertainty of their scale, as a fraction; 0 if there are none.
        findings: What a fitter must know of them.
    """

    sightings: tuple[Sighting, ...] = ()
    relative_u: float = 0.0
    findings: tuple[Finding, ...] = ()


def pointed_at(
    photos: Sequence[Photo],
    reference: Reference,
    others: Sequence[Sighting] = (),
    calibrated: CalibratedCamera | None = None,
) -> PointedAt:
    """Sight the sheets and the taped points that a job states.

    Args:
        photos: The job's photographs.
        reference: What is stated.
        others: Marks of cards seen in the photographs.
        calibrated: The camera of all photographs, where it was calibrated before.

    Raises:
        CaptureError: Corners that are not those of a sheet.
        SurveyError: Points that the tapes do not hold, or that no photograph shows whole.
    """
    sheets = tuple(_sheet_sightings(photos, reference.sheets))
    relative_u = [_scale_u(sheet) for sheet in reference.sheets]
    if not reference.tapes:
        return PointedAt(sheets, max(relative_u, default=0.0))
    tapes = [Tape(*tape.between, tape.length, tape.u) for tape in reference.tapes]
    settled = settled_points(
        photos,
        tapes,
        _seen_by_index(photos, reference.points),
        others=others,
        beforehand=Beforehand(TAPE_RELATIVE_U, calibrated),
    )
    return PointedAt(
        (*sheets, *settled.sightings), max([*relative_u, TAPE_RELATIVE_U]), settled.findings
    )


def shared_points(scans: Sequence[Photo], reference: Reference) -> tuple[Sighting, ...]:
    """The points that a job states in scans, each a card with a single mark."""
    return tuple(
        Sighting(
            photo=index,
            card=f"point {name}",
            mark="point",
            corners_px=np.array([place], float),
            corners_mm=np.zeros((1, 2)),
            u_px=STATED_U_PX,
        )
        for name, places in _seen_by_index(scans, reference.points).items()
        for index, place in places.items()
    )


def _seen_by_index(
    photos: Sequence[Photo], points: Sequence[PointTable]
) -> dict[str, dict[int, Point]]:
    """For each point by name its pixel, by index of the picture."""
    return {point.name: dict(_by_index(photos, point.seen)) for point in points}


def _by_index(photos: Sequence[Photo], seen: Mapping[str, T]) -> Iterator[tuple[int, T]]:
    for index, photo in enumerate(photos):
        for name, place in seen.items():
            if Path(name).name == photo.name:
                yield index, place


def _sheet_sightings(photos: Sequence[Photo], sheets: Sequence[SheetTable]) -> Iterator[Sighting]:
    """Every sheet in every photograph; several of one size are numbered."""
    sizes = Counter(sheet.paper for sheet in sheets)
    numbers: Counter[str] = Counter()
    for sheet in sheets:
        numbers[sheet.paper] += 1
        name = f"{sheet.paper} sheet"
        for index, corners in _by_index(photos, sheet.seen):
            yield sheet_sighting(
                photos[index],
                index,
                name=f"{name} {numbers[sheet.paper]}" if sizes[sheet.paper] > 1 else name,
                size_mm=PAPER_SIZES_MM[sheet.paper],
                corners_px=corners,
            )


def _scale_u(sheet: SheetTable) -> float:
    """Relative uncertainty of a sheet's sides."""
    return SHEET_U_MM / (sum(PAPER_SIZES_MM[sheet.paper]) / 2)
