"""Ctrl-C, pressed inside each kind of answer: what is known by then is told, as stopped, with exit status 3."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from optimizer import api
from optimizer.answers import certificates
from optimizer.answers import order as order_answers
from optimizer.bands import band
from optimizer.cli import main
from optimizer.model.catalog import Catalog
from optimizer.model.rig import Rig
from optimizer.search import alternatives as search
from optimizer.search.exact import Exact

ROOT = Path(__file__).parents[2]
NANO, SHOP = "parts_demo/rigs/nano_60.toml", "parts_demo/catalog"
FEW = ("--draws", "200", "--candidates", "2")

Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _at_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.fixture(scope="module")
def asked() -> tuple[Rig, Catalog]:
    """A small demo rig and the demo catalog."""
    shop = api.read_catalog(ROOT / SHOP)
    return api.read_rig(ROOT / NANO, shop), shop


def press(*_: object, **__: object) -> None:
    """Ctrl-C."""
    raise KeyboardInterrupt


def told(capsys: Capture, *argv: str) -> dict[str, Any]:
    """What the command prints as JSON when it was stopped."""
    assert main(["best", NANO, *argv, "--json"]) == 3
    body = json.loads(capsys.readouterr().out)
    assert isinstance(body, dict)
    return body


def test_alternatives_give_the_best_when_only_that_is_known(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch, asked: tuple[Rig, Catalog]
) -> None:
    best = api.best(*asked).best
    assert best is not None
    monkeypatch.setattr(search._Listing, "_look", press)
    found = told(capsys, "--alternatives", "4")
    assert found["status"] == "stopped"
    assert found["alternatives"][0]["row"]["flow_m3s"] == pytest.approx(best.flow_m3s)


def test_alternatives_and_bands_give_what_a_search_had_when_it_was_stopped(
    capsys: Capture, monkeypatch: pytest.MonkeyPatch, asked: tuple[Rig, Catalog]
) -> None:
    """Pressed once, in the second round of the first search: the first round's bundle is known, and worth telling."""
    real, calls = Exact.least_loss, [0]

    def second(self: Exact, *given: Any) -> Any:
        calls[0] += 1
        if calls[0] == 2:
            raise KeyboardInterrupt
        return real(self, *given)

    best = api.best(*asked).best
    assert best is not None
    monkeypatch.setattr(Exact, "least_loss", second)
    for argv in (["--alternatives", "3"], ["--bands", *FEW]):
        calls[0] = -1  # the loop as it is, or what is spent on nothing, is looked at by the same method
        alternatives = argv[0] == "--alternatives"
        found = api.alternatives(*asked, 3) if alternatives else api.bands(*asked, candidates=2, draws=200, most=True)
        assert found.status == "stopped"
        rows = found.alternatives if hasattr(found, "alternatives") else found.candidates
        assert 0.0 < rows[0].row.flow_m3s <= best.flow_m3s * (1 + 1e-9)


def test_bands_give_the_bundles_when_the_draws_are_stopped(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(band, "of", press)
    found = told(capsys, "--most", "--bands", *FEW)
    assert (found["status"], found["band"], len(found["candidates"])) == ("stopped", None, 2)
    assert main(["best", NANO, "--bands", *FEW]) == 3
    assert "Stopped before it was drawn how sure that is." in capsys.readouterr().out


def test_a_check_that_is_stopped_leaves_the_answer(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(certificates, "checked", press)
    found = told(capsys, "--prove")
    checks = found["proof"]["certificates"]
    assert (found["status"], [check["done"] for check in checks]) == ("proved", [True, True, True, False])
    assert main(["best", NANO, "--prove"]) == 3
    text = capsys.readouterr().out.replace("\n  ", " ")
    assert "The check by an independent route was interrupted." in text
    assert "DOES NOT AGREE" not in text


def test_an_order_whose_stages_were_not_all_looked_at_is_stopped(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """With the order proved: what a smaller budget buys is said to be unknown."""
    monkeypatch.setattr(order_answers, "asked_alone", press)
    found = told(capsys, "--most", "--order", "--budget", "60")
    assert (found["status"], found["search"], found["order"], found["stages"]) == ("stopped", "proved", "proved", "stopped")
    assert len(found["steps"]) > 1
    assert main(["best", NANO, "--most", "--order", "--budget", "60"]) == 3
    assert "was not looked at for every step" in capsys.readouterr().out.replace("\n  ", " ")


def test_an_order_that_was_not_made_leaves_the_bundle(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(order_answers, "in_order", press)
    found = told(capsys, "--most", "--order", "--budget", "60")
    assert (found["order"], found["steps"], found["best"]["price"] > 0) == ("interrupted", [], True)
    assert main(["best", NANO, "--most", "--order", "--budget", "60", "--quiet"]) == 3
    assert "Stopped before there was an order to buy it in." in capsys.readouterr().out


WAITING = """
import sys, time
from optimizer import cli
from optimizer.answers import certificates
def checked(told):
    print("checking", file=sys.stderr, flush=True)
    time.sleep(60.0)
certificates.checked = checked
sys.exit(cli.main(sys.argv[1:]))
"""


def test_a_real_ctrl_c_while_a_proof_is_checked_gives_the_answer_at_once() -> None:
    argv = ["best", "parts_demo/rigs/community_180.toml", "--budget", "150", "--prove", "--quiet"]
    run = subprocess.Popen([sys.executable, "-c", WAITING, *argv], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert run.stderr is not None
    assert run.stderr.readline() == "checking\n"
    run.send_signal(signal.SIGINT)
    out, _ = run.communicate()
    assert run.returncode == 3
    assert "Proved: none of" in out
    assert "The check by an independent route was interrupted." in out
