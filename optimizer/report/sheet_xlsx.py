"""Bills and fronts as XLSX workbooks of one sheet: text that stays text, numbers that are numbers, the same bytes for the same
table."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from openpyxl import Workbook
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.xml.functions import tostring

from optimizer.errors import safe
from optimizer.model.fronts import Front
from optimizer.model.results import BillLine
from optimizer.report.sheet_csv import STARTS_FORMULA, Cell, bill_rows, front_rows

__all__ = ["bill_xlsx", "front_xlsx", "sheet_xlsx"]

LONGEST_TEXT = 32_767
"""Characters that a cell holds: limit of the format (from memory)."""

NARROWEST, WIDEST = 8, 60
MADE = datetime(2000, 1, 1)
"""Stands for the time of writing, which would make every file another one."""


def bill_xlsx(bill: Sequence[BillLine], currency: str) -> bytes:
    """Return the bill, one row for each thing to buy or to take from the drawer, and a last row with the total as a number.

    >>> line = BillLine(product_id="C", name="=clamp", count=2, price=120, owned=False, places=("a", "b"))
    >>> bill_xlsx([line], "EUR")[:2]
    b'PK'
    """
    by = any(line.supplier for line in bill)
    header = ("product", "name", "quantity", _price_in(currency), "owned", "serves", *(("supplier",) if by else ()))
    rows = [
        (*row[:4], *row[5:], *((line.supplier,) if by else ())) for row, line in zip(bill_rows(bill, currency), bill, strict=True)
    ]
    total = ("total", None, None, Decimal(sum(line.price for line in bill)).scaleb(-2), *(None for _ in header[4:]))
    return sheet_xlsx("bill", header, [*rows, total])


def front_xlsx(front: Front) -> bytes:
    """Return one row for each point, cheapest first; flows in l/h whatever the units of the text."""
    figures = ("flow in l/h", "turnover per hour", "noise in dB(A)", "power in W")
    header = (_price_in(front.currency), *figures, "knee", "proved", "changes")
    return sheet_xlsx("front", header, ((row[0], *row[2:]) for row in front_rows(front)))


def _price_in(currency: str) -> str:
    return f"price in {currency}" if currency else "price"


def sheet_xlsx(title: str, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """Return a workbook with one sheet: a header that stays in sight, then the rows.

    Text is always a text cell, whatever it begins with, and is marked to stay text when somebody edits it (the spreadsheet's own
    apostrophe; OWASP, page "CSV Injection"); what does not print is written as an escape. A Decimal shows its own decimals.

    >>> sheet_xlsx("bill", ("name", "price"), [("=1+1", Decimal("4.50"))])[:2]
    b'PK'
    """
    book = Workbook()
    sheet = book.active
    sheet.title = title
    table = [tuple(header), *rows]
    for number, row in enumerate(table, start=1):
        for column, value in enumerate(row, start=1):
            _fill(sheet.cell(row=number, column=column), value)
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    sheet.freeze_panes = "A2"
    for column in range(len(header)):
        longest = max(len(_shown(row[column])) for row in table if column < len(row))
        sheet.column_dimensions[get_column_letter(column + 1)].width = min(max(longest + 2, NARROWEST), WIDEST)
    return _same_bytes(book)


def _shown(value: Cell) -> str:
    return "" if value is None else safe(value)[:LONGEST_TEXT] if isinstance(value, str) else str(value)


def _fill(cell: Any, value: Cell) -> None:
    if value is None:
        return
    if not isinstance(value, str):
        cell.value = value
        if isinstance(value, Decimal):
            decimals = max(-int(value.as_tuple().exponent), 0)
            cell.number_format = f"0.{'0' * decimals}" if decimals else "0"
        return
    text = _shown(value)
    cell.value = text
    cell.data_type = "s"  # openpyxl takes what begins with = for a formula
    if text.lstrip().startswith(STARTS_FORMULA):
        cell.quotePrefix = True


def _same_bytes(book: Workbook) -> bytes:
    """Save the workbook, then pack it again without the times that packing and saving put into it."""
    saved = io.BytesIO()
    book.properties.creator = "fullbore"
    book.properties.created = MADE
    book.save(saved)
    book.properties.modified = MADE
    packed = io.BytesIO()
    with zipfile.ZipFile(saved) as old, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as new:
        for name in sorted(old.namelist()):
            content = tostring(book.properties.to_tree()) if name == "docProps/core.xml" else old.read(name)
            info = zipfile.ZipInfo(name, MADE.timetuple()[:6])
            info.compress_type = zipfile.ZIP_DEFLATED
            new.writestr(info, content)
    return packed.getvalue()
