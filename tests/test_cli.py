"""The command answers, says by its exit status how sure it is, and turns every mistake into plain lines on stderr."""

from __future__ import annotations

import json
import math
import os
import shlex
import subprocess
import sys
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any, TextIO

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.commands.parser import build_parser
from optimizer.commands.streams import Progress
from optimizer.commands.table import COMMANDS, command_of
from optimizer.errors import InputError, Problem
from optimizer.model.answer import Asked
from optimizer.model.catalog import Catalog
from optimizer.model.results import BillLine, Certificate, Conflict, Proof, Result, Row
from optimizer.model.rig import Rig, Tank
from optimizer.report.measures import system
from optimizer.report.plan_lines import question_words
from optimizer.tanks.share import AIMS
from optimizer.tanks.shared_result import BRIEFLY

ROOT = Path(__file__).parents[1]
LITRE_PER_HOUR = 1e-3 / 3600.0


def _row(name: str, litres_per_hour: float, price: int) -> Row:
    return Row(
        name=name,
        flow_m3s=litres_per_hour * LITRE_PER_HOUR,
        own_m3s=math.inf,
        held_by="",
        turnover_per_hour=litres_per_hour / 400.0,
        price=price,
        noise_dba=33.5,
        power_w=22.0,
        bio_area_m2=3.0,
        inlet_head_m=0.4,
    )


PROVED = Proof(status="proved", bound_m3s=0.0, combinations=18144, rounds=4, nodes=7, paths=20)
RESULT = Result(
    rig="Hall tank \x1b[31m",
    catalog="Corner shop",
    currency="EUR",
    question=Asked(budget=10000),
    now=_row("now", 702.0, 0),
    spend_nothing=None,
    best=_row("best", 1104.0, 2605),
    changes=(),
    bill=(BillLine(product_id="H", name="hose", count=2, price=2605, owned=False, places=("return_hose",)),),
    joints=(),
    heads=(),
    tightest=None,
    tightest_before=None,
    cautions=(),
    basis=(),
    warnings=(),
    proof=PROVED,
)
INFEASIBLE = replace(RESULT, best=None, bill=(), conflict=Conflict(limits=("noise at most 20 dB(A)",), closest="", remedies=()))
STOPPED = replace(RESULT, proof=replace(PROVED, status="stopped", bound_m3s=1150.0 * LITRE_PER_HOUR))
DOUBTED = replace(RESULT, proof=replace(PROVED, certificates=(Certificate(route="check", finding="a better one", agrees=False),)))


class _Rig:
    """As much of a rig as the command looks at."""

    tank = Tank(nominal_m3=0.5, net_m3=0.4)
    target_m3s = 0.0
    every_position: tuple[()] = ()


class Shop:
    """Stands in for the Python interface: gives a ready answer and remembers what it was asked."""

    def __init__(self) -> None:
        self.result = RESULT
        self.fails: BaseException | None = None
        self.rig = _Rig()
        self.asked: dict[str, Any] = {}

    def read_catalog(self, folder: Path) -> Catalog:
        self.asked["folder"] = folder
        return Catalog(parts={}, products=())

    def read_rig(self, path: str, catalog: Catalog) -> _Rig:
        assert isinstance(catalog, Catalog)
        self.asked["rig"] = path
        return self.rig

    def solve(self, rig: Rig, catalog: Catalog, **asked: Any) -> Result:
        assert rig is self.rig
        assert isinstance(catalog, Catalog)
        self.asked |= asked
        if self.fails is not None:
            raise self.fails
        return self.result

    def why(self, rig: Rig, catalog: Catalog, part_id: str, *, budget: int | None = None, measured: bool = True) -> str:
        assert rig is self.rig
        assert isinstance(catalog, Catalog)
        self.asked |= {"part_id": part_id, "budget": budget, "measured": measured}
        return f"Best: 1104 l/h for 26.05.\npump: {part_id} \x1b[2J is louder."


@pytest.fixture
def shop(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Shop:
    """A ready answer, and an empty folder to run in."""
    stand_in = Shop()
    monkeypatch.setattr(api, "read_catalog", stand_in.read_catalog)
    monkeypatch.setattr(api, "read_rig", stand_in.read_rig)
    monkeypatch.setattr(api, "advise", stand_in.solve)
    monkeypatch.setattr(api, "best", stand_in.solve)
    monkeypatch.setattr(api, "cheapest", stand_in.solve)
    monkeypatch.setattr(api, "why", stand_in.why)
    monkeypatch.chdir(tmp_path)
    return stand_in


Capture = pytest.CaptureFixture[str]
BEST = ["best", "tank.toml", "--catalog", "shop"]
CHEAPEST = ["cheapest", "tank.toml", "--catalog", "shop"]


# -- exit status ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("result", "status", "said"),
    [
        (RESULT, 0, "Best for 100.00 EUR: 1 104 l/h instead of 702 (+57 %), 2.8 per hour, for 26.05 EUR."),
        (INFEASIBLE, 2, "No bundle meets all limits (18 144 combinations, search complete)."),
        (STOPPED, 3, "none delivers more than 1 150 l/h (+4 %)."),
        (replace(STOPPED, best=None), 3, "Stopped before any bundle was found that meets all limits"),
        (DOUBTED, 3, "Do not buy on this answer: an independent check does not agree with it (see Proof)."),
    ],
)
def test_the_exit_status_says_what_kind_of_answer_it_is(
    shop: Shop, capsys: Capture, result: Result, status: int, said: str
) -> None:
    shop.result = result
    assert main(BEST) == status
    out, err = capsys.readouterr()
    assert said in out.replace("\n  ", " ")
    assert out.endswith("\nCatalog folder: shop\n")
    assert err == ""
    assert main([*BEST, "--full"]) == status
    assert capsys.readouterr().out.endswith("\nCatalog: Corner shop\nCatalog folder: shop\n")


def test_ctrl_c_before_any_answer_is_one_line(shop: Shop, capsys: Capture) -> None:
    shop.fails = KeyboardInterrupt()
    assert main(BEST) == 3
    assert capsys.readouterr() == ("", "Stopped before there was any answer.\n")


def test_bad_input_is_a_list_without_a_traceback(shop: Shop, capsys: Capture) -> None:
    shop.fails = InputError("tank.toml", [Problem(where="tank.volume", what='"120" has no unit.', cure='Write "120 l".')])
    assert main(BEST) == 1
    told = 'tank.toml: 1 problem, nothing was solved.\n  tank.volume: "120" has no unit. Write "120 l".\n'
    assert capsys.readouterr() == ("", told)


# -- what is asked -------------------------------------------------------------------------------------------------


def test_best_hands_on_what_was_asked(shop: Shop) -> None:
    assert main([*BEST, "--budget", "99.50", "--prove"]) == 0
    assert shop.asked == {
        "folder": Path("shop"),
        "rig": "tank.toml",
        "budget": 9950,
        "prove": True,
        "measured": True,
        "told_apart": None,
        "most": False,
        "progress": None,
    }


def test_the_rule_of_the_step_is_handed_on(shop: Shop, capsys: Capture) -> None:
    assert main([*BEST, "--most", "--told-apart", "5 %"]) == 0
    assert (shop.asked["most"], shop.asked["told_apart"]) == (True, 0.05)
    assert main([*BEST, "--told-apart", "60 %"]) == 1
    assert main([*BEST, "--told-apart", "5"]) == 1
    assert "--told-apart" in capsys.readouterr().err


def test_without_a_budget_that_of_the_rig_counts(shop: Shop) -> None:
    main(BEST)
    assert shop.asked["budget"] is None


@pytest.mark.parametrize(
    ("arguments", "litres_per_hour"),
    [
        (["--flow", "800 l/h"], 800.0),
        (["--flow", "100 gph"], 378.5411784),  # 1 US gallon = 3.785411784 l: NIST SP 811, appendix B
        (["--turnover", "4 per hour"], 1600.0),  # of the 400 l net, not of the 500 l nominal
        ([], 640.0),
    ],
)
def test_cheapest_takes_its_flow_from_the_arguments_or_the_wish(shop: Shop, arguments: list[str], litres_per_hour: float) -> None:
    shop.rig.target_m3s = 640.0 * LITRE_PER_HOUR
    assert main([*CHEAPEST, *arguments]) == 0
    assert shop.asked["flow_m3s"] == pytest.approx(litres_per_hour * LITRE_PER_HOUR, rel=1e-12)


def test_cheapest_without_any_flow_says_where_to_write_it(shop: Shop, capsys: Capture) -> None:
    assert main(CHEAPEST) == 1
    assert capsys.readouterr().err == (
        "tank.toml: 1 problem, nothing was solved.\n"
        '  wish: no flow is asked for. Add --flow "800 l/h" or --turnover "4 per hour", or a [wish] to the rig file.\n'
    )
    assert "flow_m3s" not in shop.asked


def test_all_problems_of_the_command_line_come_at_once(shop: Shop, capsys: Capture, tmp_path: Path) -> None:
    assert main(["cheapest", "tank.toml", "--budget", "much", "--flow", "800", "--csv", str(tmp_path)]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.splitlines() == [
        "command line: 4 problems, nothing was solved.",
        "  --catalog: is not given, and there is no folder parts_demo/catalog here. "
        "Write --catalog and the folder that holds pumps.csv; fullbore demo writes one to try with.",
        '  --budget: "much" is not an amount of money. Write for example "12.50".',
        '  --flow: "800" has no unit. Write for example "1200 l/h".',
        f"  --csv: {tmp_path} is not a file. Name a file in a folder of yours, for example bill.csv.",
    ]
    assert shop.asked == {}


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--flow", "0 l/h"], '--flow: must be above zero. Write for example "800 l/h".'),
        (["--turnover", "0 per hour"], '--turnover: must be above zero. Write for example "4 per hour".'),
        (["--turnover", "4"], '--turnover: "4" has no unit. Write for example "4 per hour".'),
    ],
)
def test_a_flow_that_is_none_is_refused(shop: Shop, capsys: Capture, arguments: list[str], told: str) -> None:
    assert main([*CHEAPEST, *arguments]) == 1
    assert told in capsys.readouterr().err
    assert shop.asked == {}


@pytest.mark.parametrize(
    "arguments",
    [
        ["worst"],
        ["best"],
        [*BEST, "--budg", "1"],
        ["--versio"],
        ["--", "\x1b[2J"],
        [*BEST, "one\x1b[2Jmore"],
        [*BEST, "--budget"],
        [*BEST, "--order", "--bands"],
        [*BEST, "--units", "\x1b[2J"],
        [*CHEAPEST, "--why", "P"],
        [*CHEAPEST, "--flow", "1 l/h", "--turnover", "1 per hour"],
    ],
)
def test_arguments_that_cannot_be_read_are_one_list(capsys: Capture, arguments: list[str]) -> None:
    """What no command can make anything of is told as every other mistake is: with its place and where to look."""
    out, err = _unread(capsys, arguments)
    assert out == ""
    assert err.startswith("command line: 1 problem, nothing was solved.\n  ")
    assert err.count("\n") == 2
    assert ' --help".' in err or "Near names" in err
    assert "\x1b" not in err


def _unread(capsys: Capture, arguments: list[str]) -> tuple[str, str]:
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 1
    return capsys.readouterr()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["bset"], '  COMMAND: "bset" is not known. Near names: "best". See "fullbore --help".'),
        (["Best"], '  COMMAND: "Best" is not known. Near names: "best". See "fullbore --help".'),
        ([*BEST, "--cvs", "a.csv"], '  --cvs: is no option of fullbore best. Near names: "--csv". See "fullbore best --help".'),
        ([*BEST, "--zzz"], '  --zzz: is no option of fullbore best. See "fullbore best --help".'),
        ([*BEST, "--units", "metrik"], '  --units: "metrik" is not known. Near names: "metric". See "fullbore best --help".'),
        ([*BEST, "--units", "x"], '  --units: "x" is not known. Write metric or us. See "fullbore best --help".'),
        ([*BEST, "more"], '  more: is one word too many. See "fullbore best --help".'),
        (["best", "--budgt=3"], '  RIG: is required. See "fullbore best --help".'),
        (["best", "--budgt=3"], '  --budgt: is no option of fullbore best. Near names: "--budget"'),
    ],
)
def test_a_mistyped_command_or_option_gets_its_near_names(capsys: Capture, arguments: list[str], told: str) -> None:
    """Whoever mistypes a word is offered those that are near it, and nothing is guessed."""
    assert f"\n{told}" in _unread(capsys, arguments)[1]


def test_without_a_command_it_says_what_to_do_first(capsys: Capture) -> None:
    """The bare command is no mistake: a few lines name the first steps, and each of them can be typed."""
    assert main([]) == 0
    out, err = capsys.readouterr()
    assert err == "" and len(out.splitlines()) <= 18 and max(map(len, out.splitlines())) <= 80
    steps = [line.strip().partition("   ")[0] for line in out.splitlines() if line.startswith("  fullbore ")]
    assert {step.split()[1] for step in steps} == {"new", "best", "demo", "guide", "help"}
    for step in steps:
        assert build_parser().parse_args(step.split()[1:]).command == step.split()[1]
    assert any(Path(ROOT, word).is_file() for step in steps for word in step.split())


def test_help_of_a_command_is_what_its_option_prints(capsys: Capture) -> None:
    """`fullbore help X` is `fullbore X --help`, and without X `fullbore --help`."""
    for words in ([], ["best"], ["help"], ["columns"]):
        assert main(["help", *words]) == 0
        told = capsys.readouterr().out
        with pytest.raises(SystemExit) as ended:
            main([*words, "--help"])
        assert ended.value.code == 0
        assert capsys.readouterr().out == told and told.startswith("usage: fullbore")
    assert main(["help", "bset"]) == 1
    assert '  COMMAND: "bset" is not known. Near names: "best".' in capsys.readouterr().err
    assert main(["help", "fills"]) == 1
    assert "fullbore guide fills" in capsys.readouterr().err
    assert main(["help", "zzz"]) == 1
    assert 'See "fullbore help".' in capsys.readouterr().err


def test_the_demo_catalog_is_the_default_and_is_named(shop: Shop, capsys: Capture, tmp_path: Path) -> None:
    (tmp_path / "parts_demo" / "catalog").mkdir(parents=True)
    assert main(["best", "tank.toml"]) == 0
    assert shop.asked["folder"] == Path("parts_demo/catalog")
    assert capsys.readouterr().out.endswith(f"Catalog folder: {Path('parts_demo/catalog')}\n")


def test_why_prints_the_reason_instead_of_the_answer(shop: Shop, capsys: Capture) -> None:
    assert main([*BEST, "--why", "PUMP-1", "--budget", "5"]) == 0
    assert shop.asked["part_id"] == "PUMP-1"
    assert shop.asked["budget"] == 500
    assert capsys.readouterr().out == ("Best: 1104 l/h for 26.05.\npump: PUMP-1 \\x1b[2J is louder.\nCatalog folder: shop\n")


@pytest.mark.usefixtures("shop")
def test_why_goes_with_no_form_of_the_answer(capsys: Capture) -> None:
    assert main([*BEST, "--why", "PUMP-1", "--json", "--prove"]) == 1
    told = "  --why: does not go together with --json, --prove. Ask for the one or for the other.\n"
    assert capsys.readouterr().err.endswith(told)


# -- what is printed -----------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("shop")
def test_json_is_the_whole_answer_and_nothing_else(capsys: Capture) -> None:
    assert main([*BEST, "--json"]) == 0
    first = capsys.readouterr()
    assert main([*BEST, "--json"]) == 0
    assert capsys.readouterr() == first
    assert first.err == ""

    def refused(word: str) -> float:
        raise AssertionError(f"{word} is not JSON (RFC 8259)")

    answer = json.loads(first.out, parse_constant=refused)
    assert answer == RESULT.to_dict()
    assert answer["schema"] == Result.schema()
    assert answer["best"]["own_m3s"] is None
    assert list(answer) == sorted(answer)
    assert first.out.isascii()
    assert "\x1b" not in first.out


@pytest.mark.parametrize(("result", "status"), [(INFEASIBLE, 2), (STOPPED, 3)])
def test_json_has_the_same_exit_status(shop: Shop, capsys: Capture, result: Result, status: int) -> None:
    shop.result = result
    assert main([*BEST, "--json"]) == status
    assert json.loads(capsys.readouterr().out)["status"] == result.status


@pytest.mark.usefixtures("shop")
def test_quiet_is_one_line(capsys: Capture) -> None:
    assert main([*BEST, "--quiet"]) == 0
    assert capsys.readouterr() == (
        "Best for 100.00 EUR: 1 104 l/h instead of 702 (+57 %), 2.8 per hour, for 26.05 EUR. "
        "Proved: none of 18 144 combinations does better.\n",
        "",
    )


@pytest.mark.usefixtures("shop")
def test_us_units(capsys: Capture) -> None:
    assert main([*BEST, "--quiet", "--units", "us"]) == 0
    assert "292 gph instead of 185" in capsys.readouterr().out  # 1104 / 3.785411784 (NIST SP 811)


@pytest.mark.usefixtures("shop")
def test_terminal_escapes_in_names_are_neutralised(capsys: Capture) -> None:
    main(BEST)
    out = capsys.readouterr().out
    assert out.startswith(r"Hall tank \x1b[31m: most")
    assert "\x1b" not in out


# -- the bill ------------------------------------------------------------------------------------------------------


@pytest.mark.usefixtures("shop")
def test_the_bill_is_written(tmp_path: Path) -> None:
    (tmp_path / "bill.csv").write_text("an old bill")
    assert main([*BEST, "--csv", "bill.csv"]) == 0
    assert (tmp_path / "bill.csv").read_bytes() == (
        b"\xef\xbb\xbfproduct,name,quantity,price,currency,owned,serves\r\nH,hose,2,26.05,EUR,no,return_hose\r\n"
    )
    assert [path.name for path in tmp_path.iterdir()] == ["bill.csv"]


@pytest.mark.usefixtures("shop")
def test_a_link_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "link.csv").symlink_to(tmp_path / "bill.csv")
    assert main([*BEST, "--csv", "link.csv"]) == 0
    assert (tmp_path / "link.csv").is_symlink()
    assert (tmp_path / "bill.csv").exists()


def test_without_a_bundle_no_bill_is_written(shop: Shop, capsys: Capture, tmp_path: Path) -> None:
    shop.result = INFEASIBLE
    assert main([*BEST, "--csv", "bill.csv"]) == 2
    assert capsys.readouterr().err == f"No bill is written to {tmp_path / 'bill.csv'}: there is nothing to buy.\n"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.usefixtures("shop")
def test_a_bill_that_fails_leaves_the_old_file_and_the_answer(
    capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "bill.csv").write_text("an old bill")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", full)
    assert main([*BEST, "--csv", "bill.csv"]) == 1
    out, err = capsys.readouterr()
    assert "1 104 l/h" in out
    assert err == f"--csv: {tmp_path / 'bill.csv'} cannot be written: No space left on device.\n"
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [("bill.csv", "an old bill")]


@pytest.mark.parametrize("place", ["no_such_folder/bill.csv", "", os.devnull, "tank.toml"])
def test_a_bill_that_cannot_be_written_is_told_before_solving(shop: Shop, capsys: Capture, tmp_path: Path, place: str) -> None:
    (tmp_path / "tank.toml").write_text("")
    assert main([*BEST, "--csv", place]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("command line: 1 problem, nothing was solved.\n  --csv: ")
    assert shop.asked == {}
    assert (tmp_path / "tank.toml").read_text() == ""


# -- progress ------------------------------------------------------------------------------------------------------


def test_progress_waits_a_second_and_is_wiped() -> None:
    """What is being done, the best so far, which never falls, and for how long."""
    stream, times = StringIO(), iter([0.0, 0.9, 1.0, 1.1, 1.3, 12.4])
    progress = Progress(stream, clock=lambda: next(times))
    progress(10, None)
    assert stream.getvalue() == ""
    progress(20, None)
    progress(30, None)
    progress(40, 1104.0 * LITRE_PER_HOUR)
    progress(50, 900.0 * LITRE_PER_HOUR)
    progress.clear()
    lines = stream.getvalue().split("\r")
    assert [line.rstrip() for line in lines] == [
        "",
        "Most water: 20 steps, 1 s (Ctrl-C: stop here)",
        "Most water: 40 steps, best so far 1 104 l/h, 1 s (Ctrl-C: stop here)",
        "Most water: 50 steps, best so far 1 104 l/h, 12 s (Ctrl-C: stop here)",
        "",
        "",
    ]
    assert {len(line) for line in lines[1:5]} == {79}


def test_progress_of_a_front_says_how_far_down_it_is_settled() -> None:
    """The most is found first; the flow above which every point is known falls until the front is whole."""
    stream, times = StringIO(), iter([0.0, 12.0, 24.0])
    progress = Progress(stream, command="front", clock=lambda: next(times))
    progress(40, 775.0 * LITRE_PER_HOUR, None)
    progress(50, 775.0 * LITRE_PER_HOUR, 612.0 * LITRE_PER_HOUR)
    first, second = (line.rstrip() for line in stream.getvalue().split("\r")[1:])
    assert "best so far 775 l/h, 12 s" in first
    assert "best so far 775 l/h, settled above 612 l/h, 24 s" in second


def test_progress_of_a_household_says_best_and_bound() -> None:
    """In the words of its aim, in the units asked for."""
    stream, times = StringIO(), iter([0.0, 30.0])
    progress = Progress(stream, command="share", units="us", clock=lambda: next(times))
    progress.between(BRIEFLY[AIMS[1]](-100.0), BRIEFLY[AIMS[1]](-50.0))
    progress(5, None)
    assert stream.getvalue().startswith("\rSharing the money: 5 steps, 26.4 gph short, bound 13.2 gph short, 30 s")


@pytest.mark.parametrize(("arguments", "given"), [([], True), (["--quiet"], False)])
def test_progress_is_for_terminals_only(shop: Shop, monkeypatch: pytest.MonkeyPatch, arguments: list[str], given: bool) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    assert main([*BEST, *arguments]) == 0
    assert (shop.asked["progress"] is not None) is given


# -- the reference -------------------------------------------------------------------------------------------------


def test_columns_are_listed_as_text_or_markdown(capsys: Capture) -> None:
    assert main(["columns"]) == 0
    text = capsys.readouterr().out
    assert main(["columns", "--markdown"]) == 0
    markdown = capsys.readouterr().out
    for reference in (text, markdown):
        assert "face_area_cm2" in reference
        assert reference.endswith("\n")
    assert markdown.startswith("#")
    assert "| `face_area_cm2` |" in markdown
    assert "|" not in text


# -- the process ---------------------------------------------------------------------------------------------------


def _run(*arguments: str, stdout: int | TextIO, environment: dict[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "optimizer.cli", *arguments]
    env = os.environ | {"PYTHONPATH": str(ROOT), "COLUMNS": "100"} | (environment or {})
    return subprocess.run(command, stdout=stdout, stderr=subprocess.PIPE, text=True, env=env, timeout=120, check=False)


def test_help_shows_every_command_option_and_example() -> None:
    parser = build_parser()
    texts = {name: _run(name, "--help", stdout=subprocess.PIPE).stdout for name in COMMANDS}
    for name in COMMANDS:
        shown = " ".join(texts[name].split())
        for option in command_of(name).options:
            assert option.help.replace("%%", "%") in shown
        for example in command_of(name).examples:
            assert example in texts[name]
    assert "most delivered flow" not in parser.format_help()
    assert "most flow and most turnover are the same order" in texts["best"]


def test_help_and_version_load_no_numeric_library() -> None:
    code = (
        "import sys\nfrom optimizer.cli import main\nmain(['--version'])\n"
        "sys.exit(sorted({'numpy', 'scipy', 'pandas', 'pint', 'networkx', 'pulp'} & set(sys.modules)) != [])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0
    assert done.stdout.startswith("fullbore ")


def test_examples_in_the_help_can_be_read() -> None:
    for name in COMMANDS:
        for example in command_of(name).examples:
            words = shlex.split(example.partition(" > ")[0])
            assert words[0] == "fullbore"
            assert build_parser().parse_args(words[1:]).command == name


def test_a_closed_pipe_is_one_line() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = _run("best", "--help", stdout=writing)
    finally:
        os.close(writing)
    assert done.returncode == 1
    assert done.stderr == "The output cannot be written: it was closed before the end.\n"


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_one_line() -> None:
    with open("/dev/full", "w") as full:
        done = _run("--version", stdout=full)
    assert done.returncode == 1
    assert done.stderr == "The output cannot be written: No space left on device.\n"


def test_letters_that_the_terminal_lacks_come_out_as_escapes() -> None:
    environment = {"PYTHONIOENCODING": "ascii"}
    done = _run("best", "tank.toml", "--catalog", "Händler", stdout=subprocess.PIPE, environment=environment)
    assert done.returncode == 1
    assert done.stderr.startswith(r"H\xe4ndler: 1 problem, nothing was solved.")


@pytest.mark.parametrize("missing", ["rig", "catalog"])
def test_a_file_that_is_not_there_is_told(capsys: Capture, tmp_path: Path, missing: str) -> None:
    catalog = tmp_path if missing == "catalog" else ROOT / "parts_demo" / "catalog"
    assert main(["best", str(tmp_path / "no_tank.toml"), "--catalog", str(catalog)]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert "1 problem, nothing was solved.\n" in err
    assert "Traceback" not in err


DEMO_RIGS = ROOT / "parts_demo" / "rigs"


@pytest.mark.parametrize("asked", [["best"], ["cheapest", "--flow", "250 l/h"]])
def test_a_demo_rig_end_to_end(capsys: Capture, monkeypatch: pytest.MonkeyPatch, asked: list[str]) -> None:
    monkeypatch.chdir(ROOT)
    arguments = [*asked, str(DEMO_RIGS / "nano_60.toml")]
    assert main(arguments) == 0
    text = capsys.readouterr().out
    assert main([*arguments, "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["status"] == "proved"
    question = question_words(Asked(**answer["question"]), system("metric"))
    assert text.startswith(f"{answer['rig']}: {question}\n")
    assert f"{answer['best']['flow_m3s'] / LITRE_PER_HOUR:.0f} l/h instead of" in text
    assert answer["best"]["price"] == sum(line["price"] for line in answer["bill"])
    assert asked[0] == "best" or answer["best"]["flow_m3s"] >= 250.0 * LITRE_PER_HOUR * (1 - 1e-9)


def test_a_closed_standard_output_is_said_and_no_traceback() -> None:
    """`fullbore ... >&-`: Python then has no standard output at all."""
    run = f"{sys.executable} -m optimizer.cli best {ROOT / 'parts_demo/rigs/nano_60.toml'} --quiet >&-"
    done = subprocess.run(["sh", "-c", run], cwd=ROOT, capture_output=True, text=True, check=False, timeout=60)
    assert (done.returncode, done.stderr) == (1, "The output cannot be written: it is closed.\n")
