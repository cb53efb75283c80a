"""Figures that cannot be are refused with a way out, or noted where they may be meant."""

import math
import shutil
from pathlib import Path

import pytest

from optimizer.errors import BadValue, InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.part_kinds import FILES, KITS, by_column
from optimizer.files.rig_toml import read_rig
from optimizer.files.shop_toml import read_shop
from optimizer.unit_table import COUNT, Dimension

SMALL = Path(__file__).parents[1] / "data" / "small"
HALL = (SMALL / "hall_tank.toml").read_text(encoding="utf-8")
SHOP = read_catalog(SMALL / "catalog")


def notes_or_problems(folder: Path, old: str, new: str) -> tuple[list[str], tuple[str, ...]]:
    assert old in HALL
    path = folder / "rig.toml"
    path.write_text(HALL.replace(old, new), encoding="utf-8")
    try:
        return [], read_rig(path, SHOP).notes
    except InputError as error:
        return [f"{problem.place}: {problem.what} {problem.cure}" for problem in error.problems], ()


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('volume = "450 l"\nnet_volume = "400 l"', 'volume = "1 ml"', 'tank.volume: "1 ml" is too small: at least 0.5 l.'),
        ('size = "16/22 mm"', 'size = "0.016/0.022 mm"', 'loop.suction_hose.size: "0.016/0.022 mm" is too small: at least 1 mm.'),
        ('tray_area = "300 cm2"', 'tray_area = "300 mm2"\nname = "x"', ""),
        ('length = "1.8 m"', 'length = "1.8 mm"', 'loop.suction_hose.length: "1.8 mm" is too small: at least 5 mm.'),
        ('power = "16 W"', 'power = "16 mW"', ""),
        (
            '"600 l/h: 1.3 m", "1200 l/h: 0 m"',
            '"600 l/h: 1.3 m", "900 m3/h: 0 m"',
            "900000 l/h at 0 m is no point of an aquarium pump",
        ),
        ('hole = "4.5 mm"', 'hole = "4.5 cm"', "loop.spray_bar.adjust[1].hole: a hole of 45 mm is wider than the bar (13 mm)."),
        (
            'depth = "0.9 m"',
            'depth = "9 m"',
            "loop.pump.depth: 9 m is 7.8 m below the canister (1.2 m), and no hose is between them.",
        ),
    ],
)
def test_what_cannot_be_in_a_rig_is_refused(old: str, new: str, told: str, tmp_path: Path) -> None:
    problems, _ = notes_or_problems(tmp_path, old, new)
    assert problems
    assert told in problems[0]


@pytest.mark.parametrize(
    ("old", "new", "note"),
    [
        (
            'above_water = "3 cm"',
            'below_water = "2 m"',
            "loop.spray_bar.below_water: 2 m is deeper than the canister stands (1.2 m)",
        ),
        ('depth = "0.9 m"', 'depth = "1.5 m"', "loop.pump.depth: 1.5 m is 0.3 m below the canister (1.2 m)"),
    ],
)
def test_what_is_hardly_meant_is_noted(old: str, new: str, note: str, tmp_path: Path) -> None:
    problems, notes = notes_or_problems(tmp_path, old, new)
    assert not problems
    assert any(each.startswith(note) for each in notes)


def test_a_hose_lets_a_pump_stand_anywhere(tmp_path: Path) -> None:
    """An external pump on the floor below the canister is no mistake."""
    hose = '[loop.link]\nkind = "hose"\nsize = "16/22 mm"\nlength = "1 m"\n\n[loop.pump]'
    problems, notes = notes_or_problems(tmp_path, "[loop.pump]", hose)
    assert not problems
    assert not any("meant" in note for note in notes)


@pytest.mark.parametrize(
    ("file", "column", "cell", "what", "cure"),
    [
        ("hoses.csv", "inside_mm", "0.009", '"0.009" is too small: at least 1.', 'if these are metres, write "9".'),
        ("outlets.csv", "bar_bore_mm", "1e-6", '"1e-6" is too small: at least 1.', 'Write for example "13".'),
        ("outlets.csv", "hole_mm", "14", "a hole of 14 mm is wider than the bar (13 mm).", "Measure a hole"),
        ("outlets.csv", "discharge", "1e-300", '"1e-300" is too small: at least 0.05.', 'Write for example "0.62".'),
        ("pumps.csv", "power_w", "0.0001", '"0.0001" is too small: at least 0.05.', 'Write for example "20".'),
    ],
)
def test_what_cannot_be_in_a_catalog_is_refused(file: str, column: str, cell: str, what: str, cure: str, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    shutil.copytree(SMALL / "catalog", folder)
    lines = (folder / file).read_text(encoding="utf-8").splitlines()
    cells = lines[1].split(",")
    cells[lines[0].split(",").index(column)] = cell
    (folder / file).write_text("\n".join([lines[0], ",".join(cells), *lines[2:]]) + "\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_catalog(folder)
    (problem,) = caught.value.problems
    assert problem.where == f"{file} line 2, {column}"
    assert problem.what == what
    assert cure in problem.cure


@pytest.mark.parametrize("file", [*FILES, KITS])
def test_nothing_is_counted_below_zero(file: str, tmp_path: Path) -> None:
    """A negative stock ended in an error of the program; wherever pieces are counted none can be fewer than none."""
    for field in by_column(file).values():
        if field.holds is COUNT:
            assert field.low >= 0.0, field.name
    folder = tmp_path / "shop"
    shutil.copytree(SMALL / "catalog", folder)
    if file == "tools.csv":  # few shops list any
        (folder / file).write_text("id,name,price,makes_possible\nBRUSH,hose brush,9,clean_hose\n", encoding="utf-8")
    lines = (folder / file).read_text(encoding="utf-8").splitlines()
    header = lines[0].split(",")
    if "stock" not in header:
        lines = [f"{lines[0]},stock", *(f"{line}," for line in lines[1:])]
        header.append("stock")
    cells = lines[1].split(",")
    cells[header.index("stock")] = "-3"
    (folder / file).write_text("\n".join([lines[0], ",".join(cells), *lines[2:]]) + "\n", encoding="utf-8")
    with pytest.raises(InputError, match='line 2, stock: "-3" is negative'):
        read_catalog(folder)


def test_a_band_names_its_canisters(tmp_path: Path) -> None:
    """An empty name was looked up as if it stood for no change."""
    (tmp_path / "hall.toml").write_text(HALL, encoding="utf-8")
    shop = tmp_path / "shop.toml"
    band = '[canisters.a]\nrig = "hall.toml"\n[[band]]\nname = "a"\nweight = 2\ncanisters = [""]\n'
    shop.write_text(f'shelf_prices = ["40"]\n{band}', encoding="utf-8")
    with pytest.raises(InputError, match=r'band\[1\].canisters: "" is not described in this file.'):
        read_shop(shop, SHOP)


def test_what_a_field_takes_at_a_glance_its_check_takes_too() -> None:
    """Of every number of a catalog: between the two values that spare a column the check of each cell the check finds nothing,
    and of what is nearest outside it refuses all that lies beyond its slack."""
    fields = [field for file in (*FILES, KITS) for field in by_column(file).values() if isinstance(field.holds, Dimension)]
    for field in fields:
        least, most = field.surely
        inside = (least, math.nextafter(least, most), 0.3 * least + 0.7 * most, math.nextafter(most, least), most)
        assert all(field.check(value, "it", cell=True) == value for value in inside), field.name
        for outside in (-1.0, 0.0, math.inf, math.nan, 2.0 * most, -2.0 * abs(least) - 1.0):
            if not least <= outside <= most:
                with pytest.raises(BadValue):
                    field.check(outside, "it", cell=True)
