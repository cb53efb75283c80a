"""The rig as it will be, from the command line."""

from pathlib import Path

import pytest

from optimizer import api
from optimizer.cli import main

ROOT = Path(__file__).parents[1]
RIG = "parts_demo/rigs/nano_60.toml"

Capture = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def at_the_demo(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)


@pytest.mark.parametrize("asked", [("best", RIG), ("cheapest", RIG, "--flow", "200 l/h"), ("best", RIG, "--interval", "30d")])
def test_the_rig_is_written_as_it_will_be(asked: tuple[str, ...], tmp_path: Path, capsys: Capture) -> None:
    """What it says at its head is what it delivers; a file that is there is replaced, and the output says that it was written."""
    place = tmp_path / "after.toml"
    place.write_text("old", encoding="utf-8")
    assert main([*asked, "--after", str(place)]) == 0
    assert "Rig after the work: after.toml" in capsys.readouterr().out
    catalog = api.read_catalog("parts_demo/catalog")
    flow = api.operating_point(api.read_rig(place, catalog)).flow_m3s * 3.6e6
    head = place.read_text(encoding="utf-8")
    assert f"it is to deliver {flow:.0f} l/h" in head or f"wide open it is {flow:.0f} l/h" in head
    assert main(["best", str(place), "--budget", "0", "--quiet"]) == 0


def test_it_goes_with_the_page_and_not_with_other_answers(tmp_path: Path, capsys: Capture) -> None:
    """Only a bundle can be fitted: an order, bands, alternatives and reasons are refused in one list."""
    for other in ("--order", "--bands", "--why=HOSE-16-22", "--alternatives=2"):
        assert main(["best", RIG, "--after", str(tmp_path / "after.toml"), other]) == 1
        assert "does not go together with --after" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_where_nothing_is_to_be_fitted_nothing_is_written(tmp_path: Path, capsys: Capture) -> None:
    assert main(["cheapest", RIG, "--flow", "5000 l/h", "--after", str(tmp_path / "after.toml")]) == 2
    assert "No rig is written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
