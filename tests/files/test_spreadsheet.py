"""Cells that a spreadsheet would run are made harmless; a bill appears whole or not at all.

Source of what is dangerous: OWASP, "CSV Injection" (= + - @, tab and carriage return at the start of a cell).
"""

import csv
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.files.spreadsheet import safe_cell, write_bill_csv


@pytest.mark.parametrize(
    "text",
    ["=1+1", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1", '"=1', "\u200b=1", "\ufeff=1",
     "\x00=1",
     "=cmd|' /C calc'!A0", "--1", "+", "-", "@", "\uff1dSUM(A1)", "\uff0b1", "\tplain", "  \rplain"],
)  # fmt: skip
def test_what_would_run_becomes_text(text: str) -> None:
    assert safe_cell(text).startswith("'")


@pytest.mark.parametrize("text", ["12.50", "-12.50", "+3", "-0,5", "1e-3", "0", "", "hose 16/22 mm", "G 3/4 in male", "x=1", "'"])
def test_numbers_and_plain_text_stay(text: str) -> None:
    assert safe_cell(text) == text


@pytest.mark.parametrize("text", ["-1 2", "-1+cmd", "+1-1", "-", "-.", "-1e", "\u0661=", "-\u0661"])
def test_what_only_looks_like_a_number(text: str) -> None:
    assert safe_cell(text) == text if text[0] not in "+-" else safe_cell(text) == f"'{text}"


@given(text=st.text(max_size=30))
def test_laws(text: str) -> None:
    cell = safe_cell(text)
    assert safe_cell(cell) == cell
    assert "\n" not in cell
    assert "\r" not in cell
    assert len(cell) <= len(text) + 1
    bare = cell.strip().lstrip('" ')
    assert not bare.startswith(("=", "@"))
    if bare.startswith(("+", "-")):
        float(bare.replace(",", "."))  # only a number may


@given(rows=st.lists(st.lists(st.text(max_size=12), min_size=2, max_size=2), max_size=4))
def test_a_bill_reads_back(rows: list[list[str]], tmp_path_factory: pytest.TempPathFactory) -> None:
    path = tmp_path_factory.mktemp("bill") / "bill.csv"
    write_bill_csv(rows, path)
    with path.open(encoding="utf-8-sig", newline="") as stream:
        found = list(csv.reader(stream))
    expected = [[safe_cell(cell) for cell in row] for row in rows]
    # what cannot be written as UTF-8 becomes a question mark
    assert found == [[cell.encode(errors="replace").decode() for cell in row] for row in expected]


def test_bytes_of_a_bill(tmp_path: Path) -> None:
    path = tmp_path / "bill.csv"
    write_bill_csv([["part", "price"], ['tail 3/4"', "4.50"], ["=HYPERLINK(1)", "-1.00"]], path)
    assert path.read_bytes() == b'\xef\xbb\xbfpart,price\r\n"tail 3/4""",4.50\r\n\'=HYPERLINK(1),-1.00\r\n'
    assert os.listdir(tmp_path) == ["bill.csv"]


def test_a_bill_that_fails_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "bill.csv"
    write_bill_csv([["old"]], path)
    before = path.read_bytes()

    def rows() -> Iterator[list[str]]:
        yield ["new"]
        raise RuntimeError("the power went")

    with pytest.raises(RuntimeError, match="the power went"):
        write_bill_csv(rows(), path)
    assert path.read_bytes() == before
    assert os.listdir(tmp_path) == ["bill.csv"]


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="No such file"):
        write_bill_csv([["part"]], tmp_path / "missing" / "bill.csv")
