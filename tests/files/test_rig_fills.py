"""Timed fills in a rig file: what may be written, and one list of all that is wrong."""

import tomllib
from pathlib import Path

import pytest

from optimizer.errors import BadValue, InputError
from optimizer.files.catalog_csv import read_catalog
from optimizer.files.columns import column_reference
from optimizer.files.key_value import read_value
from optimizer.files.rig_fills import with_fill
from optimizer.files.rig_toml import read_rig
from optimizer.files.toml_fields import FILL
from optimizer.model.catalog import Catalog
from optimizer.model.fill import FILL_STATES, TimedFill
from optimizer.model.rig import Rig

SMALL = Path(__file__).parent.parent / "data" / "small"
HALL = (SMALL / "hall_tank.toml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def shop() -> Catalog:
    return read_catalog(SMALL / "catalog")


def hall(text: str, folder: Path, shop: Catalog) -> Rig:
    (folder / "hall.toml").write_text(f"{HALL}\n{text}", encoding="utf-8")
    return read_rig(folder / "hall.toml", shop)


def problems(text: str, folder: Path, shop: Catalog) -> list[str]:
    with pytest.raises(InputError) as caught:
        hall(text, folder, shop)
    return [f"{problem.where}: {problem.what} {problem.cure}" for problem in caught.value.problems]


def test_fills_are_optional(tmp_path: Path, shop: Catalog) -> None:
    rig = hall("", tmp_path, shop)
    assert rig.fills == ()
    assert not any(note.startswith("fill") for note in rig.notes)


def test_every_key(tmp_path: Path, shop: Catalog) -> None:
    text = """
[[fill]]
volume = "10 l"
seconds = [61.2, "60.8 s", "1 min 1.5 s"]
mark = "0.1 l"
container = "blue bucket"
below_water = "40 cm"
state = ["guard off", "Media clean"]
watts = "9.5 W"
date = 2026-03-01

[[fill]]
volume = "2 gal"
seconds = 45
above_water = "10 cm"
state = "clean, guard off"
date = "2026-03-02"

[[fill]]
volume = "5 l"
seconds = "30 s"
"""
    rig = hall(text, tmp_path, shop)
    first, second, third = rig.fills
    assert first == TimedFill(
        volume_m3=0.01,
        seconds=(61.2, 60.8, 61.5),
        height_m=-0.4,
        state=("guard off", "media clean"),
        container="blue bucket",
        volume_limit_m3=1e-4,
        date="2026-03-01",
        power_w=9.5,
    )
    assert second.volume_m3 == pytest.approx(2 * 3.785411784e-3)  # US gallon, NIST SP 811
    assert (second.seconds, second.height_m, second.state, second.date) == ((45.0,), 0.1, ("clean", "guard off"), "2026-03-02")
    assert third == TimedFill(volume_m3=0.005, seconds=(30.0,))
    assert "fill.mark: not given, the mark is taken to be off by up to 2% (common practice)" in rig.notes
    assert "fill.above_water: not given, the mouth is taken to have been at the water line" in rig.notes


def test_all_problems_at_once(tmp_path: Path, shop: Catalog) -> None:
    """Three tables and a second mistake of another kind elsewhere: all in one list, in the order of the file."""
    text = """
[[fill]]
volume = "10"
seconds = [61.2, -1]
state = "guard of"
date = "yesterday"

[[fill]]
seconds = []
mark = "0 l"
above_water = "1 cm"
below_water = "1 cm"
litres = 10

[[fill]]
volume = "10 l"
seconds = [60, true]
mark = "10 l"
state = ["outlet off", "hose off"]
"""
    found = problems(text.replace("[[fill]]", '[[spares]]\npart = "CLAMP-23"\n\n[[fill]]', 1), tmp_path, shop)
    assert found[0].startswith("spares[4].part: ")
    assert found[1:] == [
        'fill[1].volume: "10" has no unit. Write for example "120 l".',
        'fill[1].seconds: "-1" is negative. Write for example "61.2 s".',
        'fill[1].state: "guard of" is not known here. Near names: "guard off", "guard clean". '
        f"Write one of: {', '.join(FILL_STATES)}.",
        'fill[1].date: "yesterday" is no date. Write year, month and day, for example 2026-03-01.',
        "fill[2].litres: this key is not known here. Known here: container, date, state, volume, watts.",
        'fill[2].seconds: the list is empty. Write for example "61.2 s".',
        'fill[2].mark: "0 l" must be above zero. Write for example "0.1 l".',
        'fill[2].volume: is missing. Write for example "10 l".',
        "fill[2].above_water: stands beside below_water. Keep one of the two.",
        'fill[3].seconds: true stands where a number is expected. Write for example "61.2 s".',
        "fill[3].state: says outlet off and hose off; with the hose off there is no outlet. Keep one of the two.",
        'fill[3].mark: the mark cannot be off by the whole volume. Write for example "0.1 l".',
    ]


@pytest.mark.parametrize("text", ["fill = 3", "fill = [3]", "[fill]\nvolume = '10 l'"])
def test_what_is_no_list_of_fills(text: str, tmp_path: Path, shop: Catalog) -> None:
    whole = f"{text}\n{HALL}" if text.startswith("fill") else f"{HALL}\n{text}"
    (tmp_path / "hall.toml").write_text(whole, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_rig(tmp_path / "hall.toml", shop)
    assert [problem.where for problem in caught.value.problems] == ["fill"]
    assert 'Write [[fill]] and below it volume = "10 l"' in caught.value.problems[0].cure


@pytest.mark.parametrize(
    ("seconds", "what"),
    [
        ('"60"', '"60" has no unit'),
        ('"60 l"', "not a time"),
        ("[[60]]", ""),
        ("1e9", "too large"),
        ("0", "above zero"),
        ("nan", "not a finite number"),
        ("2026-03-01", ""),
        ("{a = 1}", ""),
    ],
)
def test_times_that_cannot_be(seconds: str, what: str, tmp_path: Path, shop: Catalog) -> None:
    found = problems(f'[[fill]]\nvolume = "10 l"\nseconds = {seconds}\n', tmp_path, shop)
    assert len(found) == 1 and found[0].startswith("fill[1].seconds: ") and what in found[0]


@pytest.mark.parametrize("key", ["date = 3", "date = 12:00:00", "state = 3", "state = [3]", 'state = ""', 'date = "2026-02-30"'])
def test_words_and_dates_that_cannot_be(key: str, tmp_path: Path, shop: Catalog) -> None:
    found = problems(f'[[fill]]\nvolume = "10 l"\nseconds = 60\n{key}\n', tmp_path, shop)
    assert len(found) == 1 and found[0].startswith(f"fill[1].{key.split()[0]}: ")


def test_too_many(tmp_path: Path, shop: Catalog) -> None:
    assert "more than 500 fills" in problems('[[fill]]\nvolume = "1 l"\nseconds = 60\n' * 501, tmp_path, shop)[0]
    many = f'[[fill]]\nvolume = "1 l"\nseconds = {[60] * 101}\n'
    assert "more than 100 times" in problems(many, tmp_path, shop)[0]


@pytest.mark.parametrize("field", FILL, ids=lambda field: field.name)
def test_the_reference_shows_every_key(field: object) -> None:
    """Each example is accepted by the reader of its field."""
    for form, mark in (("markdown", "`"), ("text", "")):
        assert f"{mark}{field.name}{mark} " in column_reference(form).split("[[fill]]")[1].split("Ends")[0]  # type: ignore[attr-defined]
    assert read_value(field, field.key_example) is not None  # type: ignore[arg-type, attr-defined]


def test_what_is_heard_and_seen(tmp_path: Path, shop: Catalog) -> None:
    """Signs are said once a rig, as a text with commas or as a list; a word that is none is refused with near ones."""
    assert hall("", tmp_path, shop).signs == ()
    assert hall('[symptoms]\nsigns = "rattle, Bubbles, rattle"\n', tmp_path, shop).signs == ("rattle", "bubbles")
    assert hall('[symptoms]\nsigns = ["better when tilted"]\n', tmp_path, shop).signs == ("better when tilted",)
    (told,) = problems('[symptoms]\nsigns = "ratle"\n', tmp_path, shop)
    assert told.startswith('symptoms.signs: "ratle" is not known here.') and "rattle" in told


# -- one more ------------------------------------------------------------------------------------------------------

GIVEN = {"date": "2026-03-01", "volume": "2 l", "mark": "", "seconds": "61.20,60.8 s, 61.234", "state": 'guard "off"'}


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("tail", ["", "# the last word", '[[fill]]\nvolume = "1 l"\nseconds = [30]'])
def test_one_more_fill_leaves_all_else_as_it_is(tail: str, end: str) -> None:
    """Comments and line ends of the keeper stay, and the seconds are those of the watch."""
    old = f"{HALL}\n{tail}".replace("\n", end)
    new = with_fill(old, GIVEN)
    added = new.removeprefix(old)
    assert new.startswith(old) and end in added and (end == "\r\n") == ("\r" in added)
    assert "seconds = [61.20, " in added
    told = tomllib.loads(new)["fill"][-1]
    assert told == {"date": "2026-03-01", "volume": "2 l", "seconds": [61.2, "60.8 s", 61.234], "state": 'guard "off"'}


def test_fill_for_the_rig_is_read_back_as_the_watch_had_it(tmp_path: Path, shop: Catalog) -> None:
    """Also beside decimal commas, where three decimals could be thousands."""
    text = with_fill("", {"volume": "2,5 l", "seconds": "61.20, 61.234"})
    assert hall(text, tmp_path, shop).fills[-1].seconds == (61.2, 61.234)


@pytest.mark.parametrize("old", ["fill = []\n", "fill = 3\n", "[tank\n", '[fill]\nvolume = "1 l"\n', 'name = """\n'])
def test_file_that_cannot_take_one_more_fill(old: str) -> None:
    """Nothing is made of a file that would say something else with it."""
    with pytest.raises(BadValue, match="cannot be added"):
        with_fill(old, GIVEN)
