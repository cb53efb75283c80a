"""Rows of one catalog file with every cell read, column by column."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

from optimizer.errors import MOST_LISTED, BadValue, Problems, Where, near_sentence, quoted
from optimizer.files.cell_text import cell_reader
from optimizer.files.csv_table import Table, read_table
from optimizer.files.decimals import check_two_ways, holds_numbers, table_has_commas
from optimizer.files.draft import Draft
from optimizer.files.field import Field

__all__ = ["read_rows"]

MOST_FAULTS = 20 * MOST_LISTED
"""After so many cells of a column that cannot be read the rows behind are not looked at: nobody reads a list as long as that."""


def read_rows(path: Path, fields: Mapping[str, Field], problems: Problems) -> Iterator[Draft]:
    """Yield a draft for each row of a catalog file that is as wide as the header, in order.

    `fields` gives the definition of each column by its name. Unknown and missing columns, rows that are too short
    or too long and cells that cannot be read are taken in by `problems`; a draft knows which of its values are bad.

    >>> import tempfile
    >>> from optimizer.files.part_kinds import by_column
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     path = Path(folder, "clamps.csv")
    ...     _ = path.write_text("id,name,price,low_mm,high_mm\\nC,clamp,1.50,20,24\\n")
    ...     [draft.number("low") for draft in read_rows(path, by_column("clamps.csv"), Problems())]
    [0.02]
    """
    table = read_table(path, problems)
    if table is None:
        return
    _check_columns(table, fields, problems)
    named = {field.name: field for field in fields.values()}
    commas = _has_commas(table, fields)
    columns = [_column(table, column, field, commas) for column, field in fields.items()]
    missing = {field.name for column, field in fields.items() if field.required and column not in table.columns}
    faulty = [field.name for field, (_, faults) in zip(named.values(), columns, strict=True) if faults]
    # a column that is full, as most are, need not be looked at row by row
    full = {name for name, (values, _) in zip(named, columns, strict=True) if None not in values}
    required = [field.name for field in fields.values() if field.required and field.name not in missing | full]
    # rows are made one by one, so that a catalog of a hundred thousand of them never stands twice in memory;
    # a column that was given up is shorter than the others
    for row, cells in enumerate(zip(*(values for values, _ in columns), strict=False)):
        if row in table.ragged:
            continue
        values = dict(zip(named, cells, strict=True))
        place = _Row(table.file, table.lines[row], named)
        draft = Draft(values=values, fields=named, place=place, problems=problems, in_cells=True, bad=set(missing))
        _check(draft, values, faulty, required)
        yield draft


def _check(draft: Draft, values: dict[str, object], faulty: list[str], required: list[str]) -> None:
    """Turn cells that could not be read into problems, and ask for those that must be there."""
    for name in faulty:
        fault = values[name]
        if isinstance(fault, BadValue):
            values[name] = None
            draft.fault(name, fault.what, fault.cure)
    for name in required:
        if values[name] is None:
            draft.need(name)


@dataclass(frozen=True, slots=True)
class _Row:
    """Where a row stands; it tells the place of a field. Kept for every id of a catalog, so it is small."""

    file: str
    line: int
    named: Mapping[str, Field]

    def __call__(self, name: str) -> Where:
        return Where.line(self.file, self.line, self.named[name].column if name in self.named else name)


def _has_commas(table: Table, fields: Mapping[str, Field]) -> bool:
    """True when the numbers of the table have decimal commas."""
    numbers = [column for column, field in fields.items() if holds_numbers(field)]
    return table_has_commas(chain.from_iterable(set(table.columns.get(column, ())) for column in numbers), table.separator)


def _column(table: Table, column: str, field: Field, commas: bool) -> tuple[list[object], bool]:
    """The values of one column, a cell that cannot be read as the `BadValue` that says why, and whether there is any."""
    cells = table.columns.get(column)
    if cells is None:
        return [field.default] * len(table.lines), False
    read = cell_reader(field)
    commas = commas and holds_numbers(field)
    # most columns hold few different cells
    known: dict[str, object] = {"": field.default}
    faults = 0
    for row, cell in enumerate(cells):
        if cell not in known:
            try:
                if commas:
                    check_two_ways(cell)
                known[cell] = read(cell)
            except BadValue as error:
                known[cell] = error
                faults += 1
                if faults == MOST_FAULTS:
                    cells = cells[: row + 1]
                    break
    return [known[cell] for cell in cells], faults > 0


def _check_columns(table: Table, fields: Mapping[str, Field], problems: Problems) -> None:
    where = Where(table.file, "header")
    for column in table.header:
        if column and column not in fields:
            cure = near_sentence(column, set(fields) - set(table.header), "Near names")
            what = f"the column {quoted(column)} is not known."
            problems.tell(where, what, cure or 'See "fullbore columns".')
    for column, field in fields.items():
        if field.required and column not in table.columns:
            what = f"the column {quoted(column)} is missing ({field.meaning})."
            cure = f"Add it, for example with {quoted(field.cell_example)}."
            problems.tell(where, what, cure)
