"""Workbooks read back with another program's reader: numbers are numbers, text is text, the same bytes every time."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from openpyxl import load_workbook

from optimizer.cli import main
from optimizer.model.fronts import Front, FrontPoint, Knee
from optimizer.model.results import BillLine, Change
from optimizer.report.sheet_xlsx import bill_xlsx, front_xlsx, sheet_xlsx

ROOT = Path(__file__).parents[2]
SPREADSHEET = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"

# first characters that the OWASP page "CSV Injection" names, wide forms of them, and links that spreadsheets run
HOSTILE = (
    "=1+1",
    "+1",
    "-1",
    "@SUM(A1)",
    " =1",
    "\uff1d1",
    "-cmd|' /C calc'!A0",
    "\t=1\r\n\x1b[2J",
    '=HYPERLINK("http://x")',
    "\udcff",
)


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


def _rows(content: bytes) -> list[tuple[object, ...]]:
    return [tuple(row) for row in load_workbook(io.BytesIO(content)).active.iter_rows(values_only=True)]


def _sheet(content: bytes) -> ElementTree.Element:
    """The XML of the sheet itself, whatever a reader makes of it."""
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        return ElementTree.fromstring(packed.read("xl/worksheets/sheet1.xml"))


def test_a_bill_is_numbers_and_text_with_its_total() -> None:
    content = bill_xlsx([_line(), _line(product_id="C", count=12, cuts_m=(), owned=True, price=0, places=())], "EUR")
    assert _rows(content) == [
        ("product", "name", "quantity", "price in EUR", "owned", "serves"),
        ("HOSE-19-27", 'hose 19/27 mm, "soft"', "1.80 m + 2.20 m", 26.05, "no", "suction_hose; return_hose"),
        ("C", 'hose 19/27 mm, "soft"', 12, 0, "yes", None),
        ("total", None, None, 26.05, None, None),
    ]
    sheet = load_workbook(io.BytesIO(content)).active
    assert sheet.freeze_panes == "A2" and sheet["A1"].font.bold
    assert sheet["D2"].number_format == "0.00" and sheet["D2"].data_type == "n"
    assert sheet.column_dimensions["F"].width >= len("suction_hose; return_hose")


def test_a_front_is_a_table_of_numbers() -> None:
    change = Change(position="pump", change="swap", part_id="=P", text="pump")
    point = FrontPoint(
        price=1250, flow_m3s=500.04 / 3.6e6, turnover_per_hour=3.216, noise_dba=31.04, power_w=6.0, gained_m3s=0.0, proved=True,
        changes=(change,),
    )  # fmt: skip
    front = _front((point,), Knee(point=0, before_m3s=1e-9, after_m3s=1e-9))
    assert _rows(front_xlsx(front))[1:] == [(12.5, 500, 3.22, 31, 6, "yes", "yes", "pump swap =P")]


def _front(points: tuple[FrontPoint, ...], knee: Knee) -> Front:
    """A front of which the table needs no more than these."""
    front = object.__new__(Front)
    for name, value in {"points": points, "knee": knee, "currency": "EUR"}.items():
        object.__setattr__(front, name, value)
    return front


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_inert(text: str) -> None:
    content = bill_xlsx([_line(product_id=text, name=text, places=(text,))], text)
    sheet = _sheet(content)
    assert not list(sheet.iter(f"{SPREADSHEET}f")) and not list(sheet.iter(f"{SPREADSHEET}hyperlink"))
    row = list(sheet.iter(f"{SPREADSHEET}row"))[1]
    kinds = [cell.get("t") for cell in row]
    assert [kinds[place] for place in (0, 1, 2, 5)] in ([["s"] * 4, ["inlineStr"] * 4]), "a text cell has no other kind"
    shown = _rows(content)[1][1]
    assert isinstance(shown, str) and shown.isprintable()
    if text.isprintable():
        assert shown == text
        assert load_workbook(io.BytesIO(content)).active["B2"].quotePrefix, "editing must not make a formula of it"


BILL_LINE = st.builds(_line, name=st.text(), product_id=st.text(), count=st.integers(0, 10**9), price=st.integers(0, 10**11))


@settings(max_examples=40, deadline=None)
@given(st.lists(BILL_LINE, max_size=4))
def test_any_text_keeps_the_shape_of_the_table(bill: list[BillLine]) -> None:
    content = bill_xlsx(bill, "EUR")
    rows = _rows(content)
    assert len(rows) == len(bill) + 2
    assert [row[3] for row in rows[1:-1]] == pytest.approx([line.price / 100 for line in bill])
    assert rows[-1][3] == pytest.approx(sum(line.price for line in bill) / 100)
    assert not list(_sheet(content).iter(f"{SPREADSHEET}f"))


def test_the_same_table_gives_the_same_bytes_and_no_time() -> None:
    content = sheet_xlsx("bill", ("name",), [("hose",)])
    assert content == sheet_xlsx("bill", ("name",), [("hose",)])
    with zipfile.ZipFile(io.BytesIO(content)) as packed:
        assert {info.date_time for info in packed.infolist()} == {(2000, 1, 1, 0, 0, 0)}
        assert set(re.findall(r"\d{4}-\d\d-\d\dT", packed.read("docProps/core.xml").decode())) == {"2000-01-01T"}


def test_the_command_writes_bill_and_front(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(ROOT)
    bill, table = tmp_path / "bill.xlsx", tmp_path / "front.xlsx"
    rig = "parts_demo/rigs/nano_60.toml"
    assert main(["best", rig, "--most", "--quiet", "--xlsx", str(bill), "--csv", str(tmp_path / "bill.csv")]) == 0
    assert main(["front", rig, "--quiet", "--budget", "10", "--xlsx", str(table)]) == 0
    rows = _rows(bill.read_bytes())
    with open(tmp_path / "bill.csv", encoding="utf-8-sig", newline="") as file:
        same = [(row["product"], row["name"], float(row["price"]), row["serves"]) for row in csv.DictReader(file)]
    assert [(row[0], row[1], row[3], row[5]) for row in rows[1:-1]] == same
    assert rows[-1][3] == pytest.approx(sum(price for _, _, price, _ in same))
    assert f"Spend {rows[-1][3]:.2f} EUR" in capsys.readouterr().out
    assert len(_rows(table.read_bytes())) > 2
    assert {file.name for file in tmp_path.iterdir()} == {"bill.xlsx", "bill.csv", "front.xlsx"}


@pytest.mark.parametrize(
    ("more", "told"),
    [
        (["--xlsx", "no_such_folder/bill.xlsx"], "--xlsx: the folder of no_such_folder/bill.xlsx is not there"),
        (["--xlsx", "same", "--csv", "same"], "--xlsx: is the same file as --csv"),
        (["--xlsx", "bill.xlsx", "--order"], "--order: does not go together with --xlsx"),
    ],
)
def test_what_cannot_be_written_is_said_before_the_search(
    more: list[str], told: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.chdir(tmp_path)
    folder = str(ROOT / "parts_demo/catalog")
    assert main(["best", str(ROOT / "parts_demo/rigs/nano_60.toml"), "--catalog", folder, *more]) == 1
    assert told in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
