"""What a worker has loaded before its first question, and catalogs that it has read before: a question about one loop then lasts
as long as its answer, and no longer."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer import api
from optimizer.errors import InputError
from optimizer.files.named_files import catalog_files
from optimizer.line_file import plain_bytes

if TYPE_CHECKING:
    from optimizer.model.catalog import Catalog

__all__ = ["KeptCatalogs", "load"]

ASKED_FIRST = ("read_rig", "read_catalog", "best", "advise", "operating_point", "bands", "front")
"""Functions of the interface that the first pages ask for; each is loaded with what it needs. What fills say needs scipy, which
takes as long as all these."""

MOST_KEPT = 3


def load() -> None:
    """Load what most questions need."""
    for name in ASKED_FIRST:
        getattr(api, name)


class KeptCatalogs:
    """Reads catalogs, each once as long as its files stay the same by content."""

    def __init__(self, read: Callable[[str | Path], Catalog]) -> None:
        self._read = read
        self._kept: dict[str, Catalog] = {}

    def __call__(self, folder: str | Path) -> Catalog:
        """The catalog in a folder. Raises InputError as `read_catalog` does."""
        key = _content(Path(folder))
        if key is None:
            return self._read(folder)
        found = self._kept.pop(key, None) or self._read(folder)
        self._kept[key] = found
        for old in list(self._kept)[:-MOST_KEPT]:
            del self._kept[old]
        return found

    def ready(self, folder: str) -> None:
        """Read a catalog before it is asked for; what is wrong with it is told to whoever asks."""
        try:
            self(folder)
        except InputError:
            return


def _content(folder: Path) -> str | None:
    """A fingerprint of a catalog, by place and content; None where it cannot be told."""
    made = hashlib.blake2b(str(folder).encode(), digest_size=16)
    try:
        for each in catalog_files(folder):
            raw = plain_bytes(each)
            made.update(f"\0{each.name}\0{len(raw)}\0".encode() + raw)
    except OSError:
        return None
    return made.hexdigest()
