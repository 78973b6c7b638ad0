"""Drafts: hidden files and folders beside the place that they are to take.

A draft is locked (flock) by the program that fills it, and the system takes the lock off when that
program ends, however it ends.  So a draft without a lock is what a killed program left, and is
cleared away; one with a lock is another program's at work.  Where a disk knows no locks, drafts are
neither cleared away nor taken for another program's.
"""

import os
import re
import secrets
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from shapecut.errors import UsageError

try:
    import fcntl
except ImportError:  # a system without such locks
    fcntl = None  # type: ignore[assignment]

__all__ = ["clear_old_drafts", "draft_file", "draft_folder"]

_UNLOCKED = ".new"
"""Ends the name of a draft that has no lock yet."""

UNLOCKED_S = 60.0
"""A draft that has had no lock for so long gets none any more."""

_DRAFT = re.compile(rf"\.(.+)-[0-9a-f]{{12}}({re.escape(_UNLOCKED)})?", re.DOTALL)


@contextmanager
def draft_folder(path: Path) -> Iterator[Path]:
    """Give an empty folder beside a path, and remove what lies there in the end.

    Raises:
        UsageError: If another program is filling a draft for the same path.
        OSError: If there can be none.
    """
    with _draft(path, Path.mkdir, alone=True) as draft:
        yield draft


@contextmanager
def draft_file(path: Path) -> Iterator[Path]:
    """Give an empty file beside a path, and remove it if it is still there in the end.

    Raises:
        OSError: If there can be none.
    """
    with _draft(path, Path.touch, alone=False) as draft:
        yield draft


def clear_old_drafts(folder: Path) -> None:
    """Remove what killed programs left in a folder; drafts that are being filled stay."""
    _busy_drafts(folder)


@contextmanager
def _draft(path: Path, create: Callable[[Path], None], *, alone: bool) -> Iterator[Path]:
    if _busy_drafts(path.parent, path.name) and alone:
        raise UsageError(
            f"Another run is writing {path} just now: wait until it has ended, or name another "
            "folder."
        )
    draft = path.with_name(f".{path.name}-{secrets.token_hex(6)}")
    unlocked = draft.with_name(draft.name + _UNLOCKED)
    lock = None
    try:
        # It takes its name with its lock on, so that nobody takes it for an old one before that.
        create(unlocked)
        lock = _lock(unlocked, wait=True)  # another run may just be looking whether it is locked
        unlocked.rename(draft)
        yield draft
    finally:
        try:
            _remove(unlocked, draft)
        except BaseException:  # asked to stop in the midst of it
            _remove(unlocked, draft)
            raise
        finally:
            if lock is not None:
                os.close(lock)


def _busy_drafts(folder: Path, name: str | None = None) -> list[Path]:
    """Drafts in a folder, or of one name there, that are being filled; old ones are removed."""
    busy = []
    for path in folder.iterdir():
        match = _DRAFT.fullmatch(path.name)
        if match is None or name not in (None, match[1]):
            continue
        try:
            lock = _lock(path, wait=False)
        except BlockingIOError:
            busy.append(path)
        except OSError:  # gone by now, or not ours
            continue
        else:
            if lock is not None:
                os.close(lock)
                if not (match[2] and _is_young(path)):
                    _remove(path)
    return busy


def _lock(path: Path, *, wait: bool) -> int | None:
    """Lock a file or folder; None where the disk knows no locks.

    Raises:
        BlockingIOError: If it is locked and we do not wait.
        OSError: If it cannot be opened.
    """
    if fcntl is None:
        return None
    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        raise
    except OSError:
        os.close(handle)
        return None
    return handle


def _is_young(draft: Path) -> bool:
    """Whether it may still be about to be locked."""
    try:
        return time.time() - draft.stat().st_mtime < UNLOCKED_S
    except OSError:  # it has its lock and its name by now
        return False


def _remove(*drafts: Path) -> None:
    for draft in drafts:
        if draft.is_dir() and not draft.is_symlink():
            shutil.rmtree(draft, ignore_errors=True)
        else:
            with suppress(OSError):
                draft.unlink()
