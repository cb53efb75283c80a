"""Files that are written whole or not at all: beside their place first, forced to the disk, then moved there in one step."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path

from optimizer.halting import held
from optimizer.line_file import sync_folder

__all__ = ["beside", "put_in_place", "sync_folder", "try_folder", "write_whole", "written_beside"]


def write_whole(files: Iterable[tuple[Path, bytes]]) -> None:
    """Write each content into a file beside its path, then put all of them into their places, so that no half of one is ever
    found: whatever ends the process, and a loss of power too, every path has its old content or its new one.

    Raises OSError when one cannot be written; then no path is changed, as long as the last step did not fail between two files.
    Ctrl-C does not come between them.
    """
    with held(), contextlib.ExitStack() as stack:
        ready: list[tuple[Path, Path]] = []
        for path, content in files:
            draft = stack.enter_context(written_beside(path, content))
            ready.append((draft, path))
        for _, path in ready:
            if path.is_dir():  # found out now, not between two files
                raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
        for draft, path in ready:
            os.replace(draft, path)
        for folder in dict.fromkeys(path.parent for _, path in ready):
            sync_folder(folder)


@contextlib.contextmanager
def written_beside(path: Path, content: bytes) -> Iterator[Path]:
    """As `beside`, with a content forced to the disk, which whoever may read what is in the place may read. Raises OSError."""
    with beside(path) as draft:
        with open(draft, "xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        _like_the_old(draft, path)
        yield draft


@contextlib.contextmanager
def beside(path: Path) -> Iterator[Path]:
    """A path in the same folder for the time of writing; what is left there is taken away at the end, whatever happens.

    Its name is new each time: a process id comes again, in a container always, and what a killed one left must block nobody.
    """
    draft = path.with_name(f".fullbore.{secrets.token_hex(8)}.part")
    try:
        yield draft
    finally:
        with contextlib.suppress(OSError):
            draft.unlink(missing_ok=True)


def put_in_place(draft: Path, path: Path, replaces: bool) -> None:
    """Force a draft to the disk and move it to its place. Raises OSError; FileExistsError when a file has come there that must
    not be replaced."""
    _sync(draft)
    if replaces or not _linked(draft, path):
        if not replaces and os.path.lexists(path):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path))
        os.replace(draft, path)
    sync_folder(path.parent)


def try_folder(folder: Path) -> None:
    """Raise OSError where no file can be made in a folder: permissions alone do not say so of every folder."""
    with beside(folder / "any") as draft, open(draft, "xb"):
        pass


def _linked(draft: Path, path: Path) -> bool:
    """Whether the draft has got its place as a second name: unlike a move that never replaces anything. False where a file system
    has no second names."""
    try:
        os.link(draft, path)
    except (NotImplementedError, PermissionError):
        return False
    except OSError as error:
        if error.errno in (errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK):
            return False
        raise
    return True


def _like_the_old(draft: Path, path: Path) -> None:
    """Who may read a file that is replaced may read the new one, and nobody else."""
    with contextlib.suppress(OSError):
        shutil.copymode(path, draft)


def _sync(draft: Path) -> None:
    handle = os.open(draft, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
