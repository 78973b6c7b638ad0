"""What comes with a request: its size known before it is read, and its time limited."""

import tempfile
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from http import HTTPStatus
from io import BufferedIOBase
from pathlib import Path
from threading import BoundedSemaphore
from typing import IO

__all__ = ["RefusedError", "Uploads", "body", "stated_length"]

PART = 64 * 1024
"""Bytes of a body that are held in memory at once."""

AT_ONCE = 3
"""Uploads that are received side by side; others wait."""

WAITING_S = 120.0
"""An upload that has waited so long for its turn is refused."""

UPLOAD_S = 300.0
"""Within this time an upload must have come."""


class RefusedError(Exception):
    """A request that is not served."""

    def __init__(self, status: HTTPStatus, words: str) -> None:
        super().__init__(words)
        self.status = status


def stated_length(headers: Mapping[str, str], largest: int, too_large: str) -> int:
    """The bytes of a body, as its request states them.

    Raises:
        RefusedError: If it states none, or more than the largest.
    """
    stated = headers.get("Content-Length", "")
    if headers.get("Transfer-Encoding") or not (stated.isascii() and stated.isdigit()):
        raise RefusedError(HTTPStatus.LENGTH_REQUIRED, "A call states its length.")
    if len(stated) > 12 or int(stated) > largest:
        raise RefusedError(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, too_large)
    return int(stated)


def body(stream: BufferedIOBase, length: int, *, seconds: float) -> Iterator[bytes]:
    """A body part by part.

    Raises:
        RefusedError: If it ends early, or does not come within the time.
    """
    deadline = time.monotonic() + seconds
    while length > 0:
        part = stream.read1(min(PART, length))
        if not part or time.monotonic() > deadline:
            raise RefusedError(HTTPStatus.REQUEST_TIMEOUT, "It did not come to its end: try again.")
        length -= len(part)
        yield part


class Uploads:
    """Receives files, a few at once, into nameless files of which nothing is left in the end."""

    def __init__(self) -> None:
        """None is under way."""
        self._slots = BoundedSemaphore(AT_ONCE)

    @contextmanager
    def received(self, stream: BufferedIOBase, length: int, folder: Path) -> Iterator[IO[bytes]]:
        """A file while it is looked at, in a nameless file on the disk of a folder.

        Raises:
            RefusedError: If it does not come, or too many come at once.
        """
        if not self._slots.acquire(timeout=WAITING_S):
            raise RefusedError(
                HTTPStatus.SERVICE_UNAVAILABLE, "Too many photographs come at once: try again."
            )
        try:
            with _nameless(folder) as file:
                for part in body(stream, length, seconds=UPLOAD_S):
                    with _kept():
                        file.write(part)
                with _kept():
                    file.seek(0)
                yield file
        finally:
            self._slots.release()


def _nameless(folder: Path) -> IO[bytes]:
    with _kept():
        return tempfile.TemporaryFile(dir=folder)


@contextmanager
def _kept() -> Iterator[None]:
    """Turn what the disk says into one sentence."""
    try:
        yield
    except OSError:
        raise RefusedError(
            HTTPStatus.INSUFFICIENT_STORAGE,
            "The photograph cannot be kept: the job's folder may not be written to, or the disk "
            "is full.",
        ) from None
