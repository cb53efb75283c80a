"""The command `fullbore drill`: what it hands on, what it prints, and how it refuses."""

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from optimizer import api
from optimizer.cli import main
from optimizer.model.catalog import Catalog
from optimizer.model.drilling import DrillResult
from optimizer.model.rig import Rig

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "parts_demo"
RIFT = str(DEMO / "rigs" / "rift_lake_450.toml")

Capture = pytest.CaptureFixture[str]


def drill(*arguments: str, rig: str = RIFT) -> int:
    """Run the command on the demo catalog."""
    return main(["drill", rig, "--catalog", str(DEMO / "catalog"), *arguments])


def test_the_answer_is_printed_and_is_that_of_the_python_interface(capsys: Capture) -> None:
    assert drill("--jet", "1.2 m/s", "--evenness", "95 %", "--json") == 0
    body = json.loads(capsys.readouterr().out)
    rig = api.read_rig(RIFT, api.read_catalog(DEMO / "catalog"))
    assert body == json.loads(json.dumps(api.drill(rig, jet_ms=1.2, evenness=0.95).to_dict()))
    assert (body["schema"], body["status"]) == (DrillResult.schema(), "found")
    assert drill("--jet", "1.2 m/s", "--evenness", "95 %") == 0
    out, err = capsys.readouterr()
    best = body["best"][0]
    assert f"Drill the bar to {best['holes']} x {best['drill']}: {best['flow_m3s'] * 3.6e6:.0f} l/h" in out
    assert "Drilling cannot be undone" in out
    assert err == ""


def test_speeds_and_sets_are_read_in_the_keepers_units(capsys: Capture) -> None:
    """1 ft = 0.3048 m: NIST SP 811."""
    assert drill("--jet-most", "2 ft/s", "--drills", "inch", "--new-bar", "--json") == 0
    body = json.loads(capsys.readouterr().out)
    assert body["wish"] == {"jet_ms": None, "jet_most_ms": pytest.approx(0.6096), "evenness": None}
    assert (body["drills"], body["new_bar"]) == ("inch", True)
    assert all(not row["drill"].endswith("mm") for row in body["best"])


def test_a_wish_that_no_hole_meets_ends_with_status_2(capsys: Capture) -> None:
    assert drill("--jet", "9 m/s", "--quiet") == 2
    assert capsys.readouterr().out.startswith("None of ")


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (
            [],
            ['  drill: neither a jet speed nor an evenness is asked for. '
             'Add --jet "1.2 m/s", --jet-most "0.5 m/s" or --evenness "90 %".'],
        ),
        (
            ["--jet", "1.2", "--jet-most", "0 m/s", "--evenness", "120 %"],
            [
                '  --jet: "1.2" has no unit. Write for example "0.3 m/s".',
                '  --jet-most: must be above zero. Write for example "1.2 m/s".',
                '  --evenness: "120 %" is too large. Write at most "100 %".',
            ],
        ),
        (
            ["--jet", "2 m/s", "--jet-most", "1 m/s"],
            ['  --jet: "2 m/s" is more than the "1 m/s" of --jet-most. Ask for a least speed below the greatest.'],
        ),
    ],
)  # fmt: skip
def test_mistakes_are_one_list(capsys: Capture, arguments: Sequence[str], told: list[str]) -> None:
    assert drill(*arguments) == 1
    out, err = capsys.readouterr()
    assert out == ""
    head = f"command line: {len(told)} problem{'s' if len(told) > 1 else ''}, nothing was solved."
    assert err.splitlines() == [head, *told]


def test_an_outlet_without_holes_is_bad_input(capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    """The rig's outlet is an open pipe of the demo catalog that suits its joint."""
    read = api.read_rig

    def opened(path: str, catalog: Catalog) -> Rig:
        rig = read(path, catalog)
        pipe = replace(rig.positions[-1], installed=catalog.parts["OPEN-G12"], adjusts=())
        return replace(rig, positions=(*rig.positions[:-1], pipe))

    monkeypatch.setattr(api, "read_rig", opened)
    assert drill("--jet", "1 m/s") == 1
    assert "is no spray bar: it has no holes to drill. Describe a spray bar there" in capsys.readouterr().err
