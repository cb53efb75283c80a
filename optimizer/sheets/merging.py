"""Rows of a sheet into a catalog: what changes there, and the files as they will be. Rows of other origin stay as they stand."""

from __future__ import annotations

import csv
import io
import re
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from optimizer.errors import InputError, Problem, Problems, quoted
from optimizer.files.catalog_csv import ABOUT, read_catalog
from optimizer.files.csv_table import Table, read_table
from optimizer.files.decimals import holds_numbers, table_has_commas
from optimizer.files.named_files import catalog_files
from optimizer.files.part_kinds import FILES, KITS, by_column
from optimizer.files.rig_writer import toml_text
from optimizer.files.together import finish_moves
from optimizer.model.stock_import import RowChange
from optimizer.money import parse_money
from optimizer.sheets.rows import End, Row

__all__ = ["Merged", "merged"]

_LINE = re.compile(r"line ([0-9]+)(?:, (.*))?")
SHOP_FIELDS = ("price", "price_per_m", "stock", "cost", "name", "source")
SOLD_OTHERWISE = ("pack", "coil_m", "step_cm")
"""What belongs to the price, and goes with it."""

Cells = dict[str, str]


@dataclass(slots=True)
class _Shelf:
    """One file of the catalog as it stands: its table, and its rows by id."""

    table: Table | None = None
    rows: dict[str, Cells] = field(default_factory=dict)

    @classmethod
    def read(cls, path: Path) -> _Shelf:
        table = read_table(path, Problems()) if path.exists() else None
        if table is None or "id" not in table.columns:
            return cls()
        rows = [dict(zip(table.columns, cells, strict=True)) for cells in zip(*table.columns.values(), strict=True)]
        return cls(table, {row["id"]: row for row in rows})

    @property
    def commas(self) -> bool:
        """Whether its numbers have decimal commas, so that new ones must have them too."""
        if self.table is None or self.table.separator != ";":
            return False
        cells = (cell for row in self.rows.values() for cell in row.values())
        return table_has_commas(cells, self.table.separator)


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """The sheet's ``rows`` once more, those refused that the catalog cannot hold; what changes; and the new ``files``."""

    rows: tuple[Row, ...]
    changes: tuple[RowChange, ...]
    unchanged: int
    files: dict[str, bytes]


def merged(folder: Path, rows: Sequence[Row], source: str, currency: str) -> Merged:
    """What these rows make of the catalog in a folder, which may be new. Raises `InputError` where the catalog cannot be read, is
    in another currency, or has a kit of a part that would go."""
    known = _known(folder, currency)
    shelves = {file: _Shelf.read(folder / file) for file in FILES}
    taken = {part: file for file, shelf in shelves.items() for part, row in shelf.rows.items() if row.get("source") != source}
    rows = [_with_own(row, shelves, source) for row in _each_once(rows, taken)]
    while True:
        files = _files(shelves, rows, source)
        bad = _refused(folder, {**files, **({} if known else {ABOUT: _about(source, currency)})}, rows)
        if not bad:
            break
        rows = [_refuse(row, bad[part]) if (part := _first_of(row, bad)) else row for row in rows]
    changes = tuple(_changes(shelves, rows, source))
    counted = sum(1 for row in rows for _ in row.rows)
    held = sum(change.what != "gone" for change in changes)
    if not known:
        files[ABOUT] = _about(source, currency)
    return Merged(rows=tuple(rows), changes=changes, unchanged=counted - held, files=files)


def _known(folder: Path, currency: str) -> bool:
    """Whether there is a catalog already, which must be sound before anything is added to it."""
    finish_moves(folder)
    names = {each.name for each in folder.iterdir()} if folder.is_dir() else set()
    if not names.intersection((*FILES, KITS, ABOUT)):
        return False
    catalog = read_catalog(folder)
    if currency and catalog.currency and currency != catalog.currency:
        what = f"the catalog is in {catalog.currency}, the sheet in {currency}."
        cure = "Name another folder, or correct currency in the mapping: prices are never converted."
        raise InputError(str(folder), [Problem(where=ABOUT, what=what, cure=cure)])
    return True


def _about(source: str, currency: str) -> bytes:
    money = f"currency = {toml_text(currency)}\n" if currency else ""
    return f"name = {toml_text(source)}\n{money}".encode()


def _each_once(rows: Sequence[Row], taken: dict[str, str]) -> Iterator[Row]:
    """Rows whose id stands nowhere else: not in the catalog by another origin, nor further up in the sheet."""
    seen: dict[str, Row] = {}
    for row in rows:
        for _, cells in row.rows:
            name = cells["id"]
            if name in taken:
                why = f"{quoted(name)} stands already in {taken[name]}, from elsewhere."
                row = replace(row, end=End.REFUSED, rows=(), why=why, cure="Give it another code, or take the other row out.")
                break
            if name in seen:
                why = f"{quoted(name)} stands already in line {seen[name].line}."
                row = replace(row, end=End.REFUSED, rows=(), why=why, cure="Give each row a code of its own.")
                break
            seen[name] = row
        yield row


def _with_own(row: Row, shelves: dict[str, _Shelf], source: str) -> Row:
    """A row with the figures that somebody wrote into its cells since, as long as all that the sheet says of it still holds: a
    bore that was measured is that of this part, and of no other that now has its code."""
    made = []
    for file, cells in row.rows:
        old = shelves[file].rows.get(cells["id"], {})
        commas = shelves[file].commas
        before = {column: _pointed(file, column, cell) if commas else cell for column, cell in old.items()}
        stated = [column for column in cells if column not in SHOP_FIELDS and column != "id"]
        if before.get("source") == source and all(before.get(column, "") == cells[column] for column in stated):
            own = {column: cell for column, cell in before.items() if cell and column not in (*SHOP_FIELDS, *cells)}
            cells = {**cells, **{column: cell for column, cell in own.items() if column not in SOLD_OTHERWISE}}
        made.append((file, cells))
    return replace(row, rows=tuple(made))


def _pointed(file: str, column: str, cell: str) -> str:
    fields = by_column(file)
    return cell.replace(",", ".") if column in fields and holds_numbers(fields[column]) else cell


def _files(shelves: dict[str, _Shelf], rows: Sequence[Row], source: str) -> dict[str, bytes]:
    """Every file of the catalog that holds a row, or held one, as it will be."""
    new: dict[str, list[Cells]] = {}
    for row in rows:
        for file, cells in row.rows:
            new.setdefault(file, []).append(cells)
    made = {}
    for file, shelf in shelves.items():
        if file in new or shelf.table is not None or file == "pumps.csv":
            kept = [each for each in shelf.rows.values() if each.get("source") != source]
            made[file] = _file(file, shelf, kept, new.get(file, []))
    return made


def _file(file: str, shelf: _Shelf, kept: list[Cells], new: list[Cells]) -> bytes:
    fields = by_column(file)
    commas = shelf.commas
    used = {column for row in (*kept, *new) for column, cell in row.items() if cell}
    old = shelf.table.header if shelf.table else ()
    needed = [column for column, each in fields.items() if column in used or each.required]
    header = [*(column for column in old if column), *(column for column in needed if column not in old)]
    out = io.StringIO()
    writer = csv.writer(out, delimiter=shelf.table.separator if shelf.table else ",", lineterminator="\n")
    writer.writerow(header)
    for row in kept:
        writer.writerow([row.get(column, "") for column in header])
    for row in new:
        cells = [(column, row.get(column, "")) for column in header]
        comma = [cell.replace(".", ",") if commas and holds_numbers(fields[column]) else cell for column, cell in cells]
        writer.writerow(comma)
    return out.getvalue().encode()


def _refused(folder: Path, files: dict[str, bytes], rows: Sequence[Row]) -> dict[str, tuple[str, str]]:
    """What the reader of catalogs says against rows of the sheet, by id. Raises `InputError` for what is wrong elsewhere."""
    ours = {cells["id"] for row in rows for _, cells in row.rows}
    with tempfile.TemporaryDirectory() as name:
        for file, content in files.items():
            Path(name, file).write_bytes(content)
        for other in catalog_files(folder):
            if other.name not in files:
                Path(name, other.name).write_bytes(other.read_bytes())
        try:
            read_catalog(name)
        except InputError as error:
            return _by_id(Path(name), str(folder), error, ours)
    return {}


def _by_id(folder: Path, source: str, error: InputError, ours: set[str]) -> dict[str, tuple[str, str]]:
    found: dict[str, tuple[str, str]] = {}
    others = []
    ids: dict[str, dict[int, str]] = {}
    for problem in error.problems:
        place = _LINE.fullmatch(problem.place)
        if place and problem.file not in ids:
            table = read_table(folder / problem.file, Problems())
            ids[problem.file] = dict(zip(table.lines, table.columns.get("id", []), strict=False)) if table else {}
        name = ids.get(problem.file, {}).get(int(place[1]), "") if place else ""
        if name in ours:
            column = f"{place[2]}: " if place and place[2] else ""
            found.setdefault(name, (f"the catalog needs more: {column}{problem.what}", problem.cure))
        elif problem.place != "file":  # how many more there are
            others.append(problem)
    if others or not found:
        raise InputError(source, others or error.problems)
    return found


def _first_of(row: Row, bad: dict[str, tuple[str, str]]) -> str:
    return next((cells["id"] for _, cells in row.rows if cells["id"] in bad), "")


def _refuse(row: Row, why: tuple[str, str]) -> Row:
    return replace(row, id=row.rows[0][1]["id"], end=End.REFUSED, rows=(), why=why[0], cure=why[1])


def _changes(shelves: dict[str, _Shelf], rows: Sequence[Row], source: str) -> Iterator[RowChange]:
    before = {
        part: (file, row) for file, shelf in shelves.items() for part, row in shelf.rows.items() if row.get("source") == source
    }
    now = {cells["id"]: (file, cells) for row in rows for file, cells in row.rows}
    for name, (file, cells) in now.items():
        if name not in before:
            yield RowChange(what="new", id=name, name=cells["name"], file=file, now=_price(cells))
        else:
            change = _change(before[name], (file, cells), shelves[before[name][0]].commas)
            if change:
                yield change
    refused = {row.id for row in rows if row.end is End.REFUSED}
    for name, (file, cells) in before.items():
        if name not in now:
            why = "refused now" if name in refused else ""
            yield RowChange(what="gone", id=name, name=cells.get("name", ""), file=file, was=_price(cells), now=why)


def _price(cells: Cells) -> str:
    return f"{cells['price_per_m']} a metre" if cells.get("price_per_m") else cells.get("price", "")


def _change(old: tuple[str, Cells], new: tuple[str, Cells], commas: bool) -> RowChange | None:
    (file, was), (_, now) = old, new
    if commas:
        was = {column: _pointed(file, column, cell) for column, cell in was.items()}
    about = {"id": now["id"], "name": now["name"], "file": new[0]}
    facts = [column for column in dict.fromkeys((*was, *now)) if was.get(column, "") != now.get(column, "")]
    if file != new[0] or any(column not in SHOP_FIELDS for column in facts):
        columns = [column for column in facts if column not in SHOP_FIELDS] or ["file"]
        return RowChange(what="changed", **about, was=_said(was, columns), now=_said(now, columns))
    for column in ("price", "price_per_m"):
        if column in facts and was.get(column) and now.get(column):
            dearer = parse_money(now[column]) > parse_money(was[column])
            return RowChange(what="dearer" if dearer else "cheaper", **about, was=_price(was), now=_price(now))
    if "stock" in facts and "0" in (was.get("stock"), now.get("stock")):
        what = "out of stock" if now.get("stock") == "0" else "in stock again"
        return RowChange(what=what, **about, was=was.get("stock", ""), now=now.get("stock", ""))
    if facts:
        return RowChange(what="changed", **about, was=_said(was, facts), now=_said(now, facts))
    return None


def _said(cells: Cells, columns: Sequence[str]) -> str:
    return ", ".join(f"{column} {cells.get(column) or 'empty'}" for column in columns)
