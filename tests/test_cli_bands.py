"""The command with --bands and --robust: what it prints, its JSON, its seeds, and how it refuses."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.model.banded import Banded
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig

ROOT = Path(__file__).parents[1]
CATALOG, NANO = "parts_demo/catalog", "parts_demo/rigs/nano_60.toml"
COMMUNITY = "parts_demo/rigs/community_180.toml"
FEW = ("--draws", "400")

Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _at_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


def printed(capsys: Capture, *argv: str, status: int = 0) -> str:
    """What the command prints."""
    assert main(list(argv)) == status
    return capsys.readouterr().out


def refused(capsys: Capture, *argv: str) -> str:
    """What the command says when it refuses."""
    assert main(list(argv)) == 1
    out, err = capsys.readouterr()
    assert out == ""
    return err


@pytest.mark.usefixtures("answered_once")
def test_bands_are_printed_in_lines_of_a_terminal(capsys: Capture) -> None:
    text = printed(capsys, "best", NANO, "--most", "--bands", *FEW)
    told = json.loads(printed(capsys, "best", NANO, "--most", "--bands", "--json", *FEW))
    assert max(map(len, text.splitlines())) <= 90
    lines = text.splitlines()
    for line in (told["now_band"], *told["band"]["lines"]):
        row = next(shown.split() for shown in lines if shown.startswith(f"  {line['name']} "))
        flows = [f"{line[key] * 3.6e6:.0f}" for key in ("stated_m3s", "p10_m3s", "p90_m3s")]
        assert " ".join(flows) in " ".join(row)
    best = told["band"]["lines"][0]
    assert f"in 8 of 10 draws from {best['p10_m3s'] * 3.6e6:.0f} to {best['p90_m3s'] * 3.6e6:.0f} l/h." in text
    assert "Worth measuring\n  - " in text and "RCD (GFCI)" in text
    assert "400 draws, seed 1, the same" in text
    assert "no. 5, otherwise than the best:" in text
    assert text.endswith(f"Catalog folder: {CATALOG}\n")


def test_the_json_is_that_of_the_python_interface(capsys: Capture) -> None:
    told = json.loads(printed(capsys, "best", NANO, "--robust", "p30", "--seed", "5", "--draws", "300", "--json"))
    shop = api.read_catalog(CATALOG)
    same = api.bands(api.read_rig(NANO, shop), shop, robust="P30", seed=5, draws=300)
    assert told == json.loads(json.dumps(same.to_dict(), allow_nan=False))
    assert (told["schema"], told["status"], told["asked"]) == (Banded.schema(), "proved", 20)
    assert told["band"]["robust"]["quantile"] == "P30"


def test_the_same_seed_gives_the_same_bytes(capsys: Capture) -> None:
    first, again, other = (printed(capsys, "best", NANO, "--bands", "--json", "--seed", seed, *FEW) for seed in ("4", "4", "5"))
    assert first == again
    assert first != other
    assert json.loads(first)["candidates"] == json.loads(other)["candidates"]


def test_the_robust_bundle_is_named_with_the_set_it_comes_from(capsys: Capture) -> None:
    lines = printed(capsys, "best", COMMUNITY, "--robust", "P10", "--candidates", "8", *FEW).splitlines()
    text = " ".join(line.strip() for line in lines)
    assert "It is also best at P10, with" in text or "Best at P10: no. " in text
    assert "Chosen from the 8 that deliver most by the stated figures for at most 50.00, each truly different" in text
    assert "A bundle outside that set was not looked at." in text
    shown = [line for line in lines if line.startswith("  no. ") and "otherwise" not in line]
    assert 4 <= len(shown) <= 6


@pytest.mark.usefixtures("answered_once")
def test_of_the_cheapest_the_wanted_flow_is_told(capsys: Capture) -> None:
    text = printed(capsys, "cheapest", NANO, "--flow", "230 l/h", "--bands", *FEW).replace("\n  ", " ")
    told = json.loads(printed(capsys, "cheapest", NANO, "--flow", "230 l/h", "--bands", "--json", *FEW))
    assert "The wanted 230 l/h and all limits on flow hold in" in text
    assert f"ask for about {told['ask_m3s'] * 3.6e6:.0f} l/h" in text
    assert told["question"]["target_m3s"] == pytest.approx(230 / 3.6e6)


@pytest.mark.usefixtures("answered_once")
def test_units_and_quiet(capsys: Capture) -> None:
    """1 US gallon is 3.785411784 litres: NIST Handbook 44, appendix C."""
    told = json.loads(printed(capsys, "best", NANO, "--bands", "--json", *FEW))
    line = printed(capsys, "best", NANO, "--bands", "--quiet", "--units", "us", *FEW)
    assert line.count("\n") == 1
    assert f"Best: {told['band']['lines'][0]['stated_m3s'] * 3.6e6 / 3.785411784:.0f} gph for " in line


@pytest.mark.usefixtures("answered_once")
def test_a_loop_with_branches_is_drawn(capsys: Capture) -> None:
    place = ["tests/data/small/two_intakes.toml", "--catalog", "tests/data/small/catalog", *FEW]
    for extra in (["--bands"], ["--robust", "P10"]):
        text = printed(capsys, "best", *place, *extra)
        assert "What the spread of the best is owed to" in text or "What the spread of no. " in text
        assert "TEE-16" in text
    assert json.loads(printed(capsys, "best", *place, "--bands", "--json"))["status"] == "proved"


def test_bands_of_nothing(capsys: Capture) -> None:
    text = printed(capsys, "best", COMMUNITY, "--bands", "--budget", "1", *FEW, status=2)
    assert "No bundle meets all limits" in text
    assert any(line.startswith("  now ") for line in text.splitlines())


def test_ctrl_c_ends_with_bands_of_what_is_known(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pressed while the first bundle is looked for, which a search takes for its own end: the next one must not begin."""
    real = api.bands

    def pressed(tank: Rig, catalog: Catalog, **asked: Any) -> Banded:
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)
        assert asked["halted"]()
        return real(tank, catalog, **asked)

    monkeypatch.setattr(api, "bands", pressed)
    text = printed(capsys, "best", NANO, "--most", "--bands", *FEW, status=3)
    assert "Best: 295 l/h for 28.50 EUR; in 8 of 10 draws from " in text
    assert "Stopped before it was proved: better bundles may be missing." in text


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (["--bands", "--draws", "0"], '--draws: "0" is no whole number from 2 to 200000. Write for example "10000".'),
        (["--bands", "--draws", "1e4"], '--draws: "1e4" is no whole number'),
        (["--bands", "--draws", "9" * 40], "is no whole number from 2 to 200000"),
        (["--robust", "P99"], '--robust: "P99" is no quantile from P5 to P95. Write for example "P10".'),
        (["--robust", ""], '--robust: "" is no quantile'),
        (["--robust", "worst"], '--robust: "worst" is no quantile'),
        (["--bands", "--seed", "x"], '--seed: "x" is no whole number from 0 to 4294967295. Write for example "1".'),
        (["--bands", "--seed=-1"], '--seed: "-1" is no whole number'),
        (["--bands", "--candidates", "0"], '--candidates: "0" is no whole number from 1 to 100. Write for example "20".'),
        (["--seed", "2"], "--seed: is of use with --bands or --robust only. Add --bands, or leave it out."),
        (["--order", "--draws", "200"], "--draws: is of use with --bands or --robust only."),
        (["--bands", "--prove", "--csv", "x.csv"], "--bands: does not go together with --csv, --prove."),
        (["--robust", "P10", "--why", "A"], "--robust: does not go together with --why."),
        (["--robust", "P10", "--alternatives", "3"], "--robust: does not go together with --alternatives."),
        (["--robust", "P10", "--order"], "--robust: does not go together with --order."),
    ],
)
def test_what_is_refused(argv: list[str], told: str, capsys: Capture) -> None:
    assert told in refused(capsys, "best", NANO, *argv)


def test_all_mistakes_are_one_list(capsys: Capture) -> None:
    err = refused(capsys, "best", NANO, "--bands", "--draws", "0", "--seed", "x", "--robust", "P99", "--budget", "ten")
    assert err.startswith("command line: 4 problems, nothing was solved.")
    assert [line.split(":")[0].strip() for line in err.splitlines()[1:]] == ["--budget", "--robust", "--seed", "--draws"]


@pytest.mark.parametrize("other", [["--why", "A"], ["--alternatives", "3"], ["--order"]])
def test_one_other_answer_at_a_time(other: list[str], capsys: Capture) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["best", NANO, "--bands", *other])
    assert ended.value.code == 1
    assert "not allowed with argument" in capsys.readouterr().err


NOT_LOADED = (
    "matplotlib",
    "dossiers",
    "saved",
    "banded",
    "bands_text",
    "alternatives",
    "order",
    "orders",
    "drill",
    "drilling",
    "front",
    "fronts",
    "pulp",
)


def test_a_plain_answer_loads_nothing_that_only_others_need() -> None:
    """A process of its own, whose modules nobody else has loaded; no name of what the other answers need is among them."""
    run = "import sys; from optimizer.cli import main; main(sys.argv[1:]); print('\\n'.join(sys.modules))"
    command = [sys.executable, "-c", run, "best", NANO, "--quiet"]
    ended = subprocess.run(command, capture_output=True, text=True, check=True, timeout=300)
    loaded = ended.stdout.splitlines()
    assert "optimizer.answers.question" in loaded
    ours = [name for name in loaded if name.split(".")[0] in ("optimizer", "pulp", "matplotlib")]
    assert [name for name in ours if set(name.split(".")) & set(NOT_LOADED)] == []
    assert {"scipy", "pandas", "pint", "pulp", "matplotlib", "openpyxl", "jinja2"}.isdisjoint(loaded)
