"""The folder that a desk is about: which files it holds, and the one way that they are read and written.

Names come from a browser: one that leads out of the folder, over a link perhaps, is refused. A file is saved only over what
whoever saves has seen.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from optimizer.errors import quoted
from optimizer.files.whole_file import write_whole
from optimizer.line_file import plain_bytes

__all__ = ["Changed", "Folder", "Forbidden", "Kind", "Text"]

LARGEST_BYTES = 1 << 20
MOST_FILES = 2_000
ABSENT = "absent"
"""The version of a file that is not there."""

Kind = Literal["rig", "household", "shop", "other"]


class Forbidden(Exception):
    """A name that leads out of the folder, or to what is no plain file."""


class Changed(Exception):
    """A file was changed since it was seen; ``now`` is what stands in it."""

    def __init__(self, now: Text) -> None:
        super().__init__(now.name)
        self.now = now


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """What stands in a file, and the version of it, which is the same for the same content."""

    name: str
    content: str
    version: str


class Folder:
    """The files of a desk, by their names within the folder, parted by slashes."""

    def __init__(self, root: Path) -> None:
        self.root = root.resolve()

    def path(self, name: str) -> Path:
        """Where a name is. Raises Forbidden for one that is not within the folder."""
        parts = name.split("/")
        if not name or "\0" in name or "\\" in name or any(part in ("", ".", "..") or part.startswith(".") for part in parts):
            raise Forbidden(f"{quoted(name)} is no name of a file of this folder.")
        path = self.root.joinpath(*parts)
        if path.resolve() != path:
            raise Forbidden(f"{quoted(name)} leads out of this folder.")
        return path

    def read(self, name: str) -> Text:
        """What stands in a file now. Raises Forbidden, and OSError for one that cannot be read."""
        raw = plain_bytes(self.path(name), LARGEST_BYTES)
        return Text(name=name, content=raw.decode("utf-8", "replace"), version=_version(raw))

    def version(self, name: str) -> str:
        """The version of a file, `ABSENT` for none."""
        try:
            return self.read(name).version
        except FileNotFoundError:
            return ABSENT

    def save(self, name: str, content: str, seen: str) -> Text:
        """Write a file whole, if its version is the one that was ``seen``. Raises Changed, Forbidden, OSError."""
        path = self.path(name)
        if self.version(name) != seen:
            raise Changed(self.read(name) if path.exists() else Text(name=name, content="", version=ABSENT))
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole([(path, content.encode("utf-8"))])
        return self.read(name)

    def files(self, suffix: str = ".toml") -> tuple[str, ...]:
        """Names of plain files with an ending, in order; hidden ones and those behind links are left out."""
        found = (each.relative_to(self.root) for each in self.root.rglob(f"*{suffix}") if each.is_file())
        names = sorted(each.as_posix() for each in found if not any(part.startswith(".") for part in each.parts))
        return tuple(name for name in names[:MOST_FILES] if self._is_ours(name))

    def of_kind(self, kind: Kind) -> tuple[str, ...]:
        """Names of all files of a kind."""
        return tuple(name for name in self.files() if kind_of(self._content(name)) == kind)

    @property
    def catalogs(self) -> tuple[str, ...]:
        """Names of all folders that hold a catalog, the one nearest to the top first."""
        names = {Path(name).parent.as_posix() for name in self.files(".csv") if name.endswith(("pumps.csv", "hoses.csv"))}
        return tuple(sorted(names, key=lambda name: (name.count("/"), name)))

    def basis(self, names: Iterable[str]) -> str:
        """A fingerprint of files, and of all files in folders, by name and content."""
        sums = []
        for name in names:
            path = self.path(name)
            inside = sorted(each for each in path.iterdir() if each.is_file()) if path.is_dir() else [path]
            sums += [f"{each.name}:{_version(plain_bytes(each)) if each.exists() else ABSENT}" for each in inside]
        return _version("\n".join(sums).encode())

    def _is_ours(self, name: str) -> bool:
        try:
            self.path(name)
        except Forbidden:
            return False
        return True

    def _content(self, name: str) -> str:
        try:
            return self.read(name).content
        except OSError:
            return ""


def kind_of(content: str) -> Kind:
    """What a TOML file describes, by its tables.

    >>> kind_of('[loop.pump]')
    'rig'
    """
    try:
        tables = tomllib.loads(content)
    except tomllib.TOMLDecodeError:
        return "rig" if "\n[loop" in content else "other"
    kinds: tuple[tuple[str, Kind], ...] = (("loop", "rig"), ("stock", "shop"), ("template", "shop"), ("tank", "household"))
    return next((kind for key, kind in kinds if key in tables), "other")


def _version(raw: bytes) -> str:
    return hashlib.blake2b(raw, digest_size=16).hexdigest()
