"""The sheets of shops in tests/data/sheets, which were written before any reader, against what a person says of each row.

What a person says stands in tests/sheets/expected, written from the sheets row by row: a part in short, `.` for a title, a sum or
note, `-` for what has no place in a loop, `?` for what must be asked or refused, with a word of the reason. Of the two longest
sheets a part of the rows is written out.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import openpyxl
import pytest

from optimizer.errors import InputError
from optimizer.sheets.importing import answered
from optimizer.sheets.proposal import headed, proposed, rows_of
from optimizer.sheets.rows import End, Row
from optimizer.sheets.tables import read_sheets

SHEETS = Path(__file__).parents[1] / "data" / "sheets"
EXPECTED = Path(__file__).parent / "expected"
NAMES = sorted(each.name.removesuffix(".txt") for each in EXPECTED.glob("*.txt"))

REASONS = {
    "two parts": "in one", "slipped": "power",
}  # fmt: skip
"""A word of the reason as a person has it, and the word of the program; others are numbers, and stand in both."""

ANSWERS = {"old_register.txt": {"price": "Price €"}}


@cache
def read(name: str, **answers: str) -> list[Row]:
    """The rows of a sheet as it is read at first."""
    sheets = read_sheets(SHEETS / name)
    by = answered(proposed(SHEETS / name, sheets), {**ANSWERS.get(name, {}), **answers})
    return rows_of(headed(sheets, by)[0], by)


def expected(name: str) -> Iterator[tuple[tuple[str, int], str]]:
    """What a person says: sheet and line, and the part in short."""
    sheet = ""
    lines = (EXPECTED / f"{name}.txt").read_text().splitlines()
    for line in lines:
        if line.startswith("["):
            sheet = line.strip("[]")
        else:
            number, _, said = line.partition(" ")
            yield (sheet, int(number)), said


def end_in_short(text: str) -> str:
    words = text.replace("slip in ", "slipin").replace("slip mm ", "slipmm").replace("tail ", "").replace(" mm", "")
    return words.replace(" in ", " ").replace(" female", "f").replace(" male", "m").replace(" ", "")


def in_short(file: str, cells: dict[str, str]) -> str:
    """A row of a catalog as a person says it; every figure it states is in there."""
    left = dict(cells)
    kind = file.removesuffix(".csv").rstrip("s")
    words = [
        {"couplings.csv": left.pop("role", ""), "media.csv": left.pop("form", "") if file == "media.csv" else ""}.get(file)
        or kind
    ]
    take = left.pop
    for key in ("id", "name", "source"):
        take(key)
    if file == "hoses.csv":
        words.append(f"{take('inside_mm')}/{take('outside_mm', '-')}")
        words += ["ribbed"] if take("ribbed", "") == "yes" else []
        words += [take("material")] if "material" in left else []
        words += [f"coil {take('coil_m')}"] if "coil_m" in left else []
        words += [f"step {take('step_cm')}"] if "step_cm" in left else []
    if file in ("tails.csv", "adapters.csv", "couplings.csv"):
        shape = take("shape")
        usual = {"tail": "straight", "adapter": "straight", "elbow": "elbow 90", "valve": "ball valve", "coupling": "ball valve"}
        words += [] if shape == usual[words[0]] else [{"elbow 90": "bent", "swept 90": "swept", "gate valve": "gate"}[shape]]
        assert take("throttles", "") == ("yes" if words[0] in ("valve", "coupling") else "")
    if "side" in left:
        words.append("+".join(end_in_short(take(side)) for side in ("inlet", "outlet", "side")))
        words += [f"@{take('angle_deg')}"] if "angle_deg" in left else []
    if file == "clamps.csv":
        words.append(f"{take('low_mm')}-{take('high_mm')}")
    if file == "seals.csv":
        words = [take("closure"), *([take("standard") + take("size_in")] if "standard" in left else [])]
    if file == "media.csv":
        words += [f"{take('pores_ppi')}ppi"] if "pores_ppi" in left else []
        words += ["8-16"] if "8-16" in cells["name"] or "8/16" in cells["name"] else []
        words += [f"{take('volume_l')}l"]
        take("mechanical"), take("biological")
    if file == "pumps.csv":
        words += [take("max_flow_l_h"), f"{take('max_head_m')}m", f"{take('power_w')}W"]
        words += [f"{take('noise_dba')}dB"] if "noise_dba" in left else []
    if file in ("guards.csv", "outlets.csv", "valves.csv", "devices.csv"):
        words = [*(words if file == "guards.csv" else []), take("form", "") or take("purpose")]
        words += [f"{take('pores_ppi')}ppi"] if "pores_ppi" in left else []
        words += [take("opening_mm")] if "opening_mm" in left else []
        words += [f"face{take('face_area_cm2')}"] if "face_area_cm2" in left else []
        words += [f"wall{take('thickness_mm')}"] if "thickness_mm" in left else []
    ends = [end_in_short(take(side)) for side in ("inlet", "outlet") if side in left]
    if ends:
        words.append("+".join(ends) if file in ("tails.csv", "adapters.csv", "couplings.csv") else ends[0])
    cost = [f"c{take('cost')}"] if "cost" in left else []
    bores = {take(f"{side}_bore_mm") for side in ("inlet", "outlet") if f"{side}_bore_mm" in left}
    words += [f"bore {bores.pop()}"] if bores else []
    words += [f"{take('holes')} holes"] if "holes" in left else []
    words += [take("hole_mm")] if "hole_mm" in left else []
    words += [f"x{take('pack')}"] if "pack" in left else []
    words.append(f"= {take('price_per_m')}/m" if "price_per_m" in left else f"= {take('price')}")
    words += [f"s{take('stock')}"] if "stock" in left else []
    words += cost
    assert not left, f"{cells} states more: {left}"
    return " ".join(words)


def said_of(row: Row) -> str:
    """What the program makes of a row, as a person would say it."""
    if row.end is End.UNDERSTOOD:
        return " & ".join(in_short(file, cells) for file, cells in row.rows)
    return {End.NO_PART: ".", End.NO_PLACE: "-", End.REFUSED: f"? {row.why}"}[row.end]


def agrees(person: str, program: str) -> bool:
    """Whether both mean the same; a refusal must be for the reason that the person has."""
    if person.startswith("? "):
        return program.startswith("? ") and REASONS.get(person[2:], person[2:]) in program
    return person == program


@pytest.mark.parametrize("name", NAMES)
def test_every_row_is_what_a_person_says_it_is(name: str) -> None:
    """Kind, ends, sizes, price, pack and stock of every row, or the reason why it cannot be taken."""
    said = {(row.sheet, row.line): said_of(row) for row in read(name)}
    by_line = {(sheet if name.startswith("several") else "", line): each for (sheet, line), each in said.items()}
    wrong = [
        f"{place}: {person!r}, not {by_line.get(place)!r}"
        for place, person in expected(name)
        if not agrees(person, by_line.get(place, ""))
    ]
    assert not wrong, "\n".join(wrong)


def test_hundreds_of_rows_are_understood_and_none_of_another_kind() -> None:
    """Precision and recall over all sheets: what a person understands is understood, and nothing else."""
    understood = right = wanted = 0
    for name in NAMES:
        said = {(row.sheet if name.startswith("several") else "", row.line): said_of(row) for row in read(name)}
        for place, person in expected(name):
            part = person[0] not in ".-?"
            program = said[place]
            wanted += part
            understood += program[0] not in ".-?"
            right += part and agrees(person, program)
    assert wanted > 330
    assert (right / understood, right / wanted) == (1.0, 1.0)


def test_a_long_list_is_told_apart_by_its_words_alone() -> None:
    """Of 3 000 rows those of technic are parts of a loop or refused with a reason, and no other is: the group is not read."""
    with open(SHEETS / "long_list.csv", encoding="utf-8") as file:
        technic = {line for line, row in enumerate(csv.DictReader(file), start=2) if row["group"] == "technic"}
    rows = read("long_list.csv", pump="tail 16 mm")
    assert {row.line for row in rows if row.end is End.UNDERSTOOD} <= technic
    assert {row.line for row in rows if row.end is End.NO_PLACE} == {row.line for row in rows if row.line > 1} - technic
    refused = [row for row in rows if row.end is End.REFUSED]
    assert all("taper" in row.why or "slipped" in row.cure for row in refused)
    assert len(technic) - len(refused) > 780


def test_which_of_two_prices_counts_is_asked(tmp_path: Path) -> None:
    """Two columns are called price: nothing is written before somebody says which."""
    from optimizer.sheets.importing import import_stock

    answer = import_stock(SHEETS / "old_register.txt", tmp_path / "shop", write=True)
    assert not answer.written
    assert "Price € (2)" in answer.blocked
    assert not (tmp_path / "shop").exists()
    with pytest.raises(InputError, match="no column is headed"):
        import_stock(SHEETS / "old_register.txt", tmp_path / "shop", answers={"price": "Prize"})


WEB_SHOP = {
    "Filter hose clear": "hoses.csv", "Filter hose green": "hoses.csv", "Filter hose clear, pack": "hoses.csv",
    "Hose nozzle straight": "tails.csv", "Hose nozzle angled": "tails.csv", "Hose nozzle wide bore": "tails.csv",
    "Hose connector": "adapters.csv", "Hose elbow": "couplings.csv", "Tap for hose": "couplings.csv",
    "Double tap coupling": "couplings.csv", "Hose tee": "tees.csv", "Hose clamp steel": "clamps.csv",
    "Hose clamp steel, 10 pieces": "clamps.csv", "Flat washer": "seals.csv", "Flat washer, 10 pieces": "seals.csv",
    "Intake strainer": "guards.csv", "Intake strainer steel": "guards.csv", "Pre-filter sponge": "guards.csv",
    "Spray bar": "outlets.csv", "Outlet bend": "outlets.csv", "Filter motor": "pumps.csv", "Filter foam": "media.csv",
    "Ceramic rings": "media.csv", "Sintered glass": "media.csv", "Lava 8/16": "media.csv",
    "Filter floss": "by weight", "Zeolite": "by weight", "Activated carbon": "by weight",
}  # fmt: skip
"""What a person says each product of the web shop is; all others have no place in a loop."""


def test_every_product_of_the_web_shop_goes_where_it_belongs() -> None:
    """All 200 rows: the file, the new price, packs of ten, and none in stock of what is sold out."""
    book = openpyxl.load_workbook(SHEETS / "web_shop_200.xlsx", read_only=True)
    sheet = book.worksheets[0]
    found = {row.line: row for row in read("web_shop_200.xlsx", pump="tail 16 mm")}
    for line, (product, _, price, _, _, delivery) in enumerate(sheet.iter_rows(min_row=2, values_only=True), start=2):
        row, file = found[line], WEB_SHOP.get(str(product), "-")
        if not file.endswith(".csv"):
            assert row.end is (End.REFUSED if file == "by weight" else End.NO_PLACE), row
            continue
        ((where, cells),) = row.rows
        assert where == file, row
        assert float(cells.get("price") or cells["price_per_m"]) == price
        assert cells.get("stock", "") == ("0" if delivery == "sold out" else "")
        assert cells.get("pack", "") == ("10" if "10 pieces" in str(product) else "")
    assert len(found) == 201
