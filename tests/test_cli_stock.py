"""The command that looks after a catalog."""

import json
from pathlib import Path

import pytest

from optimizer.cli import main

Capture = pytest.CaptureFixture[str]


def test_a_checked_catalog_is_an_answer_on_one_screen(capsys: Capture) -> None:
    """Findings are no failure: status 0, the verdict first, no more than a screen of lines, and what shows the rest."""
    assert main(["stock", "check"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith("Demo catalog (invented) (391 parts, ") and len(lines) <= 30
    assert any("pumps.csv line 34, PUMP-3300-N1: goes on nothing else here" in line for line in lines)


def test_json_has_every_finding_with_its_place(capsys: Capture) -> None:
    """Everything is in the JSON form, in the order of the text."""
    assert main(["stock", "check", "parts_demo/catalog", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["status"] == "checked" and told["schema"].startswith("fullbore-catalog-check/")
    assert main(["stock", "check", "--full"]) == 0
    text = " ".join(capsys.readouterr().out.split())
    places = [text.index(f"{each['file']} line {each['line']}, {each['ids'][0]}") for each in told["findings"]]
    assert len(places) > 3 and places == sorted(places)


def test_what_cannot_be_checked_is_bad_input(capsys: Capture, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No such folder, no folder at all, and a word that is no action are problems with status 1."""
    assert main(["stock", "check", str(tmp_path / "none")]) == 1
    assert "no such catalog folder" in capsys.readouterr().err
    monkeypatch.chdir(tmp_path)
    assert main(["stock", "check"]) == 1
    assert "no folder is named" in capsys.readouterr().err
    with pytest.raises(SystemExit) as ended:
        main(["stock", "chek"])
    assert ended.value.code == 1 and 'Near names: "check"' in capsys.readouterr().err
