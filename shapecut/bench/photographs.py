"""The step of the photographs: taken up, the cards in them found, and what would help."""

import tomllib
from collections.abc import Mapping
from typing import IO

from shapecut.bench.card_check import CardCheck, check_cards, source_of_check
from shapecut.bench.card_tapes import with_tape, without_tape
from shapecut.bench.desk import Call, Desk, Values
from shapecut.bench.long_step import LongStep
from shapecut.bench.photo_files import LARGEST_PHOTO, PhotoFiles
from shapecut.capture.dictionaries import DICTIONARIES
from shapecut.errors import UsageError
from shapecut.job.job import Job

__all__ = ["Photographs"]

LONGEST_TEXT = 255
"""Characters of a photograph's name, of a card's, or of a length."""


class Photographs:
    """The photographs of the template among its cards."""

    name = "photographs"

    def __init__(self, desk: Desk) -> None:
        """Take up and check the photographs of the job on a desk."""
        self._desk = desk
        self._files = PhotoFiles(desk.folder, desk.store)
        self._check = LongStep(desk.folder, check_cards)
        self.calls: Mapping[str, Call] = {
            "remove-photo": self._remove,
            "tape": self._tape,
            "untape": self._untape,
        }
        self.long_steps: Mapping[str, LongStep] = {"check": self._check}

    def shown(self, job: Job) -> Values:
        """The photographs with their cards, and what is stated of template and cards.

        A check that was made before the photographs or the cards changed is not shown.
        """
        template = job.template
        values: Values = {
            "names": template.photos,
            "largest": LARGEST_PHOTO,
            "given": _given(job),
            "fixed": bool(template.taped or (template.pictures and not template.photos)),
            "dictionaries": [dictionary.name for dictionary in DICTIONARIES],
            "tapes": self._tapes(),
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
        self._files.remove(*_texts(values, "photo"))

    def _tapes(self) -> list[Values]:
        """The tapes between cards, each length as it was typed."""
        stated = tomllib.loads(self._desk.store.text).get("cards", {}).get("tapes", [])
        return [{"between": tape["between"], "length": tape["length"]} for tape in stated]

    def _tape(self, values: Values) -> None:
        """State a distance taped between two cards."""
        start, end, length = _texts(values, "start", "end", "length")
        if start == end:
            raise UsageError(f"A tape goes from {start} to itself: choose two cards.")
        self._desk.store.rewrite(lambda text: with_tape(text, start, end, length))

    def _untape(self, values: Values) -> None:
        start, end = _texts(values, "start", "end")
        self._desk.store.rewrite(lambda text: without_tape(text, start, end))

    def _values(self, check: CardCheck) -> Values:
        return {
            "photos": [
                {"words": self._desk.plainly(one.words), "good": one.good, "marks": one.marks}
                for one in check.photos
            ],
            "outlook": check.outlook,
            "tape": check.tape,
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


def _texts(values: Values, *keys: str) -> list[str]:
    """The texts of a call.

    Raises:
        UsageError: If one is missing or none.
    """
    texts = [values.get(key) for key in keys]
    if not all(isinstance(text, str) and 0 < len(text) <= LONGEST_TEXT for text in texts):
        raise UsageError(f"This needs {' and '.join(keys)}.")
    return [str(text) for text in texts]
