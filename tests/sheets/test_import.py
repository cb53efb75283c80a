"""A sheet into a catalog: what changes is shown first, what is written is whole, what is broken leaves the catalog as it was."""

from __future__ import annotations

import io
import json
import shutil
import zipfile
from pathlib import Path
from random import Random

import openpyxl
import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.commands import importing
from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.model.stock_import import StockImport
from optimizer.sheets.importing import import_stock
from optimizer.sheets.mapping import map_path, read_map

SHEETS = Path(__file__).parents[1] / "data" / "sheets"
SHEET = """code,what,price,stock
H1,hose 16/22 per metre,3.10,40
T1,hose tail 16 mm x G 1/2 male,2.10,5
C1,clamp 16-27,1.00,50
P1,"pump 1200 l/h 1.8 m 17 W, 16 mm tail",60.00,2
"""


def snapshot(folder: Path) -> dict[str, bytes]:
    return {each.name: each.read_bytes() for each in sorted(folder.iterdir())} if folder.exists() else {}


def brought(folder: Path, text: str = SHEET, name: str = "list.csv", **answers: str) -> StockImport:
    """A sheet of this text, imported into the shop beside it."""
    (folder / name).write_text(text, encoding="utf-8")
    return import_stock(folder / name, folder / "shop", answers=answers, write=True)


def changes(answer: StockImport) -> dict[str, str]:
    return {each.id: each.what for each in answer.changes}


# -- next month's list -----------------------------------------------------------------------------------------------------


def test_next_months_list_says_what_changed(tmp_path: Path) -> None:
    """New, gone, dearer, cheaper, out of stock and changed are told apart, and the rest is counted."""
    first = brought(tmp_path)
    assert set(changes(first).values()) == {"new"}
    text = SHEET.replace("3.10", "3.40").replace("2.10,5", "2.10,0").replace("1.00", "0.90").replace("17 W", "18 W")
    second = brought(tmp_path, text + "W1,washer G 1/2,0.30,9\n")
    assert second.saved
    assert changes(second) == {"H1": "dearer", "T1": "out of stock", "C1": "cheaper", "P1": "changed", "W1": "new"}
    third = brought(tmp_path, "\n".join(text.splitlines()[:3]) + "\n")
    assert changes(third) == {"C1": "gone", "P1": "gone", "W1": "gone"}
    assert third.unchanged == 2
    assert set(read_catalog(tmp_path / "shop").parts) == {"H1", "T1"}


def test_a_figure_that_was_measured_since_stays(tmp_path: Path) -> None:
    """A bore written into the catalog outlives the next list, but not another part under the same code."""
    brought(tmp_path)
    tails = tmp_path / "shop" / "tails.csv"
    header, row = tails.read_text().splitlines()
    tails.write_text(f"{header},outlet_bore_mm\n{row},13.5\n")
    assert brought(tmp_path, SHEET.replace("2.10", "2.20")).changes[0].what == "dearer"
    assert read_catalog(tmp_path / "shop").parts["T1"].outlet.bore_m == pytest.approx(0.0135)  # type: ignore[union-attr]
    other = brought(tmp_path, SHEET.replace("16 mm x G 1/2", "19 mm x G 1/2"))
    assert changes(other)["T1"] == "changed"
    assert read_catalog(tmp_path / "shop").parts["T1"].outlet.bore_m != pytest.approx(0.0135)  # type: ignore[union-attr]


def test_a_row_that_is_refused_now_is_gone_and_that_is_said(tmp_path: Path) -> None:
    """A slip in a cell must not take a part out in silence."""
    brought(tmp_path)
    answer = brought(tmp_path, SHEET.replace("2.10", "on request").replace("C1,clamp 16-27,1.00,50\n", ""))
    assert {each.id: (each.what, each.now) for each in answer.changes} == {"T1": ("gone", "refused now"), "C1": ("gone", "")}


def test_a_mapping_that_says_nothing_new_stays_to_the_byte(tmp_path: Path) -> None:
    """Comments in it are somebody's."""
    brought(tmp_path)
    place = map_path(tmp_path / "list.csv")
    place.write_text("# ask Ann before you change this\n" + place.read_text())
    before = place.read_bytes()
    brought(tmp_path, SHEET.replace("3.10", "3.20"))
    assert place.read_bytes() == before


def test_a_folder_that_cannot_be_written_to_leaves_no_mapping(tmp_path: Path) -> None:
    """Nothing is kept of an import that was not."""
    (tmp_path / "shop").write_text("a file")
    with pytest.raises((OSError, InputError)):
        brought(tmp_path)
    assert not map_path(tmp_path / "list.csv").exists()


def test_a_column_that_nobody_confirmed_is_left_out(tmp_path: Path) -> None:
    """A heading that is not in the mapping is not read by its look, however much it looks like a price."""
    brought(tmp_path)
    rows = SHEET.splitlines()
    wider = "\n".join([f"{rows[0]},gross price", *(f"{row},99.00" for row in rows[1:])])
    answer = brought(tmp_path, wider)
    assert (changes(answer), answer.unchanged) == ({}, 4)
    assert {each.heading: each.field for each in answer.columns}["gross price"] == "leave out"


def test_a_list_without_the_columns_of_its_mapping_is_refused(tmp_path: Path) -> None:
    """Another layout is no next month's list."""
    brought(tmp_path)
    before = snapshot(tmp_path / "shop")
    with pytest.raises(InputError, match="as its mapping has it"):
        brought(tmp_path, "article;amount\nhose 16/22;3\n")
    assert snapshot(tmp_path / "shop") == before


def test_the_mapping_of_another_file_can_be_taken(tmp_path: Path) -> None:
    """A list that has its month in its name is the same source by the same mapping."""
    brought(tmp_path)
    (tmp_path / "april.csv").write_text(SHEET.replace("3.10", "3.20"))
    answer = import_stock(tmp_path / "april.csv", tmp_path / "shop", mapping=map_path(tmp_path / "list.csv"), write=True)
    assert changes(answer) == {"H1": "dearer"}


# -- rows of other origin --------------------------------------------------------------------------------------------------


def test_rows_of_other_origin_stay_as_they_are(tmp_path: Path) -> None:
    """A row by hand, in a file with semicolons and decimal commas, and one of another sheet."""
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "pumps.csv").write_text("id,name,price,power_w,noise_dba,inlet,outlet\n")
    (shop / "clamps.csv").write_text("name;id;price;low_mm;high_mm\nmine, by hand;MINE;1,25;11,5;20\n")
    brought(tmp_path, "code,what,price\nB1,clamp 20-32,1.10\n", "other.csv")
    brought(tmp_path)
    lines = (shop / "clamps.csv").read_text().splitlines()
    assert lines[0].startswith("name;id;price;low_mm;high_mm")
    assert lines[1].startswith("mine, by hand;MINE;1,25;11,5;20")
    assert sum(";1,10;" in line or ";1,00;" in line for line in lines) == 2
    catalog = read_catalog(shop)
    assert {"MINE", "B1", "C1"} <= set(catalog.parts)
    assert {product.id: product.price for product in catalog.products}["C1"] == 100


def test_a_code_that_another_row_has_is_refused(tmp_path: Path) -> None:
    """Two shops with one code, and one code twice in a sheet."""
    brought(tmp_path, "code,what,price\nC1,clamp 20-32,1.10\n", "other.csv")
    answer = brought(tmp_path, SHEET + "H1,hose 19/27 per metre,4.00,1\n")
    assert [row.why for row in answer.refused] == [
        '"C1" stands already in clamps.csv, from elsewhere.',
        '"H1" stands already in line 2.',
    ]


def test_a_kit_of_a_part_that_would_go_stops_it(tmp_path: Path) -> None:
    """The catalog would not be sound: nothing is written, and the kit is named."""
    brought(tmp_path)
    (tmp_path / "shop" / "kits.csv").write_text("id,name,price,contents\nK,kit,9.00,C1 x2\n")
    before = snapshot(tmp_path / "shop")
    with pytest.raises(InputError, match="C1"):
        brought(tmp_path, SHEET.replace("C1,clamp", "C2,clamp"))
    assert snapshot(tmp_path / "shop") == before


def test_currencies_are_never_mixed(tmp_path: Path) -> None:
    """A sheet in pounds does not go into a catalog in euros."""
    brought(tmp_path, SHEET.replace("price", "price €"))
    before = snapshot(tmp_path / "shop")
    with pytest.raises(InputError, match="in EUR, the sheet in GBP"):
        brought(tmp_path, "code,what,price\nC9,clamp 20-32,£1.10\n", "pounds.csv")
    assert snapshot(tmp_path / "shop") == before


# -- what the sheet does not say -------------------------------------------------------------------------------------------


def test_answers_words_and_rows_settle_what_is_not_said(tmp_path: Path) -> None:
    """A thread without a family, a word of the shop, and a row in other words; the next list knows them."""
    text = "code,what,price\nA,hose tail 16 mm x 3/4 male,2.00\nB,zapfen 16 x 1/2,2.00\nC,clamp,1.00\n"
    first = brought(tmp_path, text)
    assert (first.understood, [each.key for each in first.questions]) == (0, ["thread"])
    assert not first.written
    answers = {"thread": "G", "gender": "male", "word zapfen": "hose tail", "row C": "clamp 16-27"}
    second = brought(tmp_path, text, **answers)
    assert second.understood == 3
    by = read_map(map_path(tmp_path / "list.csv"))
    assert (by.answers, by.words, by.rows) == ({"thread": "G", "gender": "male"}, {"zapfen": "hose tail"}, {"C": "clamp 16-27"})
    third = brought(tmp_path, text)
    assert (third.unchanged, third.refused) == (3, ())


def test_a_heading_can_be_said_to_hold_anything(tmp_path: Path) -> None:
    """Every heading comes with cells below it; one that is taken for the wrong thing is corrected by one answer, even where its
    name has the sign of an answer in it, and the mapping keeps that."""
    sheet = tmp_path / "list.csv"
    sheet.write_text("code;what;size=d;price;notes\n1;Hose clear, per metre;16/22;3.10;old\n2;Washer;G 1/2;0.30;old\n")
    before = import_stock(sheet, tmp_path / "shop")
    examples = {each.heading: each.examples for each in before.columns}
    assert examples["what"] == ("Hose clear, per metre", "Washer") and examples["notes"] == ("old",)
    words = ["stock", "import", str(sheet), "--into", str(tmp_path / "shop"), "--yes", "--quiet"]
    main([*words, "--answer", "column size=d=size", "--answer", "column notes=leave out"])
    columns = read_map(map_path(sheet)).columns[""]
    assert columns["size=d"] == "size" and columns["notes"] == "leave out"
    with pytest.raises(InputError, match=r'"sizes" is no field. Near names: "size"'):
        import_stock(sheet, tmp_path / "shop", answers={"column notes": "sizes"})
    with pytest.raises(InputError, match='no column is headed "note"'):
        import_stock(sheet, tmp_path / "shop", answers={"column note": "size"})


def test_numbers_that_can_be_read_in_two_ways_are_refused_alike(tmp_path: Path) -> None:
    """1.000 and 1,000 of one file, each with both readings; the mapping may say which sign stands between thousands."""
    text = "no;part;price;stock\n1;clamp 16-27;1,10;1.000\n2;clamp 20-32;1,20;1,000\n3;clamp 25-40;1,30;5\n"
    first = brought(tmp_path, text)
    assert [(row.why, row.cure) for row in first.refused] == [
        ('"1.000" may be thousands or decimals: nothing in the file tells which.', 'Write "1000" or "1".'),
        ('"1,000" may be thousands or decimals: nothing in the file tells which.', 'Write "1000" or "1".'),
    ]
    map_path(tmp_path / "list.csv").unlink()
    second = brought(tmp_path, text, thousands=".")
    assert second.refused == ()
    assert {product.id: product.stock for product in read_catalog(tmp_path / "shop").products} == {"1": 1000, "2": 1, "3": 5}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "windows-1252"])
@pytest.mark.parametrize("sign", [",", ";", "\t", "|"])
def test_one_table_in_any_encoding_and_with_any_sign_is_one_catalog(tmp_path: Path, encoding: str, sign: str) -> None:
    """What keeps cells apart and how letters are written is no matter."""
    rows = [["code", "what", "price"], ["A", "hose tail 16 mm x G½ male", "2.10"], ["B", "hose 16/22 – per metre", "3.00"]]
    text = "\n".join(sign.join(row) for row in rows)
    (tmp_path / "list.txt").write_bytes(text.encode(encoding))
    answer = import_stock(tmp_path / "list.txt", tmp_path / "shop", write=True)
    assert (answer.understood, answer.refused) == (2, ())
    assert read_catalog(tmp_path / "shop").parts["A"].name == "hose tail 16 mm x G½ male"


# -- what is broken --------------------------------------------------------------------------------------------------------


def workbook(**cells: object) -> bytes:
    book = openpyxl.Workbook()
    assert book.active is not None
    for place, value in cells.items():
        book.active[place] = value
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def packed(**files: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as made:
        for name, content in files.items():
            made.writestr(name, content)
    return out.getvalue()


WHOLE = workbook(A1="part", B1="price", A2="clamp 16-27", B2=1.0)
REPEATED = """<office:document-content><table:table table:name="a"><table:table-row table:number-rows-repeated="100000">
<table:table-cell table:number-columns-repeated="1000" office:value-type="float" office:value="1"/></table:table-row>
</table:table></office:document-content>"""
BROKEN: dict[str, bytes] = {
    "empty": b"",
    "spaces": b" \n \n",
    "no_heading": b"clamp 16-27,1.00\nhose 16/22,3.00\n",
    "no_price": b"part,colour\nclamp 16-27,blue\n",
    "nothing_known": b"part,price\nfoo,1.00\nbar stool,2.00\n",
    "a_picture": b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00",
    "nul": b"part,price\nclamp\x00,1\n",
    "cut_workbook": WHOLE[: len(WHOLE) // 2],
    "a_zip": packed(**{"readme.txt": b"no workbook"}),
    "no_sheet": packed(**{"[Content_Types].xml": b"<Types/>", "xl/workbook.xml": b"<workbook/>"}),
    "far_off_cells": workbook(A1="part", B1="price", XFD1048576="x"),
    "a_row_without_end": packed(
        **{"mimetype": b"application/vnd.oasis.opendocument.spreadsheet", "content.xml": REPEATED.encode()}
    ),
    "an_old_workbook": b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 600,
}


def refusal(file: Path, folder: Path) -> str:
    """Why a sheet is not written ("": it is)."""
    try:
        answer = import_stock(file, folder, write=True)
    except InputError as error:
        return str(error) if all(problem.cure for problem in error.problems) else ""
    return "" if answer.written else answer.blocked


@pytest.mark.parametrize("seed", range(12))
def test_a_sheet_that_was_hit_at_random_is_read_or_refused(tmp_path: Path, seed: int) -> None:
    """Bytes lost, doubled or changed: the catalog is sound after it, or as it was."""
    random = Random(seed)
    name = random.choice(["totals_at_end.xlsx", "store_room.ods", "old_register.txt", "decimal_commas.csv"])
    data = bytearray((SHEETS / name).read_bytes())
    for _ in range(random.randint(1, 20)):
        place = random.randrange(len(data))
        data[place : place + random.choice([0, 1, 1, 5, 300])] = random.randbytes(random.choice([0, 1, 1, 4]))
    (tmp_path / name).write_bytes(bytes(data))
    brought(tmp_path)
    before = snapshot(tmp_path / "shop")
    if refusal(tmp_path / name, tmp_path / "shop"):
        assert snapshot(tmp_path / "shop") == before
    assert {"H1", "T1", "C1", "P1"} <= set(read_catalog(tmp_path / "shop").parts)


@pytest.mark.parametrize("name", BROKEN)
def test_every_broken_sheet_leaves_the_catalog_as_it_was(tmp_path: Path, name: str) -> None:
    """One list of what is wrong, or a sheet of which no row is understood; never half a catalog, never a traceback."""
    brought(tmp_path)
    before = snapshot(tmp_path / "shop")
    (tmp_path / name).write_bytes(BROKEN[name])
    said = refusal(tmp_path / name, tmp_path / "shop")
    assert said
    assert "Traceback" not in said
    assert snapshot(tmp_path / "shop") == before
    assert not map_path(tmp_path / name).exists()


BROKEN_MAPS = {
    "no_toml": "columns = ",
    "unknown_table": "[colums]\n",
    "unknown_field": '[columns.""]\n"what" = "colour"\n',
    "unknown_answer": '[answers]\n"colour" = "red"\n',
    "no_family": '[answers]\n"thread" = "BSW"\n',
    "no_end": '[answers]\n"pump" = "wide"\n',
    "no_sign": '[file]\ndecimal = "x"\n',
    "no_text": "[words]\nHSE = 3\n",
}


@pytest.mark.parametrize("name", BROKEN_MAPS)
def test_every_broken_mapping_leaves_the_catalog_as_it_was(tmp_path: Path, name: str) -> None:
    """A mapping that somebody edited is checked like any other file."""
    brought(tmp_path)
    before = snapshot(tmp_path / "shop")
    map_path(tmp_path / "list.csv").write_text(BROKEN_MAPS[name])
    with pytest.raises(InputError) as caught:
        brought(tmp_path)
    assert all(problem.cure for problem in caught.value.problems)
    assert snapshot(tmp_path / "shop") == before


def test_a_broken_catalog_is_not_added_to(tmp_path: Path) -> None:
    """Its problems come first."""
    brought(tmp_path)
    (tmp_path / "shop" / "clamps.csv").write_text("id,name\nX\n")
    before = snapshot(tmp_path / "shop")
    with pytest.raises(InputError, match=r"clamps\.csv"):
        brought(tmp_path)
    assert snapshot(tmp_path / "shop") == before


# -- at the command line ---------------------------------------------------------------------------------------------------


def test_nothing_is_written_before_it_is_confirmed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a terminal the sheet and its changes are shown, with the command that writes them and status 1."""
    monkeypatch.chdir(tmp_path)
    Path("my list.csv").write_text(SHEET)
    assert main(["stock", "import", "my list.csv", "--into", "shop"]) == 1
    shown = capsys.readouterr().out
    assert "fullbore stock import 'my list.csv' --into shop --yes" in shown
    assert snapshot(tmp_path / "shop") == {}
    assert not map_path(tmp_path / "my list.csv").exists()
    assert main(["stock", "import", "my list.csv", "--into", "shop", "--yes"]) == 0
    assert set(read_catalog(tmp_path / "shop").parts) == {"H1", "T1", "C1", "P1"}
    assert main(["stock", "import", "my list.csv", "--into", "shop", "--json"]) == 1
    told = json.loads(capsys.readouterr().out.partition("\n{")[2].join(["{", ""]))
    assert (told["status"], told["understood"], told["unchanged"], told["changes"]) == ("shown", 4, 4, [])


class Typist:
    """Stands for somebody at a terminal, who answers in order; what was asked is kept."""

    def __init__(self, *lines: str) -> None:
        self.lines = list(lines)
        self.asked: list[str] = []

    def ask(self, prompt: str) -> str | None:
        self.asked.append(prompt)
        return self.lines.pop(0) if self.lines else None

    def say(self, text: str) -> None:
        self.asked.append(text)


def typed(monkeypatch: pytest.MonkeyPatch, file: Path, folder: Path, *lines: str) -> Typist:
    typist = Typist(*lines)
    monkeypatch.setattr(importing, "Terminal", lambda: typist)
    importing.imported(str(file), str(folder), None, {}, yes=False, full=False, asks=True)
    return typist


def test_on_a_terminal_headings_questions_and_changes_are_confirmed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Enter takes the headings, one answer settles all threads, Enter writes."""
    (tmp_path / "list.csv").write_text(SHEET + "T2,hose tail 16 mm x 3/4 male,2.20,1\n")
    typist = typed(monkeypatch, tmp_path / "list.csv", tmp_path / "shop", "", "BSW", "g", "")
    assert [line for line in typist.asked if line.endswith(("[leave them out]: ", "] "))]
    assert "T2" in read_catalog(tmp_path / "shop").parts
    assert typist.lines == []


@pytest.mark.parametrize("lines", [("no",), ("", "G", "no"), (), ("",)])
def test_on_a_terminal_no_and_the_end_of_the_input_write_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, lines: tuple[str, ...]
) -> None:
    """Whoever says no, or leaves, has changed nothing."""
    (tmp_path / "list.csv").write_text(SHEET + "T2,hose tail 16 mm x 3/4 male,2.20,1\n")
    typed(monkeypatch, tmp_path / "list.csv", tmp_path / "shop", *lines)
    assert not (tmp_path / "shop").exists()
    assert not map_path(tmp_path / "list.csv").exists()


def test_on_a_terminal_the_column_that_counts_is_asked(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two prices: the answer says which, a wrong one is asked again."""
    shutil.copy(SHEETS / "old_register.txt", tmp_path)
    typist = typed(
        monkeypatch,
        tmp_path / "old_register.txt",
        tmp_path / "shop",
        "price=Prize",
        "price=Price € (2)",
        "",
        "metre",
        "tail 16 mm",
        "",
    )
    prices = {product.id: product.price for product in read_catalog(tmp_path / "shop").products}
    assert (prices["17"], prices["21"], prices["28"]) == (290, 200, 6400)
    assert any("no column is headed" in each for each in typist.asked)


SAID = (
    "My tank", "180 l", "fresh, 25 degC", "900 l/h", "", "", "16/22 mm, 1.5 m, 2 bends", "16/22 mm, 1.5 m, 2 bends", "no",
    "slots 3 mm", "bar 16 x 3 mm", "none", "6 weeks", "none", "none", "60", "", "", "",
)  # fmt: skip
"""What a keeper of a tank of 180 l answers to `new`; Enter takes what is usual."""


def described(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a keeper describe the tank, with the shop's catalog at hand."""
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(SAID) + "\n"))
    assert main(["new", "tank.toml", "--catalog", "shop"]) == 0


def test_a_keepers_way_from_a_workbook_to_a_proved_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A web shop's 200 rows and the questions of `new`: three entries and nineteen, and no file is edited by hand."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(SHEETS / "web_shop_200.xlsx", "shop.xlsx")
    entries = ["", "tail 16 mm", ""]  # the headings, the ports of the pumps, write it
    typist = typed(monkeypatch, Path("shop.xlsx"), Path("shop"), *entries)
    assert typist.lines == []
    assert len(read_catalog(Path("shop")).parts) == 153
    described(monkeypatch)
    capsys.readouterr()
    assert main(["best", "tank.toml", "--catalog", "shop", "--most", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["status"] == "proved"
    assert told["bill"]
    assert (len(entries), len(SAID)) == (3, 19)


SHOP = """name = "Corner shop"
kits = 1
alternatives = 1
least_gain = "1 %"
shelf_prices = ["30"]
[canisters]
"small" = {rig = "tank.toml"}
[[band]]
name = "180 l"
weight = 30
canisters = ["small"]
volumes = ["180 l"]
hoses = ["16/22 mm"]
"""


def test_kits_of_a_shop_come_from_its_own_list(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The counter's list as a catalog, and a kit of what it holds for the tanks that the shop knows."""
    monkeypatch.chdir(tmp_path)
    shutil.copy(SHEETS / "counter_list.csv", "counter.csv")
    answer = import_stock("counter.csv", "shop", answers={"pump": "tail 16 mm"}, write=True)
    assert (answer.understood, len(answer.refused)) == (34, 2)
    described(monkeypatch)
    Path("shop.toml").write_text(SHOP)
    capsys.readouterr()
    assert main(["kits", "shop.toml", "--catalog", "shop", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["kits"]


def test_the_python_interface_has_it() -> None:
    """`api.import_stock` is the same function."""
    assert api.import_stock is import_stock
