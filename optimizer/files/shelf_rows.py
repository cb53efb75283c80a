"""The rows of a catalog as a shop sees them: what is sold, for how much, what it costs, how many there are; and these cells
changed in place, every other byte of the file kept."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from optimizer.errors import Problems
from optimizer.files.csv_table import Table, read_table
from optimizer.files.part_kinds import FILES, KITS

__all__ = ["CELLS", "ShelfRow", "changed", "shelf_rows"]

CELLS = ("price", "cost", "stock")
"""What a shop changes; of hose by the metre the price is that of a metre."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShelfRow:
    """One row, as its cells are written: ``file`` and ``line`` say where, ``price_column`` which column its price stands in,
    ``source`` the sheet that it came from ("": none)."""

    file: str
    line: int
    id: str
    name: str
    price_column: str
    price: str
    cost: str
    stock: str
    source: str

    @property
    def kind(self) -> str:
        """What it is: the name of its file."""
        return self.file.removesuffix(".csv")

    def cell(self, what: str) -> str:
        """One of `CELLS`."""
        return {"price": self.price, "cost": self.cost, "stock": self.stock}[what]

    def column(self, what: str) -> str:
        """The column that one of `CELLS` stands in."""
        return self.price_column if what == "price" else what


def shelf_rows(folder: Path) -> tuple[ShelfRow, ...]:
    """All rows of the catalog in a folder that can be told apart, in the order of the files; none of a file that is no table."""
    tables = (read_table(folder / file, Problems()) for file in (*FILES, KITS) if (folder / file).exists())
    return tuple(row for table in tables if table is not None and "id" in table.columns for row in _rows(table))


def _rows(table: Table) -> Iterator[ShelfRow]:
    for place, line in enumerate(table.lines):
        cells = {column: texts[place] for column, texts in table.columns.items()}
        a_metre = bool(cells.get("price_per_m")) and not cells.get("price")
        column = "price_per_m" if a_metre else "price"
        yield ShelfRow(
            file=table.file,
            line=line,
            id=cells["id"],
            name=cells.get("name", ""),
            price_column=column,
            price=cells.get(column, ""),
            cost=cells.get("cost", ""),
            stock=cells.get("stock", ""),
            source=cells.get("source", ""),
        )


def changed(text: str, new: Mapping[str, Mapping[str, str]]) -> str:
    """The text of a catalog file with ``new`` cells by id and column; a column that is not there yet comes last. Records of other
    ids, and what keeps cells apart, stay as they are.

    >>> changed("id;price\\nA;1,50\\nB;2\\n", {"B": {"price": "3", "stock": "4"}})
    'id;price;stock\\nA;1,50;\\nB;3;4\\n'
    """
    records = list(_records(text))
    first = next(n for n, (_, cells) in enumerate(records) if any(cells))
    header = [cell.strip().lstrip("\ufeff").casefold() for cell in records[first][1]]
    missing = [column for column in dict.fromkeys(c for cells in new.values() for c in cells) if column not in header]
    sign = _separator(records[first][0])
    out = []
    for n, (raw, cells) in enumerate(records):
        body = raw.rstrip("\r\n")
        ending = raw[len(body) :]
        row_id = cells[header.index("id")].strip() if n > first and len(cells) > header.index("id") else ""
        if row_id in new:
            held = {**dict.fromkeys(missing, ""), **new[row_id]}
            wide = zip((*header, *missing), _wide(cells, header, missing), strict=True)
            body = _joined([held.get(name, cell) for name, cell in wide], sign)
        elif any(cells):
            body += "".join(sign + (name if n == first else "") for name in missing)
        out.append(body + ending)
    return "".join(out)


def _wide(cells: list[str], header: list[str], missing: list[str]) -> list[str]:
    return [*cells[: len(header)], *([""] * (len(header) - len(cells))), *([""] * len(missing))]


def _records(text: str) -> Iterator[tuple[str, list[str]]]:
    """Each record of the file as it is written, with its cells."""
    lines = list(io.StringIO(text, newline=""))
    sign = _separator(next((line for line in lines if line.strip()), ""))
    reader = csv.reader(iter(lines), delimiter=sign)
    last = 0
    for cells in reader:
        yield "".join(lines[last : reader.line_num]), cells
        last = reader.line_num


def _separator(header: str) -> str:
    return ";" if header.count(";") > header.count(",") else ","


def _joined(cells: list[str], sign: str) -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=sign, lineterminator="").writerow(cells)
    return out.getvalue()
