"""A file of a shop as sheets of cells: workbooks, and texts of any encoding whose cells any sign or rows of spaces keep apart."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from optimizer.errors import BadValue
from optimizer.files.source_text import file_bytes
from optimizer.sheets.workbooks import Cell, is_workbook, workbook_sheets

__all__ = ["Sheet", "read_sheets", "text_of"]

LARGEST_BYTES = 32 << 20
MOST_ROWS, MOST_COLUMNS = 100_000, 200
SIGNS = ("\t", ";", "|", ",")
"""What may keep cells apart, the surest first."""

_RULER = re.compile(r" *-{2,}(?: +-{2,})+ *")
_GAP = re.compile(r" {2,}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet: its name ("" in a text), its rows of equal width, and the line of the file or sheet that each stands in."""

    name: str
    rows: tuple[tuple[Cell, ...], ...]
    lines: tuple[int, ...]


def text_of(cell: Cell) -> str:
    """A cell as text; a whole number without its point.

    >>> text_of(101.0), text_of(2.2), text_of("G 1/2")
    ('101', '2.2', 'G 1/2')
    """
    if isinstance(cell, str):
        return cell
    return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else repr(cell)


def read_sheets(path: Path) -> tuple[Sheet, ...]:
    """Return the sheets of a file that have any cell. Raises `BadValue` where it cannot be read or holds nothing."""
    data = file_bytes(path, LARGEST_BYTES)
    if is_workbook(data):
        found = [_sheet(name, rows, range(1, len(rows) + 1)) for name, rows in workbook_sheets(data).items()]
    else:
        rows, lines = _text_rows(_decoded(data))
        found = [_sheet("", rows, lines)]
    sheets = tuple(each for each in found if each.rows)
    if not sheets:
        raise BadValue("there is nothing in it.", "Check that it is the right file.")
    return sheets


def _sheet(name: str, rows: list[list[Cell]], lines: range | list[int]) -> Sheet:
    width = max(map(len, rows), default=0)
    kept = [(line, row) for line, row in zip(lines, rows, strict=True) if any(cell != "" for cell in row)]
    if len(kept) > MOST_ROWS or width > MOST_COLUMNS:
        raise BadValue(f"a sheet has {len(kept)} rows of {width} cells.", f"At most {MOST_ROWS} of {MOST_COLUMNS} are read.")
    full = tuple((*row, *[""] * (width - len(row))) for _, row in kept)
    return Sheet(name=name, rows=full, lines=tuple(line for line, _ in kept))


def _decoded(data: bytes) -> str:
    """The text, by its byte order mark, else as UTF-8, else as windows-1252, which is what old registers write."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings: tuple[str, ...] = ("utf-16",)
    elif data[1:2] == b"\0" or data[:1] == b"\0":
        encodings = ("utf-16-le", "utf-16-be") if data[1:2] == b"\0" else ("utf-16-be",)
    else:
        encodings = ("utf-8-sig", "windows-1252")
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text
    raise BadValue("this is neither a workbook nor text in UTF-8, UTF-16 or windows-1252.", "Save it as CSV (UTF-8) or XLSX.")


def _text_rows(text: str) -> tuple[list[list[Cell]], list[int]]:
    lines = text.splitlines()
    tried = [(sign, *_records(text, sign)) for sign in SIGNS if sign in text]
    sure = [(_likeness(rows), -order, rows, begins) for order, (_, rows, begins) in enumerate(tried)]
    best = max(sure, key=lambda each: each[:2], default=None)
    spaced = [[*map(str.strip, cells)] for cells in _by_spaces(lines)]
    if best is None or _likeness(spaced) > best[0]:
        return [list(row) for row in spaced], list(range(1, len(lines) + 1))
    return [list(row) for row in best[2]], best[3]


def _likeness(rows: list[list[str]]) -> int:
    """How many rows are as wide as most that have more than one cell: the right sign makes a table, a wrong one ragged lines."""
    widths = Counter(len(row) for row in rows if len(row) > 1)
    return max(widths.values(), default=0)


def _records(text: str, sign: str) -> tuple[list[list[str]], list[int]]:
    """Cells with quotation marks as a spreadsheet writes them; where these do not pair, marks are inches and nothing else."""
    for quoting in (csv.QUOTE_MINIMAL, csv.QUOTE_NONE):
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=sign, strict=True, quoting=quoting)
        rows: list[list[str]] = []
        begins: list[int] = []
        last = 0
        try:
            for record in reader:
                rows.append([" ".join(cell.split()) for cell in record])
                begins.append(last + 1)
                last = reader.line_num
        except csv.Error:
            continue
        return rows, begins
    raise BadValue("the cells cannot be told apart.", "Save it as CSV (UTF-8) or XLSX.")


def _by_spaces(lines: list[str]) -> list[list[str]]:
    """Cells below the dashes of a ruler, or with two spaces or more between them."""
    ruler = next((line for line in lines if _RULER.fullmatch(line)), None)
    if ruler is None:
        return [_GAP.split(line.strip()) for line in lines]
    starts = [found.start() for found in re.finditer("-+", ruler)]
    cuts = [0, *starts[1:], 10_000]
    rows = [[line[low:high] for low, high in pairwise(cuts)] for line in lines]
    # a line of a letter goes across the columns of the table
    whole = [any(0 < cut < len(line) and line[cut - 1 : cut].strip() for cut in starts[1:]) for line in lines]
    ruled = [_RULER.fullmatch(line) is not None for line in lines]
    return [
        [""] if rule else [line] if across else row for line, row, across, rule in zip(lines, rows, whole, ruled, strict=True)
    ]
