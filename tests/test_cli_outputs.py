"""Where files may be written: no output is one of the inputs, and what cannot be written is said before anything is solved."""

from __future__ import annotations

import os
import shutil
from pathlib import Path
from typing import Any

import pytest

from optimizer import api
from optimizer.cli import main

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "parts_demo"

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with one of everything that is read, where nothing may be solved."""
    for folder in ("catalog", "rigs", "households", "logs", "shops"):
        shutil.copytree(DEMO / folder, tmp_path / folder)
    (tmp_path / "answer.json").write_text("{}")
    (tmp_path / "curves.svg").write_text("{}")

    def solve(*_: object, **__: object) -> Any:
        raise AssertionError("solved")

    for name in ("advise", "best", "cheapest", "front", "dossier", "share", "kits"):
        monkeypatch.setattr(api, name, solve)
    monkeypatch.chdir(tmp_path)
    return tmp_path


def contents(folder: Path) -> dict[str, bytes]:
    return {str(each): each.read_bytes() for each in folder.rglob("*") if each.is_file()}


RIG = "rigs/reading_corner_130.toml"
BEST = ["best", RIG, "--catalog", "catalog", "--log", "logs/reading_corner_130.log"]
SHARE = ["share", "households/fish_room.toml", "--catalog", "catalog"]
KITS = ["kits", "shops/open_the_loop.toml", "--catalog", "catalog"]

INPUTS = [
    ([*BEST, "--csv", "logs/reading_corner_130.log"], "--csv", "is the log itself"),
    ([*BEST, "--csv", "catalog/hoses.csv"], "--csv", "is a file of the catalog itself"),
    ([*BEST, "--xlsx", "catalog/about.toml"], "--xlsx", "is a file of the catalog itself"),
    ([*BEST, "--after", RIG], "--after", "is the rig file itself"),
    ([*BEST, "--after", "bill.csv", "--csv", "bill.csv"], "--after", "is the same file as --csv"),
    ([*BEST, "--report", "linked.toml"], "--report", "is the rig file itself"),
    ([*BEST, "--report", "twin.log"], "--report", "is the log itself"),
    (["front", RIG, "--catalog", "catalog", "--csv", RIG], "--csv", "is the rig file itself"),
    ([*SHARE, "--csv", "households/fish_room.toml"], "--csv", "is the household file itself"),
    ([*SHARE, "--report", RIG], "--report", "is a rig of the household itself"),
    ([*KITS, "--results", "catalog/pumps.csv"], "--results", "is a file of the catalog itself"),
    ([*KITS, "--csv", "shops/tanks/npt_ports.toml"], "--csv", "is a rig of the shop itself"),
    ([*KITS, "--cards", "cards"], "--cards", "kit_2.txt in it is the shop file itself"),
    ([*KITS, "--csv", "new/kit_1.txt", "--cards", "new"], "--cards", "is the same file as --csv"),
    (["report", "answer.json", "--out", "answer.json"], "--out", "is the answer itself"),
    (["plot", "curves.svg", "--out", "."], "--out", "curves.svg in it is the answer itself"),
    (["new", "catalog/hoses.csv", "--force", "--catalog", "catalog"], "FILE", "is a file of the catalog itself"),
]  # fmt: skip


@pytest.mark.parametrize(("command", "flag", "told"), INPUTS, ids=[f"{c[0]} {f} {t}" for c, f, t in INPUTS])
def test_no_output_is_an_input(home: Path, capsys: Capture, command: list[str], flag: str, told: str) -> None:
    """By its path, through a link, and by another name of the same file."""
    (home / "linked.toml").symlink_to(home / RIG)
    os.link(home / "logs" / "reading_corner_130.log", home / "twin.log")
    (home / "cards").mkdir()
    (home / "new").mkdir()
    (home / "cards" / "kit_2.txt").symlink_to(home / "shops" / "open_the_loop.toml")
    before = contents(home)
    assert main(command) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("command line: 1 problem, nothing was solved.\n")
    assert f"  {flag}: " in err and told in err
    assert contents(home) == before


LONG = "n" * 300
PLACES = [LONG, f"{LONG}/tank.html", "answer.json/tank.html", "no_such_folder/tank.html", "/proc/tank.html", ".", "", "a\0b"]


@pytest.mark.parametrize("place", PLACES, ids=range(len(PLACES)))
@pytest.mark.parametrize(
    "command",
    [
        [*BEST, "--csv"],
        [*BEST, "--xlsx"],
        [*SHARE, "--report"],
        [*KITS, "--results"],
        ["report", "answer.json", "--out"],
        ["new", "--catalog", "catalog", "--force"],
    ],
    ids=lambda command: f"{command[0]} {command[-1]}",
)
def test_a_place_where_nothing_can_be_written(home: Path, capsys: Capture, command: list[str], place: str) -> None:
    """Too long a name, a path under a file, a folder that is not there, takes no files, or is no file at all."""
    before = contents(home)
    assert main([*command, place]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("command line: 1 problem, nothing was solved.\n")
    assert contents(home) == before


@pytest.mark.parametrize("place", [LONG, "answer.json", "answer.json/figures", "/proc", "a\0b"], ids=range(5))
@pytest.mark.parametrize("command", [["plot", "answer.json", "--out"], [*KITS, "--cards"]], ids=["plot", "kits"])
def test_a_folder_where_nothing_can_be_written(home: Path, capsys: Capture, command: list[str], place: str) -> None:
    assert main([*command, place]) == 1
    assert "command line: 1 problem, nothing was solved." in capsys.readouterr().err


def test_kits_and_shared_bills_are_printed_even_when_they_cannot_be_written(
    tmp_path: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The disk is full once hours of work are done: the answer must not be lost with its file."""
    monkeypatch.chdir(ROOT)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert main(["share", "parts_demo/households/fish_room.toml", "--quiet", "--csv", str(tmp_path / "bill.csv")]) == 1
    out, err = capsys.readouterr()
    assert out.count("\n") == 1 and "%" in out
    assert err == f"--csv: {tmp_path / 'bill.csv'} cannot be written: No space left on device.\n"
    assert list(tmp_path.iterdir()) == []
