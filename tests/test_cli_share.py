"""The command share as its user meets it."""

import contextlib
import csv
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest

from optimizer.cli import main

ROOT = Path(__file__).parent.parent
HOUSE = "parts_demo/households/fish_room.toml"


@pytest.fixture(autouse=True)
def _at_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.fixture(scope="module")
def proved() -> dict[str, Any]:
    """The proved answer for the demo household, as JSON."""
    said = io.StringIO()
    with contextlib.chdir(ROOT), contextlib.redirect_stdout(said):
        assert main(["share", HOUSE, "--json"]) == 0
    told: dict[str, Any] = json.loads(said.getvalue())
    return told


def test_json_and_bill_add_up(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    bill, page = tmp_path / "bill.csv", tmp_path / "tanks.html"
    assert main(["share", HOUSE, "--json", "--csv", str(bill), "--report", str(page), "--objective", "shortfall"]) == 0
    told = json.loads(capsys.readouterr().out)
    text = page.read_text(encoding="utf-8")
    assert all(f'<data value="{tank["flow_m3s"]!r}">' in text for tank in told["tanks"])
    assert told["schema"] == "fullbore-share/1" and told["status"] == "proved"
    assert told["price"] == sum(line["price"] for line in told["bill"]) <= told["budget"]
    rows = list(csv.DictReader(bill.read_text(encoding="utf-8-sig").splitlines()))
    assert round(sum(float(row["price"]) for row in rows) * 100) == told["price"]
    by_name = {row["aim"]: row for row in told["aims"]}
    assert len(by_name) == 3
    assert by_name["least total shortfall"]["shortfall_m3s"] == min(row["shortfall_m3s"] for row in told["aims"])
    enough = [tank for tank in told["tanks"] if tank["enough"]]
    assert [tank["name"] for tank in enough] == ["corner"]
    assert all(tank["flow_m3s"] == tank["now_m3s"] and not tank["changes"] for tank in enough)


def test_a_giver_comes_before_its_taker(proved: dict[str, Any]) -> None:
    order = [step["tank"] for step in proved["steps"]]
    assert proved["handed_on"]
    assert all(order.index(h["from_tank"]) < order.index(h["to_tank"]) for h in proved["handed_on"])


def test_why_there_is_no_answer(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = (
        (ROOT / HOUSE)
        .read_text(encoding="utf-8")
        .replace("36 dB(A)", "20 dB(A)")
        .replace("../rigs", str(ROOT / "parts_demo/rigs"))
    )
    path = tmp_path / "house.toml"
    path.write_text(text, encoding="utf-8")
    assert main(["share", str(path)]) == 2
    said = capsys.readouterr().out
    assert "No choice of bundles meets all limits." in said and "room study: 2 pumps together may make 20.0 dB(A)" in said


@pytest.mark.parametrize("more", [["--budget", "ten"], ["--csv", "/no/such/folder/bill.csv"], ["--catalog", "nowhere"]])
def test_bad_arguments_are_bad_input(more: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["share", HOUSE, *more]) == 1
    assert "nothing was solved" in capsys.readouterr().err


def test_quiet_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["share", HOUSE, "--quiet", "--units", "us"]) == 0
    said = capsys.readouterr().out
    assert said.count("\n") == 1 and "gph" in said


def test_what_is_stopped_says_what_could_still_exist(
    proved: dict[str, Any], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without any work allowed there is still a choice within the budget, called unproved, with a bound above it."""
    monkeypatch.setattr("optimizer.tanks.household.MOST_WORK", 0)
    assert main(["share", HOUSE, "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    assert told["status"] == "stopped" and told["price"] <= told["budget"]
    reached, possible = (float(each) for each in re.findall(r"([0-9.]+) % of its target", told["gap"]))
    least = {row["aim"]: row["least_share"] for row in proved["aims"]}["worst tank first"]
    assert reached <= 100.0 * least + 0.05 <= possible + 0.1
