"""The photographs of a job as the page shows them: reduced, so that they are fetched at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Lock

import cv2
import numpy as np

from shapecut.capture.photo import photo_size, read_photo

__all__ = ["FileState", "Picture", "Pictures", "file_state"]

LARGEST_SIDE_PX = 1600
"""Longest side of a reduced picture."""

QUALITY = 80

FileState = tuple[str, int, int, int]


@dataclass(frozen=True)
class Picture:
    """A photograph in the job's folder.

    Attributes:
        name: Its file's.
        size: (width, height) in pixels.
        state: Of its file; see `file_state`.
    """

    name: str
    size: tuple[int, int]
    state: FileState


class Pictures:
    """Reduces the photographs in a folder, each once."""

    def __init__(self, folder: Path) -> None:
        """Nothing is reduced yet."""
        self._folder = folder
        self._lock = Lock()
        self._kept: dict[Picture, bytes] = {}

    def listed(self, names: Sequence[str]) -> list[Picture]:
        """Photographs by their names; only their headers are read.

        Raises:
            CaptureError: If one is no picture.
        """
        paths = [self._folder / name for name in names]
        return [Picture(path.name, photo_size(path), file_state(path)) for path in paths]

    def reduced(self, picture: Picture) -> bytes:
        """A photograph as a JPEG file, no larger than the page needs it.

        Raises:
            CaptureError: If it cannot be read.
        """
        with self._lock:
            jpeg = self._kept.get(picture)
            if jpeg is None:
                former = [one for one in self._kept if one.name == picture.name]
                for one in former:
                    del self._kept[one]
                jpeg = self._kept[picture] = _reduced(self._folder / picture.name)
            return jpeg


def file_state(path: Path) -> FileState:
    """What tells whether a file is still the same; noughts where there is none."""
    try:
        found = path.stat()
    except OSError:
        return (path.name, 0, 0, 0)
    return (path.name, found.st_size, found.st_mtime_ns, found.st_ino)


def _reduced(path: Path) -> bytes:
    photo = read_photo(path)
    scale = min(1.0, LARGEST_SIDE_PX / max(photo.size))
    width, height = (max(1, round(side * scale)) for side in photo.size)
    pixels = np.asarray(cv2.resize(photo.pixels, (width, height), interpolation=cv2.INTER_AREA))
    swapped = cv2.cvtColor(pixels, cv2.COLOR_RGB2BGR)
    return cv2.imencode(".jpg", swapped, [cv2.IMWRITE_JPEG_QUALITY, QUALITY])[1].tobytes()
