"""The folder that a desk is about: which files it holds, and the one way that they are read and written.

Names come from a browser: one that leads out of the folder, over a link perhaps, is refused. A file is saved only over what
whoever saves has seen.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from optimizer.errors import quoted
from optimizer.files.toml_tables import tables_of
from optimizer.files.whole_file import put_in_place, written_beside
from optimizer.line_file import plain_bytes, sync_folder

__all__ = ["Changed", "Folder", "Forbidden", "Kind", "Text"]

LARGEST_BYTES = 1 << 20
MOST_FILES = 2_000
MOST_LOOKED_AT = 20_000
DEEPEST = 6
"""A desk may be opened over all that somebody has: so many names, so deep below the folder, are looked at for what it can use."""

SETTLED_NS = 2_000_000_000
"""What was changed longer ago shows a new time when it is changed again; times of files are no finer than a tick of the clock."""

ABSENT = "absent"
"""The version of a file that is not there."""

Kind = Literal["rig", "household", "shop", "other"]


class Forbidden(Exception):
    """A name that leads out of the folder, or to what is no plain file."""


class Changed(Exception):
    """A file was changed since it was seen; ``now`` is what stands in it, ``mine`` what was to be saved."""

    def __init__(self, now: Text, mine: str) -> None:
        super().__init__(now.name)
        self.now = now
        self.mine = mine


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """What stands in a file, and the version of it, which is the same for the same content."""

    name: str
    content: str
    version: str

    @property
    def is_there(self) -> bool:
        """Whether there is such a file."""
        return self.version != ABSENT


@dataclass(frozen=True, slots=True, kw_only=True)
class _Known:
    """What is known of a file while its ``mark`` stays the same."""

    mark: tuple[int, ...]
    version: str
    kind: Kind


class Folder:
    """The files of a desk, by their names within the folder, parted by slashes."""

    def __init__(self, root: Path) -> None:
        self.root = root.resolve()
        self._known: dict[Path, _Known] = {}

    def path(self, name: str) -> Path:
        """Where a name is. Raises Forbidden for one that is not within the folder."""
        parts = name.split("/")
        if not name.isprintable() or "\\" in name or any(part.startswith(".") or not part for part in parts):
            raise Forbidden(f"{quoted(name)} is no name of a file of this folder.")
        path = self.root.joinpath(*parts)
        try:
            is_here = path.resolve() == path
        except (OSError, RuntimeError, ValueError):  # links that go round, names that are too long
            is_here = False
        if not is_here:
            raise Forbidden(f"{quoted(name)} leads out of this folder.")
        return path

    def has_name(self, name: str) -> bool:
        """Whether a name is one that a file of this folder can have."""
        try:
            self.path(name)
        except Forbidden:
            return name == "."
        return True

    def holds(self, path: Path) -> bool:
        """Whether what is at a path, links followed, is within the folder."""
        try:
            return path.resolve().is_relative_to(self.root)
        except (OSError, RuntimeError, ValueError):
            return False

    def read(self, name: str) -> Text:
        """What stands in a file now. Raises Forbidden, and OSError for one that cannot be read or is no text."""
        raw = plain_bytes(self.path(name), LARGEST_BYTES)
        try:
            return Text(name=name, content=raw.decode("utf-8"), version=_version(raw))
        except UnicodeDecodeError:  # to show it with gaps, and to save that, would lose what stands in the gaps
            raise OSError(errno.EILSEQ, "it is no text in UTF-8") from None

    def now(self, name: str) -> Text:
        """As `read`; a file that is not there is an empty text."""
        try:
            return self.read(name)
        except FileNotFoundError:
            return Text(name=name, content="", version=ABSENT)

    def version(self, name: str) -> str:
        """The version of a file, `ABSENT` for none."""
        return self.now(name).version

    def save(self, name: str, content: str, seen: str) -> Text:
        """Write a file whole, if its version is the one that was ``seen``: at the moment that it is put there, whoever else
        writes. Raises Changed, Forbidden, OSError."""
        path, raw = self.path(name), content.encode("utf-8")
        if self.version(name) != seen:
            raise Changed(self.now(name), content)
        if len(raw) > LARGEST_BYTES:
            raise OSError(errno.EFBIG, f"it is larger than {LARGEST_BYTES >> 20} MiB")
        path.parent.mkdir(parents=True, exist_ok=True)
        with written_beside(path, raw) as draft, _one_at_a_time(path.parent):
            if not (_begun(draft, path) if seen == ABSENT else _replaced(draft, path, seen)):
                raise Changed(self.now(name), content)
        sync_folder(path.parent)
        return Text(name=name, content=content, version=_version(raw))

    def files(self, suffix: str = ".toml") -> tuple[str, ...]:
        """Names of plain files with an ending, in order; hidden ones and those behind links are left out."""
        names = (each.relative_to(self.root).as_posix() for each in self._plain_files() if each.name.endswith(suffix))
        return tuple(sorted(name for name in names if name.isprintable())[:MOST_FILES])

    def of_kind(self, kind: Kind) -> tuple[str, ...]:
        """Names of all files of a kind."""
        return tuple(name for name in self.files() if self._what(self.root / name).kind == kind)

    @property
    def catalogs(self) -> tuple[str, ...]:
        """Names of all folders that hold a catalog, the one nearest to the top first."""
        names = {Path(name).parent.as_posix() for name in self.files(".csv") if name.endswith(("pumps.csv", "hoses.csv"))}
        return tuple(sorted(names, key=lambda name: (name.count("/"), name)))

    def basis(self, names: Iterable[str]) -> str:
        """A fingerprint of files, and of all files in folders, by name and content."""
        sums = []
        for name in names:
            path = self.root if name == "." else self.path(name)
            inside = sorted(each for each in path.iterdir() if each.is_file()) if path.is_dir() else [path]
            sums += [f"{each}:{self._what(each).version}" for each in inside]
        return _version("\n".join(sums).encode())

    def _plain_files(self) -> Iterator[Path]:
        waiting, looked_at = [(self.root, 0)], 0
        while waiting and looked_at < MOST_LOOKED_AT:
            folder, deep = waiting.pop()
            try:
                with os.scandir(folder) as entries:
                    found = sorted((each for each in entries if not each.name.startswith(".")), key=lambda each: each.name)
            except OSError:  # another's, or gone meanwhile
                continue
            looked_at += len(found)
            yield from (Path(each.path) for each in found if each.is_file(follow_symlinks=False))
            if deep < DEEPEST:
                waiting += [(Path(each.path), deep + 1) for each in found if each.is_dir(follow_symlinks=False)]

    def _what(self, path: Path) -> _Known:
        """What a file is, read anew only where its time, size or place says that it may have changed."""
        try:
            there = path.stat()
            mark = (there.st_mtime_ns, there.st_size, there.st_ino)
            known = self._known.get(path)
            if known is not None and known.mark == mark:
                return known
            raw = plain_bytes(path)
        except FileNotFoundError:
            return _Known(mark=(), version=ABSENT, kind="other")
        except OSError as error:
            return _Known(mark=(), version=f"unreadable {error.errno}", kind="other")
        is_small = path.suffix == ".toml" and len(raw) <= LARGEST_BYTES
        kind = kind_of(raw.decode("utf-8", "replace")) if is_small else "other"
        found = _Known(mark=mark, version=_version(raw), kind=kind)
        if time.time_ns() - there.st_mtime_ns > SETTLED_NS:
            self._known[path] = found
        return found


def kind_of(content: str) -> Kind:
    """What a TOML file describes, by its tables.

    >>> kind_of('[loop.pump]')
    'rig'
    """
    tables = tables_of(content)
    if tables is None:
        return "rig" if "\n[loop" in content else "other"
    kinds: tuple[tuple[str, Kind], ...] = (("loop", "rig"), ("stock", "shop"), ("template", "shop"), ("tank", "household"))
    return next((kind for key, kind in kinds if key in tables), "other")


@contextlib.contextmanager
def _one_at_a_time(folder: Path) -> Iterator[None]:
    """Put only one draft at a time in its place, of all desks over a folder: for a moment the place holds a text that may be
    refused yet, and whoever saved over that would be told that it is saved, and lose it when the refused one is taken back."""
    try:
        import fcntl
    except ImportError:  # a system without such locks; it cannot exchange files either
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _begun(draft: Path, path: Path) -> bool:
    """Put a draft where there is no file; False where one has come meanwhile."""
    try:
        put_in_place(draft, path, replaces=False)
    except FileExistsError:
        return False
    return True


def _replaced(draft: Path, path: Path, seen: str) -> bool:
    """Put a draft in the place of a file of the version that was ``seen``; False where it is another by now. Nothing that
    somebody else has written goes, whenever that was: what was taken away is looked at, and put back where it is another."""
    from optimizer.files.swap import swap

    try:
        ours = draft.stat().st_ino
        if not swap(draft, path):  # this system cannot: look as late as possible
            if not _holds(path, seen):
                return False
            os.replace(draft, path)
            return True
        if _holds(draft, seen):
            return True
        swap(draft, path)
        if draft.stat().st_ino != ours:  # somebody has saved over ours, and must not lose it for what was there before
            swap(draft, path)
    except FileNotFoundError:
        return False
    return False


def _holds(path: Path, seen: str) -> bool:
    try:
        return _version(plain_bytes(path)) == seen
    except OSError:
        return False


def _version(raw: bytes) -> str:
    return hashlib.blake2b(raw, digest_size=16).hexdigest()
