"""Write results whole or not at all.

A folder is filled beside its final place under a temporary name, flushed to the disk, and moved
into place in one step.  Its manifest lists the files that shapecut wrote; only a folder that holds
nothing else is ever replaced.
"""

import os
import re
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from shapecut.errors import OutputError, UsageError
from shapecut.progress import side_by_side

__all__ = ["MANIFEST", "remove_old_drafts", "whole_file", "whole_folder"]

MANIFEST = ".shapecut-files"
"""Name of the list of files that shapecut wrote into a folder, one relative path a line."""

DRAFT_S = 60.0
"""No single file takes longer to write."""

_DRAFT = re.compile(r"\..+-[0-9a-f]{12}")


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
        _refuse_unless_free(path, replace=replace)
        path.parent.mkdir(parents=True, exist_ok=True)
        draft = _beside(path)
        draft.mkdir()
    try:
        with _said_plainly(path):
            yield draft
            _seal(draft, listed=not keep)
            # Looked at again: something may have come into the folder while results were made.
            _refuse_unless_free(path, replace=replace)
            _move_into_place(draft, path)
    finally:
        shutil.rmtree(draft, ignore_errors=True)


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
    path = Path(os.path.abspath(path))
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
        draft = _beside(path)
        try:
            draft.write_bytes(data)
            _flush(draft)
            draft.replace(path)
        finally:
            draft.unlink(missing_ok=True)


def remove_old_drafts(folder: Path) -> None:
    """Remove what a program left of single files when it was killed in mid-write.

    Drafts of the last minute stay: another program may be writing them.
    """
    for path in folder.iterdir():
        if _DRAFT.fullmatch(path.name) and path.is_file():
            with suppress(OSError):
                if time.time() - path.stat().st_mtime > DRAFT_S:
                    path.unlink()


def _beside(path: Path) -> Path:
    """A hidden name beside a path that nothing has yet."""
    return path.with_name(f".{path.name}-{secrets.token_hex(6)}")


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
    if not path.exists():
        draft.rename(path)
        return
    # A folder cannot be renamed over a full one: the old one steps aside and comes back on failure.
    aside = _beside(path)
    path.rename(aside)
    try:
        draft.rename(path)
    except OSError:
        aside.rename(path)
        raise
    shutil.rmtree(aside, ignore_errors=True)


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
