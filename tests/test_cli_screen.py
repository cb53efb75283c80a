"""What a terminal is decides how wide a text is and whether it has weight; a pipe gets plain lines of 80."""

from __future__ import annotations

import os
import re
import shlex
import sys
from pathlib import Path

import pytest

from optimizer import cli
from optimizer.cli import main
from optimizer.commands import best, streams
from optimizer.commands.command import Told
from optimizer.commands.parser import build_parser
from optimizer.commands.reader import Reader

DEMO = Path(__file__).parents[1] / "parts_demo"
RIGS = DEMO / "rigs"
SHOP = ("--catalog", str(DEMO / "catalog"))
NANO, CORNER = str(RIGS / "nano_60.toml"), str(RIGS / "reading_corner_130.toml")

Capture = pytest.CaptureFixture[str]
ESCAPE = "\x1b["


@pytest.fixture(autouse=True)
def _nothing_told(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("COLUMNS", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("TERM", "xterm")


def a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make standard output, as it is in the test, a terminal of 72 columns."""
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.setattr(sys.stdout, "fileno", lambda: 1)
    monkeypatch.setattr(os, "get_terminal_size", lambda _: os.terminal_size((72, 24)))


def test_a_pipe_gets_eighty_columns_without_weight(capsys: Capture) -> None:
    assert streams.screen() == streams.Screen(width=80, weighted=False)
    main(["best", NANO, *SHOP, "--budget", "20"])
    assert ESCAPE not in capsys.readouterr().out


@pytest.mark.usefixtures("capsys")
def test_a_terminal_gets_its_own_width_and_weight(monkeypatch: pytest.MonkeyPatch) -> None:
    a_terminal(monkeypatch)
    assert streams.screen() == streams.Screen(width=72, weighted=True)
    monkeypatch.setenv("COLUMNS", "90")
    assert streams.screen().width == 90


@pytest.mark.usefixtures("capsys")
@pytest.mark.parametrize(("told", "width"), [("20", 50), ("400", 100), ("0", 80), ("wide", 80), ("-5", 80), ("\u0667\u0660", 80)])
def test_columns_are_kept_within_what_can_be_read(monkeypatch: pytest.MonkeyPatch, told: str, width: int) -> None:
    monkeypatch.setenv("COLUMNS", told)
    assert streams.screen().width == width


@pytest.mark.usefixtures("capsys")
@pytest.mark.parametrize(
    ("name", "value", "weighted"),
    [("NO_COLOR", "1", False), ("NO_COLOR", "", True), ("TERM", "dumb", False), ("TERM", "", False)],
)
def test_no_color_and_a_dumb_terminal_mean_no_weight(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str, weighted: bool
) -> None:
    a_terminal(monkeypatch)
    monkeypatch.setenv(name, value)
    assert streams.screen().weighted is weighted


def test_weight_changes_no_word(monkeypatch: pytest.MonkeyPatch, capsys: Capture) -> None:
    a_terminal(monkeypatch)
    asked = ["best", NANO, *SHOP, "--budget", "20"]
    main(asked)
    shown = capsys.readouterr().out
    assert "\x1b[1mWhat to do\x1b[0m\n" in shown
    monkeypatch.setenv("NO_COLOR", "1")
    main(asked)
    for code in streams.CODES.values():
        shown = shown.replace(code, "")
    assert shown == capsys.readouterr().out


COMMANDS = {
    "best": ("best", NANO, *SHOP, "--budget", "60", "--most"),
    "best in full": ("best", NANO, *SHOP, "--budget", "20", "--full"),
    "front": ("front", NANO, *SHOP, "--budget", "10"),
    "bands": ("best", NANO, *SHOP, "--budget", "10", "--bands", "--draws", "100"),
    "loop": ("loop", CORNER, *SHOP),
    "measure": ("measure", CORNER),
    "diagnose": ("diagnose", CORNER, *SHOP, "--today"),
    "ageing": ("ageing", NANO, *SHOP),
    "compare": ("compare", NANO, CORNER, str(RIGS / "gouramis_54.toml"), *SHOP, "--budget", "5"),
    "drill": ("drill", CORNER, *SHOP, "--jet", "1 m/s"),
    "log": ("log", str(DEMO / "logs" / "reading_corner_130.log")),
    "columns": ("columns",),
    "glossary": ("glossary",),
}


@pytest.mark.parametrize("name", COMMANDS)
def test_no_line_of_any_command_is_wider_than_the_screen(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """One answer on three screens; the folder of the catalog, which ends some of them, cannot be broken."""
    found: list[Told] = []
    monkeypatch.setattr(cli, "_given", lambda told, _: found.append(told) or told.status)
    main(list(COMMANDS[name]))
    for width in (60, 80, 100):
        lines = found[0].text("metric", streams.Screen(width=width)).splitlines()
        assert len(lines) > 3
        assert [line for line in lines if len(line) > width and not line.startswith("Catalog folder: ")] == []


@pytest.mark.parametrize("command", ["best", "cheapest"])
def test_an_unknown_section_gives_the_list(command: str, capsys: Capture) -> None:
    assert main([command, NANO, *SHOP, "--show", "joints, jonts"]) == 1
    said = capsys.readouterr().err
    assert '--show: no section is called "jonts".' in said
    assert "joints, head, branches, devices, tightest, pressure, jets" in said


def test_parts_of_the_answer_go_with_the_answer_itself_only(capsys: Capture) -> None:
    """Bands and an order are told whole."""
    assert main(["best", NANO, *SHOP, "--order", "--full"]) == 1
    assert "--order: does not go together with --full." in capsys.readouterr().err
    assert main(["best", NANO, *SHOP, "--bands", "--show", "joints"]) == 1
    assert "--bands: does not go together with --show." in capsys.readouterr().err


@pytest.mark.parametrize("more", [("--prove", "--most"), ("--interval", "30 d"), ("--units", "us", "--unmeasured")])
def test_what_to_type_next_works_there(more: tuple[str, ...], capsys: Capture) -> None:
    """The command that is named, with each option that is named below it, is not refused, and asks the same."""
    assert main(["best", NANO, *SHOP, "--budget", "5", *more]) == 0
    shown = capsys.readouterr().out.partition("\nNext\n")[2].partition("Catalog folder: ")[0]
    typed, _, added = " ".join(shown.split()).partition(" with --")
    options = re.findall(r"--(full|order|bands|show \S+?)(?=:)", f"--{added}")
    assert options[-2:] == [options[-2], "full"]
    words = shlex.split(typed)
    assert words[:3] == ["fullbore", "best", NANO]
    for each in options:
        args = build_parser().parse_args([*words[1:], *f"--{each}".split()])
        asked = best.COMMAND.read(Reader(args, best.COMMAND.options))
        assert (asked.rig, asked.catalog, asked.budget) == (NANO, DEMO / "catalog", 500)
