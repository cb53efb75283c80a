"""Bills as CSV that a spreadsheet opens without running anything in it."""

from __future__ import annotations

import csv
import os
import re
import tempfile
from collections.abc import Iterable, Sequence
from pathlib import Path

__all__ = ["safe_cell", "write_bill_csv"]

_STARTERS = ("=", "+", "-", "@", "\uff1d", "\uff0b", "\uff0d", "\uff20")
"""What makes a spreadsheet take a cell for a formula, wide forms too: OWASP, "CSV Injection"."""

_BREAKS = ("\t", "\r", "\n")
"""At the start of a cell these do the same in some spreadsheets (OWASP)."""

_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?(?:[eE][+-]?[0-9]{1,3})?")


def safe_cell(text: str) -> str:
    """Return the text of a cell so that no spreadsheet runs it; numbers stay as they are.

    A cell that starts like a formula, also behind spaces, quotation marks or characters that do not print, gets an
    apostrophe in front, which spreadsheets take as "this is text". Characters that do not print become spaces, since
    a line break could start a cell of its own in a lax reader. Applying it twice changes nothing more.

    >>> safe_cell("=1+1"), safe_cell("  @SUM(A1)"), safe_cell("-12.50"), safe_cell("G 3/4")
    ("'=1+1", "'  @SUM(A1)", '-12.50', 'G 3/4')
    """
    if _NUMBER.fullmatch(text):
        return text
    flat = "".join(c if c.isprintable() else " " for c in text)
    lead = len(flat) - len(flat.lstrip(' "'))
    runs = flat[lead:].startswith(_STARTERS) or any(c in _BREAKS for c in text[:lead])
    return f"'{flat}" if runs else flat


def write_bill_csv(rows: Iterable[Sequence[str]], path: str | Path) -> None:
    """Write the rows of a bill, the header first, as UTF-8 CSV at `path`, every cell made safe.

    The file appears whole or not at all: it is written beside its place under another name and then moved there. A
    byte order mark tells spreadsheets that it is UTF-8. Raises OSError when the folder cannot be written to.

    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_bill_csv([["part", "price"], ["=1+1", "4.50"]], Path(folder, "bill.csv"))
    ...     Path(folder, "bill.csv").read_text(encoding="utf-8-sig").splitlines()
    ['part,price', "'=1+1,4.50"]
    """
    path = Path(path)
    handle, made = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".tmp", dir=path.parent)
    try:
        with open(handle, "w", encoding="utf-8-sig", newline="", errors="replace") as stream:
            csv.writer(stream, lineterminator="\r\n").writerows([safe_cell(cell) for cell in row] for row in rows)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(made, 0o644)
        os.replace(made, path)
    except BaseException:
        os.unlink(made)
        raise
