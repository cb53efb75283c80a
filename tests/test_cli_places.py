"""What is refused after reading is told with the file or the argument in which it is to be put right."""

import re
from pathlib import Path

import pytest

from optimizer.cli import main

SMALL = Path(__file__).parent / "data" / "small"
SHELF = ("--catalog", str(SMALL / "catalog"))


def refusal(capsys: pytest.CaptureFixture[str], *argv: str) -> list[str]:
    assert main([*argv, *SHELF] if argv[0] != "glossary" else [*argv]) == 1
    return capsys.readouterr().err.splitlines()


def rig(folder: Path, **changes: str) -> str:
    """A rig file called odd.toml of a tank that is called null."""
    text = re.sub('name = "Hall tank"', 'name = "null"', (SMALL / "hall_tank.toml").read_text(encoding="utf-8"))
    for old, new in changes.items():
        text = text.replace(old, new)
    (folder / "odd.toml").write_text(text, encoding="utf-8")
    return str(folder / "odd.toml")


def test_a_rig_that_does_not_flow_is_told_by_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It was told by the name of the tank: "null: 1 problem"."""
    path = rig(tmp_path, **{'above_water = "3 cm"': 'above_water = "90 m"'})
    assert refusal(capsys, "ageing", path)[0] == "odd.toml: 1 problem, nothing was solved."


def test_a_rig_without_a_bar_is_told_by_its_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = rig(tmp_path, **{'part = "BAR-16"': 'part = "NOZZLE-12"', '"re-drill to 4.5 mm"': '"other"'})
    assert refusal(capsys, "drill", path, "--jet", "1 m/s")[0] == "odd.toml: 1 problem, nothing was solved."


@pytest.mark.parametrize("parts", ["NONE-1", "NONE-1,CPL-19", "nowhere=CPL-19"])
def test_a_part_that_is_not_there_is_told_by_its_argument(parts: str, capsys: pytest.CaptureFixture[str]) -> None:
    """It was told by the name of the catalog, or by no file at all: "--why: 2 problems"."""
    lines = refusal(capsys, "best", str(SMALL / "hall_tank.toml"), "--why", parts)
    assert lines[0] == "command line: 1 problem, nothing was solved."
    assert lines[1].startswith("  --why: no ")


def test_a_word_that_is_not_in_the_glossary_is_an_argument(capsys: pytest.CaptureFixture[str]) -> None:
    assert refusal(capsys, "glossary", "zzz")[0] == "command line: 1 problem, nothing was solved."


def test_a_rig_that_a_household_misses_has_a_place_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    house = tmp_path / "house.toml"
    house.write_text('budget = "20"\n[[tank]]\nrig = "gone.toml"\nflow = "300 l/h"\n', encoding="utf-8")
    told = '  tank[1].rig: "gone.toml": there is no such file. Check the name and the folder. '
    told += "Rig files are looked for beside the household file."
    assert refusal(capsys, "share", str(house)) == ["house.toml: 1 problem, nothing was solved.", told]
