"""One catalog file as a table of text cells, with the line each row stands in."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from pathlib import Path

from optimizer.errors import BadValue, Problems, Where
from optimizer.files.source_text import file_text

__all__ = ["Table", "read_table"]

LARGEST_BYTES = 64 << 20
MOST_COLUMNS = 200
MOST_LINES, MOST_CELLS = 300_000, 6_000_000
"""A catalog of a hundred thousand rows is well within; beyond it a spreadsheet has saved its empty rows too."""

TOO_LONG = "Delete the empty rows and columns at its end, or split it."


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """The stripped cells of one file by column; `lines` holds the line of the file of each row.

    `ragged` holds the rows whose cells may have slipped under the wrong column.
    """

    file: str
    separator: str
    header: tuple[str, ...]
    columns: dict[str, list[str]]
    lines: list[int]
    ragged: frozenset[int]


_Records = Sequence[tuple[int, list[str]]]
"""The line each record of a file begins in, and its cells; the header first."""


def read_table(path: Path, problems: Problems) -> Table | None:
    """Return the table in a CSV file, or None once the reason is taken in by `problems`.

    Comma or semicolon, whichever the header has more of; UTF-8, with or without byte order mark. Empty lines are
    left out. A row with more or fewer cells than the header is a problem, and so is a file that is no table at all.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "clamps.csv")
    ...     _ = path.write_text("id;low_mm\\nC;20\\n")
    ...     read_table(path, Problems()).columns
    {'id': ['C'], 'low_mm': ['20']}
    """
    try:
        text = file_text(path, LARGEST_BYTES)
        if not text.strip():
            raise BadValue("the file is empty.", 'Write a header line; "fullbore columns" lists the columns.')
        _check_lines(text)
        separator = _separator(text)
        records = _records(text, separator)
    except BadValue as error:
        problems.add(error.at(Where(path.name, "file")))
        return None
    return _table(path.name, separator, records, problems)


def _check_lines(text: str) -> None:
    """Raise `BadValue` for more lines than are taken apart."""
    lines = max(text.count("\n"), text.count("\r"))
    if lines > MOST_LINES:
        raise BadValue(f"the file has {lines} lines, and at most {MOST_LINES} are read.", TOO_LONG)


def _separator(text: str) -> str:
    header = next(line for line in text.splitlines() if line.strip())
    return ";" if header.count(";") > header.count(",") else ","


def _records(text: str, separator: str) -> _Records:
    found: list[tuple[int, list[str]]] = []
    last = 0
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for record in reader:
            found.append((last + 1, record))
            last = reader.line_num
    except csv.Error as error:
        line = min(last, reader.line_num) + 1
        what = f"the cells cannot be told apart from line {line} on ({error})."
        raise BadValue(what, "Look for a quotation mark that is never closed; write inch marks as in.") from None
    width = max(len(cells) for _, cells in found)
    if width > MOST_COLUMNS:
        raise BadValue(f"the table is {width} cells wide.", "Check the separator: comma or semicolon.")
    if width * len(found) > MOST_CELLS:
        raise BadValue(f"the table has {len(found)} lines of up to {width} cells: too many to be read.", TOO_LONG)
    return found


def _table(file: str, separator: str, records: _Records, problems: Problems) -> Table | None:
    # a record that ends before a column has an empty cell there
    cells = [[cell.strip() for cell in column] for column in zip_longest(*(record for _, record in records), fillvalue="")]
    written = [row for row, found in enumerate(zip(*cells, strict=True)) if any(found)]
    if not written:
        problems.tell(Where(file, "file"), "the file has only empty lines.", "Write a header line.")
        return None
    top, rows = written[0], written[1:]
    header = tuple(column[top].casefold() for column in cells)
    while header and not header[-1]:
        header = header[:-1]
    ragged = frozenset(_ragged(file, len(header), records, cells, rows, problems))
    whole = len(written) == len(records)  # most files have no empty line
    below = [column[1:] if whole else [column[row] for row in rows] for column in cells[: len(header)]]
    _check_header((file, records[top][0]), header, below, problems)
    columns = {name: column for name, column in zip(header, below, strict=True) if name}
    lines = [records[row][0] for row in rows]
    return Table(file=file, separator=separator, header=header, columns=columns, lines=lines, ragged=ragged)


def _check_header(line: tuple[str, int], header: Sequence[str], columns: Sequence[Sequence[str]], problems: Problems) -> None:
    for name in sorted({name for name in header if name and header.count(name) > 1}):
        problems.tell(Where.line(*line, name), "the column stands there twice.", "Keep one.")
    for place, name in enumerate(header):
        if not name and any(columns[place]):
            what = f"column {place + 1} has cells but no name."
            problems.tell(Where.line(*line), what, "Name it in the header, or empty the column.")


def _ragged(
    file: str, width: int, records: _Records, cells: Sequence[Sequence[str]], rows: Sequence[int], problems: Problems
) -> Iterator[int]:
    """Yield the places in `rows` of rows that are not as wide as the header."""
    for place, row in enumerate(rows):
        found = len(records[row][1])
        # a spreadsheet fills every row up to the widest one with empty cells
        if found == width or (found > width and not any(column[row] for column in cells[width:found])):
            continue
        yield place
        what = f"the row has {found} cells, the header {width}."
        cure = "Give every column a cell, empty if need be; put text with a separator in quotation marks."
        problems.tell(Where.line(file, records[row][0]), what, cure)
