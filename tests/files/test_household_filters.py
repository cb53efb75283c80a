"""Several filters on one tank in a household file, and every problem with them in one list."""

from pathlib import Path

import pytest

from optimizer.errors import InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.columns import column_reference
from optimizer.files.household_toml import read_household
from optimizer.model.household import waters

ROOT = Path(__file__).parents[2]
CATALOG = read_catalog(ROOT / "parts_demo/catalog")
OLD = (ROOT / "parts_demo/households/long_tank/old.toml").read_text(encoding="utf-8")
FILL = '\n[[fill]]\nvolume = "10 l"\nseconds = 60\n'
TANK = '[[tank]]\nname = "reef"\nflow = "900 l/h"\nlistening_distance = "3 m"\n'
LEFT = '[[tank.filter]]\nname = "left"\nrig = "left.toml"\n'
RIGHT = '[[tank.filter]]\nname = "right"\nrig = "left.toml"\ninstalled = false\nprice = "79"\nlistening_distance = "1.5 m"\n'


def written(folder: Path, text: str) -> Path:
    (folder / "left.toml").write_text(OLD, encoding="utf-8")
    path = folder / "house.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_filters_of_a_tank_share_its_water_and_its_target(tmp_path: Path) -> None:
    """The wish is that of the tank, the limits and distances are those of each; one of them is not there yet."""
    house = read_household(written(tmp_path, TANK + LEFT + RIGHT + '[[tank]]\nrig = "left.toml"\nflow = "300 l/h"\n'), CATALOG)
    assert waters(house.tanks) == ((0, 1), (2,))
    left, right, other = house.tanks
    assert [tank.name for tank in house.tanks] == ["reef, left", "reef, right", "old filter"]
    assert left.target_m3s == right.target_m3s == pytest.approx(0.9 / 3600.0)
    assert (left.price, right.price, other.price) == (None, 7900, None)
    assert (left.is_there, right.is_there) == (True, False)
    assert (left.rig.listen_m, right.rig.listen_m, other.rig.listen_m) == (3.0, 1.5, 2.0)


def test_turnover_is_over_the_net_volume_of_the_tank(tmp_path: Path) -> None:
    house = read_household(written(tmp_path, TANK.replace('flow = "900 l/h"', 'turnover = "6 per hour"') + LEFT), CATALOG)
    # 240 l, 85 % of them water
    assert house.tanks[0].target_m3s == pytest.approx(0.24 * 0.85 * 6 / 3600.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (TANK.replace('name = "reef"\n', "") + LEFT, ["tank[1].name: is missing", "called after it"]),
        (TANK.replace('flow = "900 l/h"\n', "") + LEFT, ["tank[1]: it is not said what is enough", "the sum of its filters"]),
        (
            TANK + 'rig = "left.toml"\nlog = "a.log"\n' + LEFT,
            ["tank[1].rig: stands beside filters", "tank[1].log: stands beside"],
        ),
        (TANK + 'turnover_max = "9 per hour"\n' + LEFT, ["tank[1].turnover_max: a greatest flow is not kept", "flow_max in the"]),
        (TANK + 'flow_max = "2000 l/h"\n' + LEFT, ["tank[1].flow_max: a greatest flow is not kept"]),
        (TANK + "filter = []\n", ["tank[1].filter: there is no filter", "[[tank.filter]]"]),
        (TANK + "filter = 3\n", ["tank[1].filter: this is not a list of tables"]),
        (TANK + LEFT * 5, ["tank[1].filter: there are more than 4 filters"]),
        (TANK + LEFT * 2, ['tank: 2 are called "reef, left"']),
        (TANK + LEFT + TANK + LEFT, ['tank: 2 are called "reef"']),
        (TANK + LEFT + RIGHT.replace('price = "79"\n', ""), ["tank[1].filter[2].price: is missing", "not there yet"]),
        (TANK + LEFT + 'price = "3"\n', ["tank[1].filter[1].price: is that of a filter that is there", "installed = false"]),
        (TANK + LEFT + RIGHT + 'log = "a.log"\n', ["tank[1].filter[2].installed: is false, but there are fills"]),
        (TANK + LEFT + RIGHT.replace("left.toml", "filled.toml"), ["tank[1].filter[2].installed: is false, but there are fills"]),
        (
            TANK + LEFT + RIGHT.replace("left.toml", "sea.toml"),
            ['"left.toml" and "sea.toml" tell of different water', "same [tank]"],
        ),
        (TANK + LEFT.replace('rig = "left.toml"', 'rigg = "a"'), ["tank[1].filter[1].rig: there is no rig", "filter[1].rigg"]),
        (TANK + LEFT.replace("left.toml", "gone.toml"), ['tank[1].filter[1].rig: "gone.toml": there is no such file']),
        (
            TANK + LEFT.replace("left.toml", "slow.toml"),
            ["900 l/h are wanted, but the limits of its filters together allow 400 l/h"],
        ),
    ],
)
def test_what_is_wrong_with_filters_has_a_place_and_a_cure(tmp_path: Path, text: str, words: list[str]) -> None:
    (tmp_path / "sea.toml").write_text(
        OLD.replace('volume = "240 l"', 'volume = "240 l"\nsalinity = "35 g/kg"'), encoding="utf-8"
    )
    (tmp_path / "filled.toml").write_text(OLD + FILL, encoding="utf-8")
    (tmp_path / "slow.toml").write_text(OLD.replace("[limits]", '[limits]\nflow_max = "400 l/h"'), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_household(written(tmp_path, text), CATALOG)
    said = str(caught.value)
    for each in words:
        assert each in said, said


def test_all_of_them_are_one_list(tmp_path: Path) -> None:
    """Problems of the tank, of both filters and of both rigs at once."""
    (tmp_path / "bad.toml").write_text(OLD.replace('"240 l"', '"240"'), encoding="utf-8")
    text = 'budgt = "3"\n' + TANK + 'flow_max = "1 l/h"\n' + LEFT.replace("left.toml", "bad.toml") + RIGHT.replace('"79"', '"-1"')
    with pytest.raises(InputError) as caught:
        read_household(written(tmp_path, text), CATALOG)
    said = str(caught.value)
    assert all(words in said for words in ("budgt", "tank[1].flow_max", "bad.toml", "tank.volume", "tank[1].filter[2].price"))


def test_keys_of_a_filter_are_in_the_reference() -> None:
    text = column_reference("text")
    assert "[[tank.filter]]" in text
    rest = text[text.index("[[tank.filter]]") :]
    assert all(f"  {name} " in rest for name in ("installed", "price", "listening_distance", "log"))


@pytest.mark.parametrize("path", sorted((ROOT / "parts_demo/households").glob("*.toml")), ids=lambda path: path.stem)
def test_demo_households_read(path: Path) -> None:
    assert read_household(path, CATALOG).budget
