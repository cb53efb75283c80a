"""The commands measure, diagnose, verify and log: what they print, their JSON, what they refuse, and a log that survives."""

from __future__ import annotations

import json
import math
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.measure.log import line_of
from optimizer.model.measuring import LogEntry

ROOT = Path(__file__).parents[1]
CATALOG = "parts_demo/catalog"
CORNER, AFTER = "parts_demo/rigs/reading_corner_130.toml", "parts_demo/rigs/reading_corner_130_after.toml"
NANO = "parts_demo/rigs/nano_60.toml"
FILL = ("--volume", "5 l", "--seconds", "64.3,64.6,64.1", "--mark", "0.05 l")

Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _at_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def printed(capsys: Capture, *argv: str) -> str:
    """What the command prints."""
    assert main(list(argv)) == 0
    out, err = capsys.readouterr()
    assert err == ""
    return out


_known: dict[tuple[str, ...], str] = {}


def printed_once(capsys: Capture, *argv: str) -> str:
    """The same, of whatever is asked in several tests, worked out once."""
    if argv not in _known:
        _known[argv] = printed(capsys, *argv)
    return _known[argv]


def refused(capsys: Capture, *argv: str) -> str:
    """What the command says when it refuses."""
    assert main(list(argv)) == 1
    out, err = capsys.readouterr()
    assert out == ""
    return err


def flat(text: str) -> str:
    """The text without its line breaks."""
    return " ".join(line.strip() for line in text.splitlines())


# -- what is printed -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "argv",
    [
        ("measure", CORNER),
        ("measure", NANO, *FILL, "--above", "3 cm", "--state", "guard off", "--watts", "18", "--container", "x" * 90),
        ("diagnose", CORNER),
        ("diagnose", NANO, "--today"),
        ("verify", CORNER, AFTER),
    ],
)
def test_texts_fit_a_terminal_in_both_systems(argv: tuple[str, ...], capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """One answer, told three ways: what is worked out does not hang on how it is told."""
    worked_out, known = getattr(api, argv[0]), []

    def once(*args: Any, **more: Any) -> object:
        known[:] = known or [worked_out(*args, **more)]
        return known[0]

    monkeypatch.setattr(api, argv[0], once)
    texts = [printed(capsys, *argv, *more) for more in ((), ("--units", "us"))]
    for text, unit, other in zip(texts, ("l/h", "gph"), ("gph", "l/h"), strict=True):
        assert max(map(len, text.splitlines())) <= 90
        assert unit in text and other not in text
        assert "\x00" not in text
    quiet = printed(capsys, *argv, "--quiet")
    assert quiet.count("\n") == 1
    assert quiet.strip() in flat(texts[0])


def test_measure_shows_what_the_json_holds(capsys: Capture) -> None:
    told = json.loads(printed_once(capsys, "measure", CORNER, "--json"))
    text = flat(printed_once(capsys, "measure", CORNER))
    low, mid, high = (told["delivered"][key] * 3.6e6 for key in ("p10_m3s", "p50_m3s", "p90_m3s"))
    assert f"Delivered by all 3 fills: {mid:.0f} l/h (8 of 10: {low:.0f} to {high:.0f} l/h)." in text
    # 5 l in 64.333 s on average
    assert told["fills"][0]["measured"]["flow_m3s"] == pytest.approx(0.005 / ((64.3 + 64.6 + 64.1) / 3.0))
    assert (told["schema"], told["status"], len(told["fills"])) == ("fullbore-measure/6", "measured", 3)
    assert "The outlet was off: this is not what the tank gets." in text


def test_a_fill_of_the_command_line_takes_the_place_of_the_file(capsys: Capture) -> None:
    """The first fill of the file, said on the command line, is that fill alone; what was assumed of it is told too."""
    told = json.loads(printed(capsys, "measure", CORNER, *FILL, "--date", "2026-03-01", "--json"))
    shop = api.read_catalog(CATALOG)
    rig = api.read_rig(CORNER, shop)
    same = api.measure(rig, rig.fills[:1])
    assert told["fills"] == json.loads(json.dumps(same.to_dict()["fills"]))
    assert told["delivered"] == json.loads(json.dumps(same.to_dict()["delivered"]))
    rough = json.loads(printed(capsys, "measure", CORNER, "--volume", "5 l", "--seconds", "64.3", "--json"))
    assert any(note.startswith("fill.mark: not given") for note in rough["notes"])
    # 1 US gallon is 3.785411784 litres: NIST Handbook 44, appendix C
    gallon = json.loads(printed(capsys, "measure", CORNER, "--volume", "1 gal", "--seconds", "1 min 2 s,62.0", "--json"))
    assert gallon["fills"][0]["measured"]["flow_m3s"] == pytest.approx(3.785411784e-3 / 62.0)


def test_diagnose_says_to_clean_first(capsys: Capture) -> None:
    told = json.loads(printed_once(capsys, "diagnose", CORNER, "--json"))
    text = printed_once(capsys, "diagnose", CORNER)
    assert (told["schema"], told["status"]) == ("fullbore-diagnose/6", "clean first")
    assert "clean and measure again before you buy." in flat(text)
    assert "canister tray 3: fuller of dirt than written" in text
    for heading in ("Where the head goes", "What cleaning alone gives back", "What the data can and cannot tell apart"):
        assert f"\n{heading}\n" in text
    assert "Next tests, by what they would tell about the flow of the best bundle for at most 40.00: " in flat(text)
    assert "RCD (GFCI)" in text
    first = told["next_tests"]["tests"][0]
    assert f"Most worth doing: {first['name']} ({first['minutes']:.0f} minutes" in flat(text)
    for share in ("file_share", "fitted_share", "clean_share"):
        assert sum(head[share] for head in told["heads"]) == pytest.approx(1.0)


def test_diagnose_without_a_catalog_looks_at_today(capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A rig that describes all its parts itself needs no catalog, and finds none in another folder."""
    text = (ROOT / "parts_demo/rigs/rift_lake_450.toml").read_text(encoding="utf-8")
    for part, own in (("HOSE-16-22", 'size = "16/22 mm"'),):
        text = text.replace(f'part = "{part}"', own)
    for medium, own in (
        ("FOAM-20", 'form = "foam", pores = "20 ppi", mechanical = true'),
        ("RING-15", 'form = "rings", void = "60 %", surface = "300 m2/m3", area = "300 m2/m3", biological = true'),
    ):
        text = text.replace(f'medium = "{medium}"', own)
    (tmp_path / "own.toml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    told = json.loads(printed(capsys, "diagnose", "own.toml", *FILL, "--json"))
    assert told["target"] == "the loop as it is"
    monkeypatch.chdir(ROOT)
    assert json.loads(printed(capsys, "diagnose", CORNER, "--today", "--json"))["target"] == "the loop as it is"
    assert json.loads(printed(capsys, "diagnose", CORNER, "--budget", "20", "--json"))["target"].startswith(
        "the best bundle for at most 20.00"
    )


def test_verify_says_what_it_was(capsys: Capture) -> None:
    told = json.loads(printed_once(capsys, "verify", CORNER, AFTER, "--json"))
    text = flat(printed_once(capsys, "verify", CORNER, AFTER))
    assert told["schema"] == "fullbore-verify/6"
    assert "Mostly the cleaning, but the parts did bring something." in text
    assert "That the new parts deliver more than the old ones has a probability of over 99 %" in text
    assert "- Leaving out +0 l/h: nothing was. - Parts +24 l/h: spray bar." in text
    back = flat(printed(capsys, "verify", AFTER, CORNER))
    assert "It was not the upgrade." in back or "Probably not the upgrade" in back
    assert "- Dirt -" in back and "- Parts -" in back


@pytest.mark.parametrize("argv", [("measure", CORNER), ("diagnose", CORNER), ("verify", CORNER, AFTER)])
def test_the_same_input_gives_the_same_bytes(argv: tuple[str, ...], capsys: Capture) -> None:
    """Now, before in this process, and in one of its own."""
    here = [printed_once(capsys, *argv, "--json"), printed(capsys, *argv, "--json")]
    command = [sys.executable, "-m", "optimizer.cli", *argv, "--json"]
    there = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300).stdout
    assert here[0] == here[1] == there


def test_bands_take_the_fills_in(capsys: Capture) -> None:
    few = ("--draws", "400", "--candidates", "2")
    text = flat(printed(capsys, "best", CORNER, "--bands", *few))
    assert "The 3 fills in the rig file are taken into account, in the flows by single figures too (by fills)." in text
    assert "before the fills narrow it" in text
    without = flat(printed(capsys, "best", CORNER, "--bands", "--unmeasured", *few))
    assert "The fills in the rig file are left out: as asked." in without
    plain = flat(printed(capsys, "best", CORNER, "--unmeasured", "--quiet"))
    assert "The 3 fills in the rig file are left out: as asked." in plain
    nothing = flat(printed(capsys, "best", NANO, "--bands", *few))
    assert "fill in the rig file" not in nothing and "fills in the rig file" not in nothing


# -- bad input -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["--volume", "5 l"], "--seconds: is missing. Write for example --seconds 61,60.5,62."),
        (["--seconds", "61"], '--volume: is missing. Write for example --volume "10 l".'),
        (["--volume", "5", "--seconds", "61"], '--volume: "5" has no unit. Write for example --volume "10 l".'),
        (["--volume", "5 l", "--seconds", "61,,62"], "--seconds: "),
        (["--volume", "5 l", "--seconds", "0"], "--seconds: "),
        (["--volume", "5 l", "--seconds", "nan"], "--seconds: "),
        (["--volume", "5 l", "--seconds", "61,5"], '--seconds: "61,5" holds times that are no repeats of one fill.'),
        ([*FILL, "--above", "3"], '--above: "3" has no unit. Write for example --above "3 cm".'),
        ([*FILL, "--above", "3 cm", "--below", "1 cm"], "--above: stands beside below_water. Keep one of the two."),
        ([*FILL, "--state", "gard off"], '--state: "gard off" is not known here.'),
        ([*FILL, "--state", "outlet off, hose off"], "--state: says outlet off and hose off"),
        (["--volume", "5 l", "--seconds", "61", "--mark", "6 l"], "--mark: the mark cannot be off by the whole volume."),
        ([*FILL, "--date", "May"], '--date: "May" is no date. Write for example --date 2026-03-01.'),
        ([*FILL, "--watts", "much"], "--watts: "),
        ([*FILL, "--watts", "0"], '--watts: "0" is no power from 0 to 10000 W. Write for example "18".'),
        (["--state", "guard off"], "--state: belongs to a fill."),
        (["--volume", "50 l", "--seconds", "0.2"], "fill: cannot be: fill, as it is: 50 l in 0.2 s"),
        (["--catalog", "no_such_folder"], "no_such_folder"),
    ],
)
def test_what_measure_refuses(argv: list[str], said: str, capsys: Capture) -> None:
    for command in ("measure", "diagnose"):
        assert said in refused(capsys, command, NANO, *argv)


def test_other_refusals(capsys: Capture) -> None:
    assert "fill: nothing was timed. Add [[fill]] to the rig file" in refused(capsys, "measure", NANO)
    assert "--today: does not go together with --budget." in refused(capsys, "diagnose", NANO, "--today", "--budget", "5")


def test_watts_of_more_than_the_pump_are_left_out(capsys: Capture) -> None:
    """A heater on the same meter: beside a fill the watts are left out with a note, alone they are refused. The pump has 6 W."""
    told = flat(printed(capsys, "measure", NANO, *FILL, "--watts", "106"))
    plain = printed(capsys, "measure", NANO, *FILL, "--quiet")
    assert "106 W are more than twice what the pump's label says (6 W); left out. Have nothing but the pump" in told
    assert "at the socket" not in told and flat(plain).split(" (")[0] in told
    assert "watts: 106 W are more than twice" in refused(capsys, "diagnose", NANO, "--today", "--watts", "106")


def test_signs_are_told_and_mistakes_refused(capsys: Capture) -> None:
    told = flat(printed(capsys, "diagnose", NANO, "--today", "--signs", "rattle, bubbles"))
    assert "Dirt, the pump, or air: by rattle, bubbles; odds are priors of the authors" in told
    assert "Air in the pump is the likeliest cause (8" in told or "Air in the pump is the likeliest cause (9" in told
    assert '--signs: "ratle" is not known here.' in refused(capsys, "diagnose", NANO, "--today", "--signs", "ratle")


def test_all_mistakes_are_one_list(capsys: Capture) -> None:
    err = refused(
        capsys, "diagnose", NANO, "--volume", "5", "--seconds", "x", "--watts", "x", "--budget", "ten", "--state", "odd"
    )
    assert err.startswith("command line: 5 problems, nothing was solved.")
    assert {line.split(":")[0].strip() for line in err.splitlines()[1:]} == {
        "--volume", "--seconds", "--watts", "--budget", "--state"}  # fmt: skip


def test_two_bad_files_are_one_list(capsys: Capture, tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text(Path(CORNER).read_text(encoding="utf-8").replace('volume = "5 l"', 'volume = "5"'), encoding="utf-8")
    err = refused(capsys, "verify", str(broken), NANO)
    assert err.startswith("4 problems in 2 files, nothing was solved.")
    assert "broken.toml: 3 problems." in err and "nano_60.toml: 1 problem." in err
    assert err.count('"5" has no unit.') == 3
    missing = refused(capsys, "verify", CORNER, "no_such.toml")
    assert missing.startswith("no_such.toml: 1 problem, nothing was solved.")


@pytest.mark.parametrize("command", ["measure", "diagnose", "verify", "log"])
def test_without_its_files_a_command_is_refused(command: str, capsys: Capture) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command])
    assert ended.value.code == 1
    assert "required" in capsys.readouterr().err


# -- the log -------------------------------------------------------------------------------------------------------


def logged(capsys: Capture, path: Path) -> str:
    """A log of a cleaning and three fills, written by the command; what it printed last."""
    printed(capsys, "log", str(path), "--cleaned", "everything", "--date", "2026-03-07")
    for day, seconds in (("08", "48.0,48.3,48.1"), ("22", "49.9,50.1,49.7"), ("31", "51.8,52.1,52.0")):
        text = printed(capsys, "log", str(path), "--volume", "5 l", "--seconds", seconds, "--date", f"2026-03-{day}")
    return text


def test_the_log_is_written_and_shown(capsys: Capture, tmp_path: Path) -> None:
    path = tmp_path / "tank.log"
    text = logged(capsys, path)
    assert "Written: 1 entry." in text
    assert "Since the cleaning of 2026-03-07: 3 fills over 24 days" in flat(text)
    assert max(map(len, text.splitlines())) <= 90
    before = path.read_bytes()
    told = json.loads(printed(capsys, "log", str(path), "--flow", "300 l/h", "--json"))
    assert path.read_bytes() == before, "showing a log writes nothing"
    assert (told["schema"], told["added"]) == ("fullbore-log/6", 0)
    # two points at hand: by ln Q from the first to the last fill, a line crosses ln 300 near that day
    first, last = told["lines"][1]["flow_m3s"], told["lines"][3]["flow_m3s"]
    days = 1.0 + math.log(300.0 / 3.6e6 / first) / math.log(last / first) * 23.0
    assert abs((date.fromisoformat(told["next"]["likely"]) - date(2026, 3, 7)).days - days) <= 3
    assert told["next"]["earliest"] <= told["next"]["likely"] <= told["next"]["latest"]
    with_rig = flat(printed(capsys, "log", str(path), "--rig", CORNER))
    assert "For 336 l/h" in with_rig or "The wanted 336 l/h" in with_rig  # 3 per hour of 112 l
    assert "By the model of dirt" in with_rig


def test_other_entries(capsys: Capture, tmp_path: Path) -> None:
    path = str(tmp_path / "tank.log")
    printed(capsys, "log", path, "--cleaned", "guard, media,guard", "--date", "2026-03-07")
    printed(capsys, "log", path, "--changed", "bar re-drilled to 3 mm", "--date", "2026-03-08")
    text = printed(
        capsys, "log", path, *FILL, "--watts", "11.5", "--below", "40 cm", "--state", "outlet off", "--date", "2026-03-09"
    )
    assert "Written: 2 entries." in text
    rows = [line.split() for line in text.splitlines() if line.startswith("  2026-")]
    assert [row[1] for row in rows] == ["cleaning", "change", "fill", "watts"]
    assert rows[0][2:] == ["guard,", "media"] and rows[3][2:] == ["11.5", "W"]
    assert "left out of the trend" in text


def test_today_is_the_day_when_none_is_given(capsys: Capture, tmp_path: Path) -> None:
    before = date.today().isoformat()
    told = json.loads(printed(capsys, "log", str(tmp_path / "t.log"), "--cleaned", "pump", "--json"))
    assert told["lines"][0]["date"] in (before, date.today().isoformat())


def test_a_log_that_was_torn_goes_on(capsys: Capture, tmp_path: Path) -> None:
    """Cut anywhere in its last line, as a crash would: the command says so, loses nothing else, and writes whole lines again."""
    path = tmp_path / "tank.log"
    logged(capsys, path)
    raw = path.read_bytes()
    start = raw[:-1].rfind(b"\n") + 1
    for cut in (start + 1, start + 5, (start + len(raw)) // 2, len(raw) - 2):
        path.write_bytes(raw[:cut])
        shown = printed(capsys, "log", str(path))
        assert "1 line could not be read; nothing else is lost." in shown
        assert "line 4: the last entry was torn while it was written" in flat(shown)
        text = printed(capsys, "log", str(path), "--cleaned", "guard", "--date", "2026-04-01")
        assert "Written: 1 entry." in text
        assert path.read_bytes() == raw[:cut] + b"\n" + line_of(
            LogEntry(kind="cleaning", date="2026-04-01", data={"what": ["guard"]})
        )
        assert [line.split()[1] for line in text.splitlines() if line.startswith("  2026-")] == [
            "cleaning",
            "fill",
            "fill",
            "cleaning",
        ]


@pytest.mark.parametrize(
    ("argv", "said"),
    [
        (["--cleaned", "fish"], '--cleaned: "fish" is not known here.'),
        (["--cleaned", ""], "--cleaned: "),
        (["--changed", "a\x1b[2J"], "--changed: "),
        (["--changed", "x" * 300], "--changed: "),
        (["--changed", " "], "--changed: "),
        (["--date", "2026-02-30", "--cleaned", "pump"], '--date: "2026-02-30" is no date.'),
        (["--date", "9999-12-31", "--cleaned", "pump"], '--date: "9999-12-31" has not come yet.'),
        (["--date", "0026-03-01", "--cleaned", "pump"], '--date: "0026-03-01" is before 1950-01-01.'),
        (["--date", "2026-02-20"], "--date: belongs to an entry."),
        (["--cleaned", "pump", *FILL], "log: a fill, a cleaning and a change are entries of their own."),
        (["--flow", "0 l/h"], "--flow: must be above zero."),
        (["--catalog", CATALOG], "--catalog: is of use with --rig only."),
        (["--mark", "1 l"], "--mark: belongs to a fill."),
    ],
)
def test_what_the_log_refuses(argv: list[str], said: str, capsys: Capture, tmp_path: Path) -> None:
    path = tmp_path / "tank.log"
    assert said in refused(capsys, "log", str(path), *argv)
    assert not path.exists(), "nothing is written of what is refused"


def test_a_wrong_fill_is_told_without_a_word_on_its_day(capsys: Capture, tmp_path: Path) -> None:
    """The day belongs to an entry, if to one that cannot be read."""
    err = refused(capsys, "log", str(tmp_path / "tank.log"), "--volume", "10 l", "--seconds", "-1", "--date", "2026-02-20")
    assert "1 problem" in err and "--seconds" in err and "belongs to an entry" not in err


def test_a_file_that_is_no_log_is_left_alone(capsys: Capture, tmp_path: Path) -> None:
    path = tmp_path / "tank.toml"
    shutil.copy(CORNER, path)
    err = refused(capsys, "log", str(path), "--cleaned", "pump")
    assert "this is no log, and nothing was written to it." in err
    assert path.read_bytes() == Path(CORNER).read_bytes()
    assert "there is no such file." in refused(capsys, "log", str(tmp_path / "none.log"))
    # a bad rig is noticed before anything is written
    assert "no such file" in refused(capsys, "log", str(tmp_path / "new.log"), "--cleaned", "pump", "--rig", "none.toml")
    assert not (tmp_path / "new.log").exists()


# -- what is loaded ------------------------------------------------------------------------------------------------

OURS = (
    "measure",
    "measured",
    "measuring",
    "diagnose",
    "diagnosis",
    "verify",
    "verified",
    "logbook",
    "log_lines",
    "timed",
    "dirt",
)
STANDING_DIRT = {"optimizer.dirt", *(f"optimizer.dirt.{name}" for name in ("biology", "daily", "laws", "layers"))}
"""What the least surface for bacteria comes from, which every answer keeps to, and the cake that comes with a filled medium;
nothing is followed over days."""


def test_a_plain_answer_loads_nothing_of_it() -> None:
    """A process of its own, whose modules nobody else has loaded."""
    run = "import sys; from optimizer.cli import main; main(sys.argv[1:]); print('\\n'.join(sys.modules))"
    command = [sys.executable, "-c", run, "best", NANO, "--budget", "3", "--quiet"]
    loaded = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300).stdout.splitlines()
    assert "optimizer.answers.question" in loaded
    mine = [name for name in loaded if name.startswith("optimizer.")]
    assert [name for name in mine if set(name.split(".")) & set(OURS) and name not in STANDING_DIRT] == []
