"""Write results whole or not at all.

A folder is filled beside its final place under a temporary name, flushed to the disk, and moved
into place in one step.  Its manifest lists the files that shapecut wrote; only a folder that holds
nothing else is ever replaced.
"""

import ctypes
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from shapecut.errors import OutputError, UsageError
from shapecut.papers.draft import draft_file, draft_folder
from shapecut.progress import side_by_side

__all__ = ["MANIFEST", "whole_file", "whole_folder"]

MANIFEST = ".shapecut-files"
"""Name of the list of files that shapecut wrote into a folder, one relative path a line."""

RENAME_EXCHANGE = 2
"""Flag of Linux's renameat2 (linux/fs.h): the two paths change places in one step."""

AT_FDCWD = -100
"""Stands for the current folder, where Linux takes a folder's number (linux/fcntl.h)."""


@contextmanager
def whole_folder(path: Path, *, replace: bool, keep: bool = False) -> Iterator[Path]:
    """Give a folder to fill, which takes its place only when all went well.

    Args:
        path: Where the results are to be; its parent is made if need be.
        replace: Whether an existing folder of results may be replaced, whole.
        keep: Whether what is written is from then on the user's own, never to be replaced.

    Yields:
        An empty folder to write into.

    Raises:
        UsageError: If `path` exists and is not to be, or not safely, replaced.
        OutputError: If it cannot be written.
    """
    path = Path(os.path.abspath(path))
    with _said_plainly(path):
        _bring_back(path)
        _refuse_unless_free(path, replace=replace)
        path.parent.mkdir(parents=True, exist_ok=True)
        with draft_folder(path) as draft:
            yield draft
            _seal(draft, listed=not keep)
            # Looked at again: something may have come into the folder while results were made.
            _refuse_unless_free(path, replace=replace)
            _move_into_place(draft, path)
            _flush(path.parent)


def whole_file(path: Path, data: bytes, *, replace: bool) -> None:
    """Write one file whole or not at all.

    Args:
        path: Where; its parent is made if need be.
        data: What to write.
        replace: Whether an existing file may be replaced.

    Raises:
        UsageError: If `path` is a folder, or exists and is not to be replaced.
        OutputError: If it cannot be written.
    """
    path = Path(os.path.realpath(path))
    if path.is_dir():
        raise UsageError(f"{path} is a folder: name a file to write.")
    if path.exists() and not path.is_file():
        raise UsageError(f"{path} is not an ordinary file: name another one.")
    if path.exists() and not replace:
        raise UsageError(
            f"The file {path} exists already: name another one, or add --replace to replace it."
        )
    with _said_plainly(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        with draft_file(path) as draft:
            if path.exists():
                shutil.copymode(path, draft)
            draft.write_bytes(data)
            _flush(draft)
            draft.replace(path)
            _flush(path.parent)


def _refuse_unless_free(path: Path, *, replace: bool) -> None:
    if not path.exists() and not path.is_symlink():
        return
    if path.is_symlink() or not path.is_dir():
        raise UsageError(f"{path} is not a folder: name another folder for the results.")
    if not replace:
        raise UsageError(
            f"The folder {path} exists already: name another one, or add --replace to replace it "
            "whole."
        )
    foreign = _foreign_file(path)
    if foreign is not None:
        raise UsageError(
            f"{path} holds {foreign}, which shapecut did not write, so it is not replaced: move "
            "that away or name another folder."
        )


def _foreign_file(path: Path) -> str | None:
    """The first file or folder in it that the manifest does not list, or None."""
    manifest = path / MANIFEST
    listed = manifest.read_text("utf-8", "replace").splitlines() if manifest.is_file() else []
    own = {MANIFEST, *listed}
    return next((name for name in _files_in(path) if name not in own), None)


def _files_in(path: Path) -> list[str]:
    """Relative paths of all files in a folder, and of empty folders with a closing slash."""
    found = []
    for folder, folders, files in os.walk(path):
        here = Path(folder)
        links = [name for name in folders if (here / name).is_symlink()]
        found += [(here / name).relative_to(path).as_posix() for name in (*files, *links)]
        if not files and not folders and here != path:
            found.append(here.relative_to(path).as_posix() + "/")
    return sorted(found)


def _seal(draft: Path, *, listed: bool) -> None:
    """Write the manifest and flush everything to the disk."""
    names = _files_in(draft)
    if listed:
        (draft / MANIFEST).write_text("".join(f"{name}\n" for name in names), "utf-8")
        names.append(MANIFEST)
    side_by_side(_flush, [draft / name for name in names if not name.endswith("/")])
    _flush(draft)


def _flush(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _move_into_place(draft: Path, path: Path) -> None:
    """Give the draft the place of the results, which themselves come to lie where the draft did."""
    if not path.exists():
        draft.rename(path)
        return
    if _exchange(draft, path):
        return
    # Where two folders cannot change places, the old one steps aside and comes back on failure.
    aside = _aside(path)
    shutil.rmtree(aside, ignore_errors=True)
    path.rename(aside)
    try:
        draft.rename(path)
    except BaseException:
        aside.rename(path)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def _exchange(new: Path, old: Path) -> bool:
    """Let two folders change places in one step; whether the system could."""
    renameat2 = getattr(ctypes.CDLL(None), "renameat2", None)
    if renameat2 is None:
        return False
    paths = (AT_FDCWD, os.fsencode(new), AT_FDCWD, os.fsencode(old))
    return bool(renameat2(*paths, RENAME_EXCHANGE) == 0)


def _aside(path: Path) -> Path:
    return path.with_name(f".{path.name}-before")


def _bring_back(path: Path) -> None:
    """Set right what a kill between two renames left: results that stepped aside."""
    aside = _aside(path)
    if not (aside / MANIFEST).is_file():
        return
    if path.exists():
        shutil.rmtree(aside, ignore_errors=True)
    else:
        aside.rename(path)


@contextmanager
def _said_plainly(path: Path) -> Iterator[None]:
    """Turn what the operating system says into one sentence."""
    try:
        yield
    except OutputError:
        raise
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(
            f"{path} cannot be written ({reason}): choose a place you may write to, with room on "
            "the disk."
        ) from error
