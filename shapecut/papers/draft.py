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
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from shapecut.errors import UsageError

try:
    import fcntl
except ImportError:  # a system without such locks
    fcntl = None  # type: ignore[assignment]

__all__ = ["clear_old_drafts", "draft_file", "draft_folder"]

_DRAFT = re.compile(r"\.(.+)-[0-9a-f]{12}", re.DOTALL)


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
    with _locked_folder(folder):
        _busy_drafts(folder)


@contextmanager
def _draft(path: Path, create: Callable[[Path], None], *, alone: bool) -> Iterator[Path]:
    draft = path.with_name(f".{path.name}-{secrets.token_hex(6)}")
    lock = None
    try:
        # While the folder is locked, nobody takes this draft for an old one before it is locked.
        with _locked_folder(path.parent):
            if _busy_drafts(path.parent, path.name) and alone:
                raise UsageError(
                    f"Another run is writing {path} just now: wait until it has ended, or name "
                    "another folder."
                )
            create(draft)
            lock = _lock(draft)
        yield draft
    finally:
        try:
            _remove(draft)
        except BaseException:  # asked to stop in the midst of it
            _remove(draft)
            raise
        finally:
            if lock is not None:
                os.close(lock)


def _busy_drafts(folder: Path, name: str | None = None) -> list[Path]:
    """Drafts in a folder, or of one name there, that are being filled; others are removed."""
    found = []
    for path in folder.iterdir():
        match = _DRAFT.fullmatch(path.name)
        if match is None or name not in (None, match[1]):
            continue
        if _is_busy(path):
            found.append(path)
        else:
            _remove(path)
    return found


@contextmanager
def _locked_folder(folder: Path) -> Iterator[None]:
    lock = _lock(folder, wait=True)
    try:
        yield
    finally:
        if lock is not None:
            os.close(lock)


def _lock(path: Path, *, wait: bool = False) -> int | None:
    """Lock a file or folder; None where that cannot be.

    Raises:
        BlockingIOError: If it is locked, unless we wait for it.
    """
    if fcntl is None:
        return None
    handle = os.open(path, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(handle)
        raise
    except OSError:  # a disk without locks
        os.close(handle)
        return None
    return handle


def _is_busy(draft: Path) -> bool:
    """Whether a program fills it, or may do so."""
    try:
        handle = _lock(draft)
    except OSError:
        return True
    if handle is None:
        return True
    os.close(handle)
    return False


def _remove(draft: Path) -> None:
    if draft.is_dir() and not draft.is_symlink():
        shutil.rmtree(draft, ignore_errors=True)
    else:
        with suppress(OSError):
            draft.unlink()
