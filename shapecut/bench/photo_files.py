"""The photographs of a job: files under names of our own, and their list in job.toml.

Nothing of a name that the browser gives is used.  A file takes its place only when it was decoded
to its end, and a photograph taken off the list keeps its file, so that undo brings it back.
"""

import os
import re
import shutil
from pathlib import Path
from threading import Lock
from typing import IO, Any

import tomlkit

from shapecut.bench.job_store import JobStore
from shapecut.bench.places import with_place
from shapecut.capture.photo import photo_from, picture_suffix
from shapecut.errors import UsageError
from shapecut.papers.folder import whole_file

__all__ = ["LARGEST_PHOTO", "MOST_PHOTOS", "PhotoFiles"]

LARGEST_PHOTO = 100 * 1024 * 1024
"""Bytes of a photograph: an uncompressed one of 30 megapixels."""

MOST_PHOTOS = 24
"""Photographs of a job at the bench; two to four are usual."""

MOST_FILES = 100
"""Files of photographs in a folder, those taken off the list included."""

SPARE_ROOM = 50 * 1024 * 1024
"""Bytes that stay free on the disk."""

GIVEN = Path("The file")
"""What sentences call a photograph that was not taken up."""

_OURS = re.compile(r"photo-(\d{1,4})\.(?:jpg|png|tif|heic)")


class PhotoFiles:
    """Takes photographs up, one at a time, and off again."""

    def __init__(self, folder: Path, store: JobStore) -> None:
        """Keep the photographs of a folder."""
        self._folder, self._store = folder, store
        self._lock = Lock()

    def take(self, file: IO[bytes], size: int) -> str:
        """Take up a photograph; the job lists it from then on.

        Args:
            file: The photograph, to be read from its start.
            size: Its bytes.

        Returns:
            The name it has in the job's folder.

        Raises:
            ShapecutError: If it cannot be used; nothing of it is left then.
        """
        with self._lock:
            listed = self._store.job.template.photos
            if len(listed) >= MOST_PHOTOS:
                raise UsageError(f"A job has at most {MOST_PHOTOS} photographs: remove one first.")
            if shutil.disk_usage(self._folder).free < size + SPARE_ROOM:
                raise UsageError("The disk is full: make room on it, then add the photograph.")
            photo_from(file, GIVEN)
            file.seek(0)
            suffix = picture_suffix(file)
            data = file.read()
            known = self._same_as(data)
            if known in listed:
                raise UsageError(f"That is {known} once more: a photograph counts only once.")
            name = known or f"photo-{self._next_number()}{suffix}"
            if not known:
                whole_file(self._folder / name, data, replace=False)
            try:
                self._store.rewrite(lambda text: with_photo(text, name))
            except BaseException:
                if not known:
                    (self._folder / name).unlink(missing_ok=True)
                raise
            return name

    def remove(self, name: str) -> None:
        """Take a photograph off the list; its file stays in the folder.

        Raises:
            ShapecutError: If the job lists none of that name, or needs it.
        """
        with self._lock:
            self._store.rewrite(lambda text: without_photo(text, name))

    def _ours(self) -> list[str]:
        return [name for name in os.listdir(self._folder) if _OURS.fullmatch(name)]

    def _next_number(self) -> int:
        numbers = [int(name[6 : name.rindex(".")]) for name in self._ours()]
        if len(numbers) >= MOST_FILES:
            raise UsageError(
                f"The job's folder holds {len(numbers)} photographs: delete there what is not "
                "wanted, then add this one."
            )
        return max(numbers, default=0) + 1

    def _same_as(self, data: bytes) -> str | None:
        """The photograph in the folder that has the same bytes."""
        names = [*self._store.job.template.photos, *self._ours()]
        for name in names:
            path = self._folder / name
            if path.is_file() and path.stat().st_size == len(data) and path.read_bytes() == data:
                return name
        return None


def with_photo(text: str, name: str) -> str:
    """A job file that lists one photograph more, instead of a typed outline if it had one.

    Raises:
        UsageError: If its outline comes from scans or tapes.
    """
    if "photos" not in tomlkit.parse(text).get("template", {}):
        text = with_place(text, "template", "photos")
    document = tomlkit.parse(text)
    template: Any = document["template"]
    if any(key in template for key in ("scan", "scans", "taped")):
        raise UsageError("This job's outline comes from scans or tapes: start a new job.")
    for key in ("outline", "outline_units", "outline_layers"):
        if key in template:
            del template[key]
    if not template.get("photos"):
        template["photos"] = tomlkit.array()
    template["photos"].append(name)
    return tomlkit.dumps(document)


def without_photo(text: str, name: str) -> str:
    """A job file without one of its photographs.

    Raises:
        UsageError: If it lists none of that name.
    """
    document = tomlkit.parse(text)
    photos: Any = document["template"].get("photos", [])
    if name not in photos:
        raise UsageError("That photograph was removed already.")
    photos.remove(name)
    return tomlkit.dumps(document)
