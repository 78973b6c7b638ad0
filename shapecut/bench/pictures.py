"""The photographs of a job as the page shows them: reduced, so that they are fetched at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

import cv2
import numpy as np

from shapecut.capture.photo import read_photo
from shapecut.progress import side_by_side

__all__ = ["Pictures", "Reduced", "file_state"]

LARGEST_SIDE_PX = 1600
"""Longest side of a reduced picture."""

QUALITY = 80

FileState = tuple[str, int, int, int]


@dataclass(frozen=True)
class Reduced:
    """A picture made smaller.

    Attributes:
        name: The photograph's.
        jpeg: Its file.
        size: (width, height) of the photograph itself, in pixels.
        state: Of the file that it was made from; see `file_state`.
    """

    name: str
    jpeg: bytes
    size: tuple[int, int]
    state: FileState


class Pictures:
    """Reduces the photographs in a folder, each once."""

    def __init__(self, folder: Path) -> None:
        """Nothing is reduced yet."""
        self._folder = folder
        self._lock = Lock()
        self._kept: dict[str, Reduced] = {}

    def of(self, names: Sequence[str]) -> list[Reduced]:
        """Pictures by their names.

        Raises:
            CaptureError: If one cannot be read.
        """
        with self._lock:
            found = side_by_side(self._reduced, names)
            self._kept = {one.name: one for one in found}
            return found

    def _reduced(self, name: str) -> Reduced:
        path = self._folder / name
        state, kept = file_state(path), self._kept.get(name)
        return kept if kept and kept.state == state else _read(path, state)


def file_state(path: Path) -> FileState:
    """What tells whether a file is still the same; noughts where there is none."""
    try:
        found = path.stat()
    except OSError:
        return (path.name, 0, 0, 0)
    return (path.name, found.st_size, found.st_mtime_ns, found.st_ino)


def _read(path: Path, state: FileState) -> Reduced:
    photo = read_photo(path)
    scale = min(1.0, LARGEST_SIDE_PX / max(photo.size))
    width, height = (max(1, round(side * scale)) for side in photo.size)
    pixels = np.asarray(cv2.resize(photo.pixels, (width, height), interpolation=cv2.INTER_AREA))
    swapped = cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
    jpeg = cv2.imencode(".jpg", swapped, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1].tobytes()
    return Reduced(photo.name, jpeg, photo.size, state)
