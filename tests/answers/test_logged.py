"""Fills of a log that join those of a rig: by a naive reading of small logs, and of the demo log."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.errors import InputError
from optimizer.measure.log import append, fill_entry, of_rig, watts_entry
from optimizer.model.fill import TimedFill
from optimizer.model.measuring import LogEntry, WattsRead
from optimizer.model.rig import Rig

DEMO = Path(__file__).parents[2] / "parts_demo"
AFTER = DEMO / "rigs" / "reading_corner_130_after.toml"
DEMO_LOG = DEMO / "logs" / "reading_corner_130.log"


@pytest.fixture(scope="module")
def rig() -> Rig:
    """A demo rig without fills of its own."""
    return replace(api.read_rig(AFTER, api.read_catalog(DEMO / "catalog")), fills=())


def fill(day: str, seconds: float, *state: str) -> TimedFill:
    """Five litres on a day."""
    return TimedFill(volume_m3=0.005, seconds=(seconds,), state=state, date=day)


def written(path: Path, *entries: TimedFill | tuple[str, str, object]) -> Path:
    """A log of fills, and of cleanings and changes as kind, day and what."""
    for each in entries:
        if isinstance(each, TimedFill):
            append(path, fill_entry(each))
        else:
            append(path, LogEntry(kind=each[0], date=each[1], data={"what": each[2]}))
    return path


def test_watts_of_a_log_belong_to_the_fill_before_them(rig: Rig, tmp_path: Path) -> None:
    """A fill with the watts behind it on the same day, one with watts of the next day, and watts with no fill: the first has
    them, and the answer goes by them."""
    path = written(tmp_path / "a.log", fill("2026-03-01", 42.0))
    append(path, watts_entry(WattsRead(power_w=9.5, date="2026-03-01")))
    written(path, fill("2026-03-02", 42.0))
    append(path, watts_entry(WattsRead(power_w=3.0, date="2026-03-03")))
    found = api.with_log(rig, path)
    assert [each.power_w for each in found.fills] == [9.5, 0.0]
    assert api.measure(found).powers_w == (9.5,)


def test_which_fills_join(rig: Rig, tmp_path: Path) -> None:
    """By hand: nothing before the last change, the clean day of every cleaning of everything as a clean loop, else only what is
    near the last fill and after the last cleaning."""
    log = written(
        tmp_path / "a.log",
        fill("2026-01-01", 40.0),
        ("change", "2026-01-02", "new bar"),
        ("cleaning", "2026-01-02", ["everything"]),
        fill("2026-01-02", 41.0, "guard off"),
        fill("2026-01-20", 42.0),
        ("cleaning", "2026-02-01", ["guard"]),
        fill("2026-02-01", 43.0),
        fill("2026-02-10", 44.0),
        fill("2026-02-16", 45.0, "guard off"),
    )
    found = api.with_log(rig, log)
    assert [(each.seconds[0], each.state) for each in found.fills] == [
        (41.0, ("clean", "guard off")),
        (44.0, ()),
        (45.0, ("guard off",)),
    ]
    assert found.notes[-1] == "fill.log: with a.log there are 6 dated fills; 3 of them say something of the loop as it is now"


def test_own_fills_are_looked_at_alike(rig: Rig, tmp_path: Path) -> None:
    """One that the log holds too counts once, one of before the last cleaning not at all, one without a day always."""
    log = written(
        tmp_path / "a.log", fill("2026-03-01", 40.0), ("cleaning", "2026-03-02", ["everything"]), fill("2026-03-05", 38.0)
    )
    undated = replace(fill("2026-03-05", 38.5), date="")
    own = replace(rig, fills=(fill("2026-03-01", 40.0), undated, fill("2026-03-05", 38.0)))
    assert [each.seconds[0] for each in api.with_log(own, log).fills] == [38.5, 38.0]


def test_parts_are_cleaned_and_changed_in_one_go(rig: Rig, tmp_path: Path) -> None:
    done = (("cleaning", "2026-03-02", ["everything"]), ("change", "2026-03-02", "bar"))
    for name, entries in (("a", done), ("b", done[::-1])):
        log = written(tmp_path / f"{name}.log", *entries, fill("2026-03-02", 38.0))
        assert [each.state for each in api.with_log(rig, log).fills] == [("clean",)]


def test_the_last_fill_of_the_demo_log_decides(rig: Rig) -> None:
    """5 l in 51.37 s are 350 l/h; earlier ones are three weeks older."""
    found = api.with_log(rig, DEMO_LOG)
    assert [each.date for each in found.fills] == ["2026-05-03"]
    told = api.best(found, api.read_catalog(DEMO / "catalog"), budget=0).by_fills
    assert told is not None
    assert told.delivered_m3s * 3.6e6 == pytest.approx(5.0 / 51.37 * 3600.0, rel=0.01)


def test_what_is_no_log(rig: Rig, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(InputError, match="no such file"):
        api.with_log(rig, tmp_path / "none.log")
    with pytest.raises(InputError, match="this is no log"):
        api.with_log(rig, AFTER)
    with pytest.raises(InputError, match="cannot be read"):
        api.with_log(rig, tmp_path)
    command = ["best", str(AFTER), "--catalog", str(DEMO / "catalog"), "--log", str(DEMO_LOG), "--unmeasured"]
    assert main(command) == 1
    assert "--log: does not go together with --unmeasured. Keep one of the two." in capsys.readouterr().err


def test_commands_take_the_log(capsys: pytest.CaptureFixture[str]) -> None:
    shared = [str(AFTER), "--catalog", str(DEMO / "catalog"), "--log", str(DEMO_LOG)]
    assert main(["best", *shared, "--budget", "0"]) == 0
    assert "By the fill of 2026-05-03 the loop as it is delivers 35" in " ".join(capsys.readouterr().out.split())
    assert main(["diagnose", *shared, "--today"]) == 0
    assert "2026-05-03, as it is" in capsys.readouterr().out


# -- before and after ----------------------------------------------------------------------------------------------


def test_before_and_after_the_last_change(rig: Rig, tmp_path: Path) -> None:
    """By hand: the last fill before the work, and those within a fortnight of the first after it, until the next cleaning."""
    log = written(
        tmp_path / "a.log",
        fill("2026-01-01", 40.0),
        fill("2026-02-20", 41.0),
        fill("2026-03-01", 42.0),
        ("cleaning", "2026-03-07", ["everything"]),
        ("change", "2026-03-07", "bar"),
        fill("2026-03-08", 30.0),
        fill("2026-03-20", 31.0),
        fill("2026-03-25", 32.0),
        ("cleaning", "2026-04-01", ["guard"]),
        fill("2026-04-02", 33.0),
    )
    before, after = api.both_with_log(rig, rig, log)
    assert [each.seconds[0] for each in before.fills] == [41.0, 42.0]
    assert [each.seconds[0] for each in after.fills] == [30.0, 31.0]
    assert before.notes[-1].endswith("2 of them say something of the loop as it was before 2026-03-07")
    assert after.notes[-1].endswith("2 of them say something of the loop as the work of 2026-03-07 left it")


def test_without_a_change_the_work_is_the_last_cleaning(rig: Rig, tmp_path: Path) -> None:
    log = written(
        tmp_path / "a.log", fill("2026-03-01", 40.0), ("cleaning", "2026-03-02", ["everything"]), fill("2026-03-02", 38.0)
    )
    before, after = api.both_with_log(rig, rig, log)
    assert [each.seconds[0] for each in before.fills] == [40.0]
    assert [(each.seconds[0], each.state) for each in after.fills] == [(38.0, ("clean",))]
    with pytest.raises(InputError, match="before and after cannot be told apart"):
        api.both_with_log(rig, rig, written(tmp_path / "b.log", fill("2026-03-01", 40.0)))


def test_verify_takes_a_log(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Two files without fills, and all fills in the log."""
    paths = []
    for name in ("reading_corner_130", "reading_corner_130_after"):
        text = (DEMO / "rigs" / f"{name}.toml").read_text()
        paths.append(tmp_path / f"{name}.toml")
        paths[-1].write_text(text[: text.index("[[fill]]")])
    catalog = ("--catalog", str(DEMO / "catalog"))
    assert main(["verify", *map(str, paths), *catalog, "--log", str(DEMO_LOG), "--quiet"]) == 0
    assert capsys.readouterr().out.startswith(
        "Mostly the cleaning, but the parts did bring something. Delivered flow went from 280"
    )


def test_the_log_of_another_tank_is_refused(rig: Rig, tmp_path: Path) -> None:
    """An entry written with a rig file knows its tank; one written without says nothing."""
    log = written(tmp_path / "a.log", fill("2026-03-01", 40.0))
    append(log, of_rig(LogEntry(kind="cleaning", date="2026-03-02", data={"what": ["everything"]}), "Hall tank"))
    with pytest.raises(InputError, match='log of "Hall tank", and the rig file is of "Reading corner, after the work"'):
        api.with_log(rig, log)
    assert len(api.with_log(replace(rig, name="Hall tank"), log).fills) == 0
    api.both_with_log(replace(rig, name="Hall tank"), rig, log)
