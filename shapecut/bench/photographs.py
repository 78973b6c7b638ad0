"""The step of the photographs: taken up, the cards in them found, and what would help."""

from collections.abc import Mapping
from typing import IO

from shapecut.bench.card_check import CardCheck, check_cards, source_of_check
from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.long_step import LongStep
from shapecut.bench.photo_files import MOST_PHOTOS, PhotoFiles
from shapecut.capture.dictionaries import DICTIONARIES
from shapecut.errors import UsageError
from shapecut.job.job import Job

__all__ = ["Photographs"]


class Photographs:
    """The photographs of the template among its cards."""

    name = "photographs"

    def __init__(self, desk: Desk) -> None:
        """Take up and check the photographs of the job on a desk."""
        self._desk = desk
        self._files = PhotoFiles(desk.folder, desk.store)
        self._check = LongStep(desk.folder, check_cards)
        self.calls: Mapping[str, Call] = {"remove-photo": self._remove}
        self.long_steps: Mapping[str, LongStep] = {"check": self._check}

    def shown(self, job: Job) -> Values:
        """The photographs with their cards, and what is stated of template and cards.

        A check that was made before the photographs or the cards changed is not shown.
        """
        template = job.template
        values: Values = {
            "names": template.photos,
            "most": MOST_PHOTOS,
            "given": _given(job),
            "dictionaries": [dictionary.name for dictionary in DICTIONARIES],
        }
        check, source = self._check.progress.result, source_of_check(self._desk.folder, job)
        if isinstance(check, CardCheck) and check.source == source:
            return values | {"check": self._values(check)}
        return values | {"unchecked": source if template.photos else None}

    def take(self, file: IO[bytes], size: int) -> Values:
        """Take up a photograph that the page sends.

        Raises:
            ShapecutError: If it cannot be used; nothing of it is left then.
        """
        return {"name": self._files.take(file, size)}

    def _remove(self, values: Values) -> None:
        number = values.get("number")
        if not isinstance(number, int):
            raise UsageError("A photograph has a number.")
        self._files.remove(number)

    def _values(self, check: CardCheck) -> Values:
        return {
            "photos": [
                {"words": self._desk.plainly(one.words), "good": one.good, "marks": one.marks}
                for one in check.photos
            ],
            "outlook": check.outlook,
            "findings": check.findings,
            "measurable": check.measurable,
            "wrong": self._desk.plainly(check.wrong),
        }


def _given(job: Job) -> str | None:
    """What the outline comes from where that is not photographs."""
    template = job.template
    if template.taped:
        return "distances taped on the spot"
    return template.outline or ", ".join(template.pictures if not template.photos else ()) or None
