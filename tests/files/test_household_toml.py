"""Household files: references and rigs written in, and every problem of every file in one list."""

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.household_toml import read_household

ROOT = Path(__file__).parents[2]
CATALOG = read_catalog(ROOT / "parts_demo/catalog")
RIG = (ROOT / "parts_demo/rigs/nano_60.toml").read_text(encoding="utf-8")


def written(folder: Path, text: str) -> Path:
    (folder / "nano.toml").write_text(RIG, encoding="utf-8")
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_rig_named_and_a_rig_written_in_are_the_same(tmp_path: Path) -> None:
    inside = RIG.replace("[[", "[[tank.rig.").replace("\n[", "\n[tank.rig.").replace("[tank.rig.[tank.rig.", "[[tank.rig.")
    head, rest = inside.split("\n[tank.rig.tank]", 1)
    text = '[[tank]]\nrig = "nano.toml"\nname = "one"\nflow = "300 l/h"\n[[tank]]\nname = "two"\nflow = "300 l/h"\n[tank.rig]\n'
    house = read_household(written(tmp_path, f"{text}{head}\n[tank.rig.tank]{rest}"), CATALOG)
    one, two = house.tanks
    assert one.rig == two.rig
    assert one.target_m3s == pytest.approx(0.3 / 3600.0)
    assert house.budget is None


def test_distance_target_and_room_are_those_of_the_household(tmp_path: Path) -> None:
    text = """
budget = "12.50"
power = "40 W"
[[room]]
name = "hall"
noise = "33 dB(A)"
[[tank]]
rig = "nano.toml"
room = "hall"
listening_distance = "2 m"
turnover = "4 per hour"
"""
    house = read_household(written(tmp_path, text), CATALOG)
    (tank,) = house.tanks
    # 16 US gallons of 3.785411784 l (NIST Handbook 44), 85 % of them water, four times per hour
    assert tank.target_m3s == pytest.approx(16 * 3.785411784e-3 * 0.85 * 4 / 3600)
    assert (tank.rig.listen_m, house.rooms[0].noise_dba, house.budget, house.power_w) == (2.0, 33.0, 1250, 40.0)


def test_all_problems_of_all_files_are_one_list(tmp_path: Path) -> None:
    (tmp_path / "bad.toml").write_text(RIG.replace('"16 gal"', '"16"'), encoding="utf-8")
    text = """
budgt = "10"
[[tank]]
rig = "bad.toml"
[[tank]]
rig = "nano.toml"
room = "attic"
[[tank]]
rig = "nano.toml"
flow = "5000 l/h"
[[tank]]
flow = "5 l/h"
[[tank]]
rig = "missing.toml"
"""
    with pytest.raises(InputError) as caught:
        read_household(written(tmp_path, text), CATALOG)
    said = str(caught.value)
    for words in ("budgt", "bad.toml", "has no unit", "no room is called", "its limits allow", "there is no rig", "missing.toml"):
        assert words in said


@pytest.mark.parametrize(
    "text", ["tank = 3", "[[tank]]\nrig = 5", "room = 'x'\n[[tank]]\nrig = ''", "", "[[tank]]\nrig = '\\u0000'"]
)
def test_nonsense_is_bad_input(tmp_path: Path, text: str) -> None:
    with pytest.raises(InputError):
        read_household(written(tmp_path, text), CATALOG)


def test_the_household_has_a_drawer_of_its_own(tmp_path: Path) -> None:
    """Spares of the household, in words or as tables, are no tank's; what is wrong with one is listed with the rest."""
    tanks = '[[tank]]\nrig = "a.toml"\nflow = "300 l/h"\n'
    (tmp_path / "a.toml").write_text(RIG, encoding="utf-8")
    (tmp_path / "house.toml").write_text(f'spares = ["2 m hose 12/16", "4 x CLAMP-12-20"]\n{tanks}', encoding="utf-8")
    found = read_household(tmp_path / "house.toml", CATALOG)
    assert [(spare.amount_m, spare.count) for spare in found.spares] == [(2.0, 1), (0.0, 4)]
    assert found.tanks[0].rig.spares == ()
    (tmp_path / "house.toml").write_text(f'spares = ["spray bar 16 mm"]\nbudget = "x"\n{tanks}', encoding="utf-8")
    with pytest.raises(InputError, match=r"(?s)budget.*spares\[1\]: .* may be 2 parts of the catalog"):
        read_household(tmp_path / "house.toml", CATALOG)
