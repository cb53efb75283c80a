"""Numbers that can be read in two ways, told by how the other numbers of their file are written."""

from pathlib import Path

import pytest

from optimizer.errors import BadValue, InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.curve_text import parse_curve_cell
from optimizer.files.household_toml import read_household
from optimizer.files.interview import Question, Slot, answered
from optimizer.files.rig_toml import read_rig
from optimizer.files.shop_toml import read_shop
from optimizer.model.catalog import Catalog
from optimizer.money import parse_money
from optimizer.unit_table import FLOW
from optimizer.units import parse

SMALL = Path(__file__).parents[1] / "data" / "small"
HALL = (SMALL / "hall_tank.toml").read_text(encoding="utf-8")
SHOP = read_catalog(SMALL / "catalog")


def refused(folder: Path, text: str) -> list[str]:
    """Problems with a rig file of this text."""
    path = folder / "rig.toml"
    path.write_text(text, encoding="utf-8")
    try:
        read_rig(path, SHOP)
    except InputError as error:
        return [f"{problem.place}: {problem.what} {problem.cure}" for problem in error.problems]
    return []


def shop_of(folder: Path, clamps: str) -> Catalog:
    (folder / "clamps.csv").write_text(clamps, encoding="utf-8")
    (folder / "pumps.csv").write_bytes((SMALL / "catalog" / "pumps.csv").read_bytes().partition(b"\n")[0])
    return read_catalog(folder)


def test_a_dot_with_three_digits_is_refused_among_decimal_commas(tmp_path: Path) -> None:
    """A keeper who writes 1,8 m and 1.000 l/h means a thousand litres; read as one, the answer would be about another tank."""
    text = HALL.replace('"1.8 m"', '"1,8 m"', 1).replace('"1800 l/h"', '"1.000 l/h"')
    told = 'limits.flow_max: "1.000 l/h" may be thousands or decimals: other numbers here have decimal commas.'
    assert refused(tmp_path, text) == [f'{told} Write "1000 l/h" or "1 l/h".']


def test_a_dot_is_a_decimal_point_where_there_are_no_decimal_commas(tmp_path: Path) -> None:
    text = HALL.replace('"1.8 m"', '"1.800 m"', 1)
    assert refused(tmp_path, text) == []


def test_a_comma_with_three_digits_is_refused_in_any_file(tmp_path: Path) -> None:
    assert 'Write "1800 l/h" or "1.8 l/h".' in refused(tmp_path, HALL.replace('"1800 l/h"', '"1,800 l/h"'))[0]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ('["0 l/h: 1.8 m", "600 l/h: 1.3 m"', '["0 l/h: 1.8 m", "1.100 l/h: 1.3 m"', "loop.pump.curve"),
        ('size = "16/22 mm"', 'size = "16.000/22 mm"', "loop.suction_hose.size"),
        ('surface = "420 m2/m3"', 'surface = "1.420 m2/m3"', "loop.canister.trays[2].surface"),
        ('turnover = "3 per hour"', 'turnover = "3.000 per hour"', "wish.turnover"),
        ('budget = "100"', "budget = 1.000", "limits.budget"),
        ('inlet = "tail 16 mm"', 'inlet = "tail 16.000 mm"', "loop.canister.inlet"),
        ('volume = "2 l"', 'volume = "2.125 l"', "spares[3].volume"),
    ],
)
def test_every_kind_of_value_is_looked_at(old: str, new: str, place: str, tmp_path: Path) -> None:
    """Bare numbers, lists, ends and pairs among them."""
    assert old in HALL
    told = refused(tmp_path, HALL.replace('"1.8 m"', '"1,8 m"', 1).replace(old, new, 1))
    assert [line.partition(":")[0] for line in told] == [place]


def test_text_is_no_number(tmp_path: Path) -> None:
    text = HALL.replace('"1.8 m"', '"1,8 m"', 1).replace('"Hall tank"', '"1.000 fish"')
    assert refused(tmp_path, text) == []


@pytest.mark.parametrize("number", ["1.024", "1,024"])
def test_a_table_with_decimal_commas_has_no_thousands_dots(number: str, tmp_path: Path) -> None:
    """What the cure says can be read: a fourth decimal tells that it is one."""
    rows = "id;name;price;low_mm;high_mm\nC;clamp;3,00;20,5;{}\n"
    with pytest.raises(InputError) as caught:
        shop_of(tmp_path, rows.format(number))
    told = f'"{number}" may be thousands or decimals: other numbers here have decimal commas.'
    assert [(problem.what, problem.cure) for problem in caught.value.problems] == [(told, 'Write "1024" or "1,0240".')]
    shop_of(tmp_path, rows.format("24,0240"))


def test_semicolons_without_a_decimal_point_are_of_a_spreadsheet_with_commas(tmp_path: Path) -> None:
    rows = "id;name;price;low_mm;high_mm\nC;clamp;3;{};24.125\n"
    with pytest.raises(InputError, match="thousands or decimals"):
        shop_of(tmp_path, rows.format("20"))
    assert shop_of(tmp_path, rows.format("20.5")).parts["C"].high_m == pytest.approx(0.024125)  # type: ignore[attr-defined]


def test_points_of_a_curve_have_no_thousands_commas() -> None:
    """It was read as a pump that gives one litre per hour."""
    with pytest.raises(BadValue, match='Write "1000" or "1"'):
        parse_curve_cell("0:2.2; 1,000:1.5; 2000:0")


@pytest.mark.parametrize("text", ["1.000", "12.500", "1,000"])
def test_money_with_three_digits_behind_its_sign_is_refused(text: str) -> None:
    """Nobody writes tenths of a cent; 1.000 was read as 1.00."""
    with pytest.raises(BadValue, match="thousands"):
        parse_money(text)


def test_households_and_shops_are_read_alike(tmp_path: Path) -> None:
    (tmp_path / "hall.toml").write_text(HALL, encoding="utf-8")
    house = tmp_path / "house.toml"
    house.write_text('budget = "12,5"\n[[tank]]\nrig = "hall.toml"\nflow = "1.000 l/h"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"tank\[1\].flow: \"1.000 l/h\" may be thousands"):
        read_household(house, SHOP)
    shop = tmp_path / "shop.toml"
    band = '[canisters.a]\nrig = "hall.toml"\n[[band]]\nname = "a"\nweight = "2,5"\ncanisters = ["a"]\nvolumes = ["1.000 l"]\n'
    shop.write_text(f'shelf_prices = ["40"]\n{band}', encoding="utf-8")
    with pytest.raises(InputError, match=r"band\[1\].volumes: \"1.000 l\" may be thousands"):
        read_shop(shop, SHOP)


def test_an_answer_to_a_question_is_asked_again_and_written_with_points() -> None:
    """The rig file that `new` writes must not hold both kinds of numbers, and 1.200 l/h is mostly not one litre."""
    reads = [Slot(key=key, example="1 l/h", reads=lambda text: parse(text, FLOW, maximum=1.0)) for key in ("a", "b")]
    question = Question(words="How much?", help="Say it.", slots=tuple(reads))
    with pytest.raises(BadValue, match=r"Write \"1200 l/h\" or \"1\.2 l/h\""):
        answered(question, "1,5 l/h, 1.200 l/h", {})
    found = answered(question, "1,5 l/h, 1200,25 l/h", {})
    assert [said.text for said in found.values()] == ["1.5 l/h", "1200.25 l/h"]
    # a thousand of these is more than the reader takes, so there is no doubt
    assert answered(question, "99.000 m3/h", {})["a"].text == "99.000 m3/h"
