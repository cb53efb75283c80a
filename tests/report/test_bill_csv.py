"""The bill is a table that can be read back and that no spreadsheet can mistake for formulas."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.model.results import BillLine
from optimizer.report.sheet_csv import BILL, STARTS_FORMULA, bill_csv


def _line(**changes: object) -> BillLine:
    plain: dict[str, object] = {
        "product_id": "HOSE-19-27",
        "name": 'hose 19/27 mm, "soft"',
        "count": 0,
        "cuts_m": (1.8, 2.2),
        "price": 2605,
        "owned": False,
        "places": ("suction_hose", "return_hose"),
    }
    return BillLine(**(plain | changes))  # type: ignore[arg-type]


def _read(text: str) -> list[list[str]]:
    return list(csv.reader(io.StringIO(text, newline=""), strict=True))


def test_every_line_of_the_bill_is_a_row() -> None:
    rows = _read(bill_csv([_line(), _line(product_id="owned C", owned=True, price=0, places=())], "EUR"))
    assert rows == [
        ["product", "name", "quantity", "price", "currency", "owned", "serves"],
        ["HOSE-19-27", 'hose 19/27 mm, "soft"', "1.80 m + 2.20 m", "26.05", "EUR", "no", "suction_hose; return_hose"],
        ["owned C", 'hose 19/27 mm, "soft"', "1.80 m + 2.20 m", "0.00", "EUR", "yes", ""],
    ]


def test_lines_end_as_rfc_4180_has_it() -> None:
    text = bill_csv([_line()], "")
    assert text.count("\r\n") == text.count("\n") == 2


# the first characters that the OWASP page "CSV Injection" names, a tab and a line end come out as escapes instead
@pytest.mark.parametrize("name", ["=1+1", "+1", "-1", "@SUM(A1)", " =1", "＝1", "-cmd|' /C calc'!A0"])
def test_text_that_would_run_gets_an_apostrophe(name: str) -> None:
    row = _read(bill_csv([_line(product_id=name, name=name, places=(name,))], name))[1]
    assert [row[place] for place in (0, 1, 4, 6)] == [f"'{name}"] * 4


def test_control_characters_come_out_as_escapes() -> None:
    assert _read(bill_csv([_line(name="\t=1\r\n\x1b[2J")], ""))[1][1] == r"\t=1\r\n\x1b[2J"


@given(
    st.lists(st.builds(_line, name=st.text(), product_id=st.text(), count=st.integers(0, 10**9), price=st.integers(0, 10**11)))
)
def test_any_text_keeps_the_shape_of_the_table(bill: list[BillLine]) -> None:
    rows = _read(bill_csv(bill, "EUR"))
    assert len(rows) == len(bill) + 1
    assert {len(row) for row in rows} == {len(BILL)}
    for line, row in zip(bill, rows[1:], strict=True):
        assert row[3] == f"{line.price // 100}.{line.price % 100:02d}"
        assert not any(cell.lstrip().startswith(STARTS_FORMULA) for cell in row)
        assert all(cell.isprintable() for cell in row)


def _opened(text: str) -> list[str]:
    """Every cell that a spreadsheet may see that goes by semicolons or by commas: with quotes taken away, and as they stand."""
    cells = []
    for separator in ";,":
        cells += [cell for row in csv.reader(io.StringIO(text, newline=""), delimiter=separator) for cell in row]
        cells += [cell.strip('" ') for line in text.splitlines() for cell in line.split(separator)]
    return cells


@pytest.mark.parametrize("name", ["hose;=1+1;", 'hose; "=1+1"', "a,@SUM(A1)", ";+1", 'x";=1+1;"', "; ＝1"])
def test_a_semicolon_begins_no_formula_where_it_separates_cells(name: str) -> None:
    """Spreadsheets of countries with decimal commas take the semicolon for the separator."""
    text = bill_csv([_line(product_id=name, name=name, places=(name, "=1"))], name)
    assert not [cell for cell in _opened(text) if cell.lstrip().startswith(STARTS_FORMULA)]


@given(st.lists(st.text("=-@＋;,\"' a"), min_size=3, max_size=3))
def test_no_text_begins_a_formula_in_either_reading(texts: list[str]) -> None:
    one, other, third = texts
    text = bill_csv([_line(product_id=one, name=other, places=(third, one))], other)
    assert not [cell for cell in _opened(text) if cell.lstrip().startswith(STARTS_FORMULA)]
    assert _read(text)[1][1].replace("'", "") == other.replace("'", "")
