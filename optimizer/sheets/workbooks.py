"""Workbooks (XLSX, ODS, XLS) as rows of cells, read by pandas with calamine: the only module of this room that uses pandas."""

from __future__ import annotations

import io
import math
import re
import zipfile
from collections.abc import Iterator

from optimizer.errors import BadValue

__all__ = ["Cell", "is_workbook", "workbook_sheets"]

Cell = str | float
"""A text, stripped ("": empty), or a number as the workbook holds it, which can be read in one way only."""

MOST_CELLS = 3_000_000
LEAST_WIDTH = 10
"""A row counts as so many cells at least."""
LARGEST_UNPACKED = 512 << 20
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
_PLACE = re.compile(rb'<c [^>]*?r="([A-Z]{1,3})([0-9]{1,7})"')
_ROW = re.compile(rb"<table:table-row([^>]*)>(.*?)</table:table-row>", re.DOTALL)
_FILLED = re.compile(rb"<table:table-cell([^>]*value-type[^>]*)>")
_REPEATED = re.compile(rb'-repeated="([0-9]{1,9})"')
CURE = "Open it in a spreadsheet and save it again, or save the sheet as CSV."


def is_workbook(data: bytes) -> bool:
    """True for the first bytes of a workbook, whatever its name.

    >>> is_workbook(b"PK\\x03\\x04..."), is_workbook(b"id,price")
    (True, False)
    """
    return data.startswith((_ZIP, _OLE))


def workbook_sheets(data: bytes) -> dict[str, list[list[Cell]]]:
    """Return the rows of every sheet of a workbook by its name. Raises `BadValue` for one that cannot be read."""
    if data.startswith(_ZIP):
        _check_size(data)
    import pandas as pd  # takes longer to load than most sheets to read

    try:
        found = pd.read_excel(io.BytesIO(data), sheet_name=None, header=None, dtype=object, engine="calamine", na_filter=False)
    except (ValueError, OSError, ArithmeticError, LookupError, RuntimeError, zipfile.BadZipFile) as error:
        raise _broken(error) from None
    except Exception as error:
        # calamine tells of a damaged file by an exception of its own, which pandas does not name
        if type(error).__module__.partition(".")[0] not in ("python_calamine", "_python_calamine"):
            raise
        raise _broken(error) from None
    return {str(name): [[_cell(each) for each in row] for row in frame.to_numpy(dtype=object)] for name, frame in found.items()}


def _broken(error: Exception) -> BadValue:
    return BadValue(f"the workbook cannot be read ({str(error)[:80] or type(error).__name__}).", CURE)


def _cell(value: object) -> Cell:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return float(value) if math.isfinite(value) else ""
    return " ".join(str(value).split())


def _check_size(data: bytes) -> None:
    """Raise `BadValue` before anything is made of a file that would fill the memory: far-off cells are rows of empty ones."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            sheets = [each for each in packed.infolist() if each.filename.endswith(".xml")]
            if sum(each.file_size for each in sheets) > LARGEST_UNPACKED:
                raise BadValue("the workbook is too large when it is unpacked.", "Split it, or save one sheet as CSV.")
            for each in sheets:
                for cells in _cells(packed.read(each)):
                    if cells > MOST_CELLS:
                        raise BadValue("a sheet has cells too far apart.", "Delete the empty rows and columns at its end.")
    except (zipfile.BadZipFile, OSError, EOFError, NotImplementedError, RuntimeError, ValueError) as error:
        if isinstance(error, BadValue):
            raise
        raise _broken(error) from None


def _cells(xml: bytes) -> Iterator[int]:
    """How many cells a sheet of this text would have at least, as far as its places and repeats tell."""
    rows = width = 0
    for column, row in _PLACE.findall(xml):
        number = 0
        for letter in column:
            number = number * 26 + letter - 64
        rows, width = max(rows, int(row)), max(width, number)
    yield rows * max(width, LEAST_WIDTH)
    repeated = ((_times(row), sum(map(_times, _FILLED.findall(cells)))) for row, cells in _ROW.findall(xml))
    yield sum(times * max(filled, LEAST_WIDTH) for times, filled in repeated if filled)


def _times(attributes: bytes) -> int:
    """How often a row or cell of an ODS stands there."""
    found = _REPEATED.search(attributes)
    return int(found[1]) if found else 1
