"""Sheets of a shop in the folder: which there are, and one that is brought in, kept where its mapping can stand beside it."""

from __future__ import annotations

import hashlib
import posixpath

from optimizer.commands.options import DEMO_CATALOG
from optimizer.desk.folder import Folder
from optimizer.files.whole_file import write_whole
from optimizer.line_file import plain_bytes

__all__ = ["ENDINGS", "brought_in", "goes_into", "sheets_there"]

ENDINGS = (".csv", ".xlsx", ".ods", ".xls", ".txt", ".tsv")
PLACE, USUAL = "sheets", "my_shop"
EARLIER = f"{PLACE}/earlier"
LARGEST_BYTES = 12 << 20


def sheets_there(folder: Folder) -> tuple[str, ...]:
    """Names of all files that may be a sheet: tables that are no file of a catalog."""
    catalogs = set(folder.catalogs)
    names = {name for ending in ENDINGS for name in folder.files(ending)}
    return tuple(sorted(n for n in names if posixpath.dirname(n) not in catalogs and not n.startswith(f"{EARLIER}/")))


def goes_into(catalog: str) -> str:
    """Where a sheet goes if nobody says it: into the ``catalog`` that is asked, but never among the invented parts of the demo.

    >>> goes_into("parts_demo/catalog"), goes_into("corner_shop")
    ('my_shop', 'corner_shop')
    """
    return USUAL if catalog in ("", DEMO_CATALOG) else catalog


def brought_in(folder: Folder, given: str, content: bytes) -> str:
    """Keep a sheet under the name that it has, and say where. One of that name is a newer list of the same shop, read by the
    mapping of the older, which is kept as well. Raises OSError, Forbidden."""
    name = f"{PLACE}/{_plain(given)}"
    path = folder.path(name)
    writes = [(path, content)]
    if path.exists() and (older := plain_bytes(path, LARGEST_BYTES)) != content:
        mark = hashlib.blake2b(older, digest_size=4).hexdigest()
        kept = folder.path(f"{EARLIER}/{mark}_{_plain(given)}")
        kept.parent.mkdir(parents=True, exist_ok=True)
        write_whole([(kept, older)])
    path.parent.mkdir(parents=True, exist_ok=True)
    write_whole(writes)
    return name


def _plain(given: str) -> str:
    """The name of a file as a browser gives it, of letters, digits and a few signs.

    >>> _plain("C:\\\\lists\\\\My prices (May).xlsx"), _plain("../../.x")
    ('My prices _May_.xlsx', 'x.csv')
    """
    last = given.replace("\\", "/").rpartition("/")[2]
    plain = "".join(c if c.isalnum() or c in " -_." else "_" for c in last).strip(" .")
    stem, dot, ending = plain.rpartition(".")
    known = f".{ending.casefold()}" in ENDINGS
    stem = (stem if known else plain).encode()[:120].decode("utf-8", "ignore").strip(" .") or "sheet"
    return f"{stem}.{ending}" if dot and known else f"{stem}.csv"
